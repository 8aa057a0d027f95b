"""Traced and drawn pictures gone through by several processes."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from pathlib import Path
from typing import TypeVar

from bubblegrade.teaching.lessons import Picture, drawn_picture, traced_picture

Learned = TypeVar("Learned")


def each_picture(
    teach: Callable[[Picture], Learned], traced: Sequence[Path], drawn: int, *, processes: int
) -> list[Learned]:
    """Return what `teach` makes of each photograph in the folders `traced`, and of `drawn` drawn pictures."""
    photos = [photo for folder in traced for photo in sorted(folder.glob("*.jpg"))]
    with ProcessPoolExecutor(processes) as pool:
        made = [*pool.map(partial(_of_traced, teach), photos, range(len(photos)), chunksize=4)]
        made += pool.map(partial(_of_drawn, teach), range(drawn), chunksize=4)
    return [one for one in made if one is not None]


def _of_traced(teach: Callable[[Picture], Learned], photo: Path, seed: int) -> Learned | None:
    picture = traced_picture(photo, seed)
    return None if picture is None else teach(picture)


def _of_drawn(teach: Callable[[Picture], Learned], seed: int) -> Learned:
    return teach(drawn_picture(seed))
