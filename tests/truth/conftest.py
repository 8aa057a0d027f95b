"""What the whole-chain tests share: grading a picture, and pairing finds with the truth."""

from __future__ import annotations

import hashlib
from collections.abc import Callable

import numpy as np
import pytest
from scipy.optimize import linear_sum_assignment

from bubblegrade.drawn.pictures import Drawn, draw
from bubblegrade.drawn.populations import cup
from bubblegrade.grading_run import Casting, Request, grade
from bubblegrade.photo.reading import Photo
from bubblegrade.settings import Settings

Columns = tuple[np.ndarray, np.ndarray, np.ndarray]  # x, y, diameter in px


@pytest.fixture(scope="session")
def graded() -> Callable[..., Casting]:
    """Return a function that grades a picture, (rows, cols[, 3])."""

    def grade_picture(picture: np.ndarray, name: str = "drawn.png", **request: float) -> Casting:
        codes = np.ascontiguousarray(picture)
        photo = Photo(name=name, codes=codes, sha256=hashlib.sha256(codes.tobytes()).hexdigest())
        return grade(photo, Request(**request), Settings())  # type: ignore[arg-type]

    return grade_picture


@pytest.fixture(scope="session")
def of_all_sizes() -> Drawn:
    """Return a drawn cup of 200 voids of 4 to 30 px."""
    held = {"casting_px": 620.0, "width_px": 1400, "height_px": 1400}
    return draw(cup(np.geomspace(0.12, 0.9, 200), mm_per_px=0.03, rng=np.random.default_rng(7), **held))


@pytest.fixture(scope="session")
def paired() -> Callable[[Columns, Columns], tuple[np.ndarray, np.ndarray]]:
    """Return a function that pairs finds with true voids, one to one.

    A find is a hit when its centre lies within max(2 px, 0.3 d) of a true void's and its diameter within a factor of 2.
    """

    def pair(found: Columns, true: Columns) -> tuple[np.ndarray, np.ndarray]:
        off = np.hypot(found[0][:, None] - true[0], found[1][:, None] - true[1])
        reach = np.maximum(2.0, 0.3 * true[2])
        ratio = np.abs(np.log(np.maximum(found[2][:, None], 1e-9) / true[2]))
        hit = (off <= reach) & (ratio <= np.log(2))
        rows, cols = linear_sum_assignment(np.where(hit, off / reach + ratio, 1e6))
        kept = hit[rows, cols]
        return rows[kept], cols[kept]

    return pair
