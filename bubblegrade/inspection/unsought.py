"""What is dark in clear resin by the rim, where no mark was looked for: a void there shows its whole ring unseen.

What is judged ends a little within the dark rim, and where a void comes near, the rim seems to reach around it. Its
ring then lies in the light and belongs to nothing. Lines along the rim, which a curved flank draws, are slender; a
flake lets no light through its middle.
"""

from __future__ import annotations

from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

Mask = NDArray[np.bool_]
Floats = NDArray[np.float64]

LEAST_SQUARES: Final = 4  # less is noise
ROUND: Final = 0.45  # of its length: a body less wide is a line
FLAT: Final = 0.85  # of its hull that is opaque: more is a flake


def unsought(dark: Mask, opaque: Mask, judged: Mask) -> Floats:
    """Return middle x, y and diameter of dark bodies that reach beyond what is judged, (N, 3) in squares.

    Parameters
    ----------
    dark
        (rows, cols) squares in the light within the rim that are darker than clear resin and belong to nothing known.
    opaque
        Those that let hardly any light through.
    judged
        Where marks were looked for.
    """
    found = np.empty((0, 3))
    reaching = dark & ~judged
    if not reaching.any():
        return found
    count, bodies, boxes, _ = cv2.connectedComponentsWithStats(dark.view(np.uint8), connectivity=8)
    beyond = np.bincount(bodies[reaching], minlength=count) > 0
    for body in np.flatnonzero(beyond & (boxes[:, cv2.CC_STAT_AREA] >= LEAST_SQUARES)):
        left, top, wide, high, _ = boxes[body]
        box = np.s_[top : top + high, left : left + wide]
        mine = bodies[box] == body
        hull = cv2.convexHull(np.argwhere(mine)[:, ::-1].astype(np.int32))
        middle, sides, _ = cv2.minAreaRect(hull)
        short, long = sorted(side + 1.0 for side in sides)
        whole = np.zeros(mine.shape, np.uint8)
        cv2.fillConvexPoly(whole, hull, 1)
        flat = np.count_nonzero(opaque[box] & (whole > 0)) > FLAT * np.count_nonzero(whole)
        if short >= ROUND * long and not flat:
            found = np.vstack([found, (middle[0] + left, middle[1] + top, long)])
    return found
