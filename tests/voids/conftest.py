"""What the tests of marks and of their kinds share: drawn marks, and how to find them."""

from __future__ import annotations

from collections.abc import Callable

import cv2
import numpy as np
import pytest

from bubblegrade.voids.fitting import Fits
from bubblegrade.voids.judging import OTHER_KINDS, Verdicts
from bubblegrade.voids.lighting import usual_lighting
from bubblegrade.voids.mark_looks import Scenery
from bubblegrade.voids.marks import Marks, find_marks
from bubblegrade.voids.table import Voids

SIDE = 400


@pytest.fixture(scope="session")
def marks_in() -> Callable[..., Marks]:
    """Return a function that finds the marks in a picture of darkness."""
    return _marks_in


@pytest.fixture(scope="session")
def bar() -> Callable[[int, int, float], np.ndarray]:
    """Return a function that draws the darkness of a straight bar."""
    return _bar


def _no_fits() -> tuple[Fits, Verdicts]:
    """Return no candidates, and so no verdicts."""
    nothing = np.zeros(0, np.float32)
    fits = Fits(
        x_px=nothing, y_px=nothing, radius_px=nothing, radius_err_px=nothing, blur_px=nothing, depth=nothing,
        level=nothing, explained=nothing, agreeing=nothing, seen=nothing,
    )  # fmt: skip
    return fits, Verdicts(nothing, nothing, nothing, np.zeros((0, len(OTHER_KINDS)), np.float32))


def _marks_in(dark: np.ndarray, voids: Voids | None = None, judged: np.ndarray | None = None) -> Marks:
    """Return the marks in a picture of darkness, all of it judged unless told otherwise."""
    scenery = Scenery(
        darkness=dark, codes=(255 * (1 - dark)).astype(np.uint8),
        judged=np.ones(dark.shape, bool) if judged is None else judged, casting_px=float(SIDE),
        lighting=usual_lighting(), noise=0.005,
    )  # fmt: skip
    return find_marks(scenery, voids or Voids.none(), *_no_fits())


def _bar(long: int, wide: int, angle: float) -> np.ndarray:
    """Return the darkness of a straight bar about the picture's middle, turned by `angle` degrees."""
    dark = np.zeros((SIDE, SIDE), np.float32)
    corners = cv2.boxPoints(((200.0, 200.0), (float(long), float(wide)), angle))
    cv2.fillPoly(dark, [np.rint(corners * 16).astype(np.int32)], 0.9, cv2.LINE_AA, shift=4)
    return dark
