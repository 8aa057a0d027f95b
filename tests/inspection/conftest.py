"""Pieces as tables, held against limits without a photograph."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from bubblegrade.grading_run import Casting
from bubblegrade.inspection.judging import judge
from bubblegrade.inspection.limits import Limits
from bubblegrade.inspection.seen import Seen
from bubblegrade.inspection.verdicts import Judgement
from bubblegrade.runs.limits_file import read_limits
from bubblegrade.voids.table import Voids

# A drop, blunt on the left and flat on top, 240 px long and 90 px wide.
ALONG = np.linspace(0.0, 1.0, 121)
GIRTH = np.sqrt(ALONG) * (1 - ALONG) / 0.3849
DROP = np.concatenate(
    [
        np.stack([30.0 + 240.0 * ALONG, 70.0 - 20.0 * GIRTH], axis=1),
        np.stack([30.0 + 240.0 * ALONG, 70.0 + 70.0 * GIRTH], axis=1)[-2:0:-1],
    ]
)


def seen_piece(solid: tuple[float, float, float] | None = None) -> Seen:
    """Return the grid of the drop, with a disc of hardware x, y, diameter in it."""
    from skimage.draw import polygon2mask  # noqa: PLC0415

    piece = polygon2mask((200, 300), DROP[:, ::-1])
    hardware = np.zeros_like(piece)
    if solid is not None:
        y, x = np.indices(piece.shape)
        hardware = np.hypot(x - solid[0], y - solid[1]) <= solid[2] / 2
    return Seen(1, piece, piece & ~hardware, hardware)


@pytest.fixture(name="limits")
def _limits() -> Callable[[str], Limits]:
    return lambda text: read_limits(text, name="test.toml")


@pytest.fixture(name="piece")
def _piece(known_casting: Callable[..., Casting]) -> Callable[..., Casting]:
    """Return a function that makes a drop at 0.05 mm per px with voids (x, y, diameter, err)."""

    def make(*voids: tuple[float, float, float, float], **changes: Any) -> Casting:
        x, y, diameter, err = np.array(voids, np.float64).reshape(-1, 4).T
        table = Voids.of(x_px=x, y_px=y, diameter_px=diameter, diameter_err_px=err)
        facts = {"voids": table, "set_aside": Voids.none(), "outline_px": DROP, "judged_px": (DROP,), **changes}
        return known_casting(**facts)

    return make


@pytest.fixture(name="judged")
def _judged(piece: Callable[..., Casting]) -> Callable[..., Judgement]:
    """Return a function that judges a drop with voids by limits in TOML."""

    def make(
        text: str, *voids: tuple[float, float, float, float], solid: tuple[float, float, float] | None = None,
        **changes: Any,
    ) -> Judgement:  # fmt: skip
        return judge(piece(*voids, **changes), seen_piece(solid), read_limits(text, name="test.toml"))

    return make


@pytest.fixture(name="drop")
def _drop() -> np.ndarray:
    return DROP


@pytest.fixture(name="seen_piece")
def _seen_piece() -> Callable[..., Seen]:
    return seen_piece
