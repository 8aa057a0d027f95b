"""Castings as a person has put them right on the page: what the commands make of the photographs of its folder."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from bubblegrade.corrected.history import holding
from bubblegrade.corrected.numbers import Basis, applied
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
        after = applied(casting, steps, basis).casting
    except InputError as error:
        return PutRight(casting, missing=f"corrections on the page do not count here: {error}")
    return PutRight(after, f"as corrected on the page, {count_of(len(steps), 'change')}")


def _result(photograph: Path) -> Path:
    """Return the folder of a photograph's result on the page."""
    return photograph.parent / BENCH_FOLDER / photograph.name
