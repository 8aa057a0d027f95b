r"""What a void in clear resin looks like on a backlight: bright core, dark ring, bright rim.

A void is a sphere of gas of radius R in resin of refractive index n. A camera far above looks straight down; a ray
that meets the sphere at the distance b (in units of R) from its centre line

- enters the void where b < 1/n, by Snell's law at sin(inside) = n b, and leaves it turned by
  2 (asin(n b) - asin b) altogether;
- is totally reflected where b > 1/n, and turned by pi - 2 asin b.

Followed backwards from the camera, a ray turned by less than theta, the half-angle that the light fills inside the
resin, still meets the light: the spot is bright. So the core reaches to b_c with 2 (asin(n b_c) - asin b_c) = theta,
the dark ring ends at b_o = cos(theta / 2), and the last sliver out to the silhouette is bright again. A flat bottom
face lets no more than theta = asin(1/n) in. A ray turned by more than 90 degrees - asin(1/n), but less than 90, can
leave through a clear side wall and meet the light beyond it: the ring is grey there.

Everything here follows from Snell's law and Fresnel's equations (any optics textbook); nothing is fitted.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

USUAL_INDEX: Final = 1.50  # of cured clear resin: epoxy 1.50 to 1.57, urethane 1.49 to 1.53 (common practice)


def turned(b: ArrayLike, *, index: float = USUAL_INDEX) -> Floats:
    """Return the angle, in radians, by which a ray at `b` radii from the centre line is turned; `b` in [0, 1].

    Total reflection at 45 degrees turns a ray by a right angle:

    >>> float(np.degrees(turned(np.sqrt(0.5), index=1.5)).round(9))
    90.0
    """
    b = np.asarray(b, np.float64)
    through = 2.0 * (np.arcsin(np.minimum(index * b, 1.0)) - np.arcsin(b))
    return np.asarray(np.where(index * b < 1.0, through, np.pi - 2.0 * np.arcsin(b)))


def widest_light(*, index: float = USUAL_INDEX) -> float:
    """Return the largest half-angle, in radians, that any flat light can fill inside the resin: asin(1/n).

    >>> round(float(np.degrees(widest_light(index=1.5))), 2)
    41.81
    """
    return float(np.arcsin(1.0 / index))


def core_share(theta: float, *, index: float = USUAL_INDEX) -> float:
    """Return b_c, the core's radius over the void's, for a light of half-angle `theta` (radians, inside the resin).

    The root of 2 (asin(n b) - asin b) = theta in closed form: b = sin h / sqrt(n^2 - 2 n cos h + 1), h = theta / 2.

    >>> round(core_share(np.radians(20.0), index=1.5), 3)
    0.319
    """
    half = theta / 2.0
    return float(np.sin(half) / np.sqrt(index**2 - 2.0 * index * np.cos(half) + 1.0))


def ring_share(theta: float) -> float:
    """Return b_o, the outer radius of the dark ring over the void's: cos(theta / 2), `theta` in radians.

    >>> round(ring_share(np.radians(20.0)), 3)
    0.985
    """
    return float(np.cos(theta / 2.0))


def passed(b: ArrayLike, *, index: float = USUAL_INDEX) -> Floats:
    """Return the share of the light that passes both faces of the void at `b`: Fresnel, unpolarised; 1 if reflected.

    >>> float(passed(0.0, index=1.5).round(4))
    0.9216
    """
    b = np.asarray(b, np.float64)
    cos_in = np.sqrt(1.0 - b**2)
    cos_out = np.sqrt(np.maximum(1.0 - (index * b) ** 2, 0.0))
    cos_in = np.maximum(cos_in, 1e-12)
    across = ((index * cos_in - cos_out) / (index * cos_in + cos_out)) ** 2
    along = ((cos_in - index * cos_out) / (cos_in + index * cos_out)) ** 2
    through = 0.5 * ((1.0 - across) ** 2 + (1.0 - along) ** 2)
    return np.where(index * b < 1.0, through, 1.0)


def darkness(
    b: ArrayLike, theta: float, *, wall: float = 0.0, index: float = USUAL_INDEX, soft: float = 0.05
) -> Floats:
    """Return 1 - light at `b` radii from the void's centre, in units of the light beside the void; 0 beyond 1.

    Parameters
    ----------
    b
        Distance from the void's centre line over the void's radius.
    theta
        Half-angle of the light inside the resin, radians.
    wall
        Light met through a clear side wall over the direct light, 0 to 1.
    index
        Refractive index of the resin.
    soft
        Spread of `theta` over the void's surroundings, radians: the light's edge is not equally far on all sides.
    """
    b = np.asarray(b, np.float64)
    inside = np.clip(b, 0.0, 1.0)
    angle = turned(inside, index=index)
    direct = _fading(angle, theta, soft)
    escape = np.pi / 2.0 - widest_light(index=index)
    through_wall = wall * (1.0 - _fading(angle, escape, soft)) * _fading(angle, np.pi / 2.0, 3.0 * soft)
    light = passed(inside, index=index) * np.maximum(direct, through_wall)
    return np.where(b <= 1.0, 1.0 - light, 0.0)


def _fading(angle: Floats, limit: float, soft: float) -> Floats:
    """Return 1 well below `limit`, 0 well above, with a straight fall of half-width `soft` between."""
    return np.asarray(np.clip((limit - angle) / (2.0 * soft) + 0.5, 0.0, 1.0))
