"""Castings as a person has put them right on the page: what the commands make of the photographs of its folder."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from bubblegrade.corrected.changes import HALF_PX, Corners
from bubblegrade.corrected.finds import State
from bubblegrade.corrected.history import holding
from bubblegrade.corrected.numbers import Basis, Corrected, applied
from bubblegrade.errors import InputError
from bubblegrade.grading_run import Casting
from bubblegrade.results.corrections import BENCH_FOLDER, CORRECTIONS_FILES, read_corrections
from bubblegrade.units import count_of


@dataclass(frozen=True, eq=False)
class PutRight:
    """A casting with what a person has changed in it."""

    casting: Casting
    words: str = ""  # what to say of the changes; empty where there are none
    missing: str = ""  # why changes that there are do not count; empty where all do
    no_void: tuple[Corners, ...] = ()  # areas in which a person said that no void counts

    @property
    def remarks(self) -> tuple[str, ...]:
        """A sentence on the changes, where there are any."""
        photo = self.casting.photo
        if self.missing:
            return (f"{photo}: {self.missing}.",)
        return (f"{photo} counts {self.words}.",) if self.words else ()


def has_corrections(photograph: Path) -> bool:
    """Say whether anything was ever changed on the page in a photograph of this place."""
    return any(_result(photograph).glob(CORRECTIONS_FILES))


def put_right(casting: Casting, photograph: Path, basis: Basis) -> PutRight:
    """Return a casting graded now, with the changes that were made on the page to this photograph.

    They count where grading finds now what it found there, which the scale does not change.
    """
    try:
        steps = holding(read_corrections(_result(photograph), casting))
        if not steps:
            return PutRight(casting)
        after = applied(casting, steps, basis)
    except InputError as error:
        return PutRight(casting, missing=f"corrections on the page do not count here: {error}")
    words = f"as corrected on the page, {count_of(len(steps), 'change')}"
    return PutRight(after.casting, words, no_void=(*after.left_out, *_no_voids(after)))


def _no_voids(corrected: Corrected) -> Iterator[Corners]:
    """Return a square around the middle of each find that a person took away, or gave another name than a void's."""
    for find in corrected.finds:
        if find.who and find.state in {State.REMOVED, State.SET_ASIDE}:
            x, y, half = find.x_px, find.y_px, max(find.diameter_px / 2, HALF_PX)
            yield ((x - half, y - half), (x + half, y - half), (x + half, y + half), (x - half, y + half))


def _result(photograph: Path) -> Path:
    """Return the folder of a photograph's result on the page."""
    return photograph.parent / BENCH_FOLDER / photograph.name
