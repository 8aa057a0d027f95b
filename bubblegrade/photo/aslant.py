"""Voids in a photograph that was squared to the plane on which the casting lies, and taken from aside.

A void is a ball, as wide from aside as from above. Seen at an angle a from the upright through a flat top, under b
inside (sin a = n sin b by Snell's law), it leaves the resin narrower by cos a / cos b, and squaring draws the photo out
by 1 / cos a. So the void looks 1 / cos b times as long as it is wide, and the diameter of a disc of its area grows by
the square root of that: 2 % at 25 degrees.
"""

from __future__ import annotations


def enlarged_aslant(cosine: float, cosine_err: float, *, index: float) -> tuple[float, float]:
    """Return by how much voids look larger in a squared photograph, and the standard uncertainty of that.

    Parameters
    ----------
    cosine, cosine_err
        Of the angle from the upright at which the casting is seen, and its standard uncertainty.
    index
        Of the resin.

    Without resin, seen so flat that its long side is four times its width, a disc of the same area is twice as wide:

    >>> enlarged_aslant(0.25, 0.0, index=1.0)
    (2.0, 0.0)
    """
    inside = 1.0 - (1.0 - min(cosine, 1.0) ** 2) / index**2
    enlarged = inside**-0.25
    return enlarged, enlarged * cosine / (2.0 * index**2 * inside) * cosine_err
