"""How near a camera of unknown focal length may stand, as a tilted card's own perspective tells.

On a card seen aslant, what is nearer looks larger, and what lies along the look looks shorter. The two fit together at
one focal length alone: there the card's two directions are upright to each other and equally long. A card seen from
straight above fits any.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from bubblegrade.photo.card_plane import STEP, Plane
from bubblegrade.photo.lens import AXIS_ERR

Floats = NDArray[np.float64]

SHARES: Final = np.geomspace(0.1, 20.0, 2000)  # looked at: focal lengths over that which the plane was fitted with
LIMIT: Final = 1.96  # standard uncertainties to the limit of a 95 % interval


def focal_shares(plane: Plane, uneven_share: float) -> tuple[float, float]:
    """Return the least and most focal length that fit, over that which the plane was fitted with.

    Parameters
    ----------
    plane
        The card's.
    uneven_share
        Standard uncertainty of how unlike the print's two directions are.
    """
    axis = AXIS_ERR * 2.0 * float(plane.centre_px.max()) / plane.focal_px
    off = _unlike(plane.homography)
    steps = STEP * np.eye(plane.numbers.size)
    slopes = [(_unlike(replace(plane, numbers=plane.numbers + step).homography) - off) / STEP for step in steps]
    moved = [(_unlike(_shifted(plane.homography, way)) - off) / STEP for way in STEP * np.eye(2)]
    spread = np.einsum("ign,ij,jgm->gnm", slopes, plane.spread, slopes)
    spread += axis**2 * np.einsum("ign,igm->gnm", moved, moved) + uneven_share**2 * np.eye(2)
    misfit = np.einsum("gn,gnm,gm->g", off, np.linalg.inv(spread), off)
    fits = SHARES[misfit <= misfit.min() + LIMIT**2]
    return float(fits[0]), float(fits[-1])


def _unlike(matrix: Floats) -> Floats:
    """Return how far the plane's directions are from upright to each other and equally long, (shares, 2)."""
    (xx, xy), (_, yy) = np.moveaxis(
        (matrix[:2, :2].T @ matrix[:2, :2]) + SHARES[:, None, None] ** 2 * np.outer(matrix[2, :2], matrix[2, :2]), 0, -1
    )
    size = np.sqrt(xx * yy)
    return np.stack([xy / size, (xx - yy) / (2.0 * size)], axis=1)


def _shifted(matrix: Floats, way: Floats) -> Floats:
    """Return a homography with the camera's axis moved, in focal lengths."""
    return np.asarray(matrix - np.outer(np.append(way, 0.0), matrix[2]))
