"""A log in a folder of its own, with a clock that tells one hour more at every look."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import count
from pathlib import Path

import pytest

from bubblegrade.records.log import Log, open_log
from bubblegrade.records.tied import Result

BEGIN_S = 1_772_323_200.0  # 2026-03-01T00:00Z
HOUR_S = 3600.0


@pytest.fixture
def place(tmp_path: Path) -> Path:
    return tmp_path / "castings.sqlite"


@pytest.fixture
def log(place: Path) -> Iterator[Log]:
    hours = count()
    with open_log(place, create=True, clock=lambda: BEGIN_S + HOUR_S * next(hours), by="Ines") as opened:
        yield opened


@pytest.fixture
def graded() -> Callable[..., Result]:
    """Return a maker of gradings."""

    def make(voids: int = 57, *, photo: str = "a.jpg", file: str = "1" * 64, **numbers: float) -> Result:
        held = {"voids": voids, "judged_area_cm2": 15.0, "smallest_mm": 0.25, "smallest_px": 5.0, **numbers}
        digest = photo.encode().hex().ljust(64, "0")
        return Result(
            kind="grade", file="run.json", file_sha256=file, text="{}", photo=photo, photo_sha256=digest,
            verdict="bubbly", unfit=False, numbers=held, photographs=(digest,),
        )  # fmt: skip

    return make
