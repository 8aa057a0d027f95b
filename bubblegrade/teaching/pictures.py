"""Traced and drawn pictures gone through by several processes."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from pathlib import Path
from typing import TypeVar

from bubblegrade.teaching.lessons import Picture, drawn_picture, traced_picture

Learned = TypeVar("Learned")


def asked(description: str, *, trainings: int) -> argparse.ArgumentParser:
    """Return a parser of what every lesson asks: which pictures, how many trainings and processes, where to write."""
    parser = argparse.ArgumentParser(description=description)
    parser.add_argument("--traced", type=Path, nargs="+", default=[], help="folders of traced photographs")
    parser.add_argument("--drawn", type=int, default=0, help="how many drawn pictures to add")
    parser.add_argument("--out", type=Path, required=True, help="the network's file")
    parser.add_argument("--trainings", type=int, default=trainings)
    parser.add_argument("--processes", type=int, default=2)
    return parser


def each_picture(
    teach: Callable[[Picture], Learned], traced: Sequence[Path], drawn: int, *, processes: int, altered: bool = False
) -> list[Learned]:
    """Return what `teach` makes of each photograph in the folders `traced`, and of `drawn` drawn pictures.

    Some are altered, if asked: with dirt far out of focus, and as phones and cameras process what they save.
    """
    photos = [photo for folder in traced for photo in sorted(folder.glob("*.jpg"))]
    with ProcessPoolExecutor(processes) as pool:
        made = [*pool.map(partial(_of_traced, teach, altered), photos, range(len(photos)), chunksize=4)]
        made += pool.map(partial(_of_drawn, teach, altered), range(drawn), chunksize=4)
    return [one for one in made if one is not None]


def _of_traced(teach: Callable[[Picture], Learned], altered: bool, photo: Path, seed: int) -> Learned | None:  # noqa: FBT001
    picture = traced_picture(photo, seed, altered=altered)
    return None if picture is None else teach(picture)


def _of_drawn(teach: Callable[[Picture], Learned], altered: bool, seed: int) -> Learned:  # noqa: FBT001
    return teach(drawn_picture(seed, altered=altered))
