"""Names inside a result folder: which may be written there, and how files of it go."""

from __future__ import annotations

import os
import re
from collections.abc import Iterable
from pathlib import Path, PurePath
from typing import Final

from bubblegrade.results.whole import unwritable

# What stands in a result folder for a run alone: what waits, what is moved in, and the lock.
OWN: Final = re.compile(r"\.bubblegrade-[0-9a-f]+\.(new|ready|lock)")


def is_inside(folder: Path, name: str) -> bool:
    """Tell whether `name` stays below the folder, also through links, and is not one of a run's own."""
    parts = PurePath(name)
    if "\0" in name or not parts.parts or parts.anchor or ".." in parts.parts or OWN.fullmatch(parts.parts[0]):
        return False
    inner = Path(os.path.realpath(folder / parts.parent))
    return inner.is_relative_to(os.path.realpath(folder))


def remove(folder: Path, names: Iterable[str]) -> None:
    """Remove these files, and the sub-folders that are empty then; what is gone already is passed over.

    Raises
    ------
    OutputError
        If one cannot be removed.
    """
    for name in sorted(names):
        place = folder / name
        try:
            if place.is_symlink() or place.is_file():
                place.unlink()
                _remove_empty(place.parent, top=folder)
        except OSError as error:
            raise unwritable(place, error) from error


def _remove_empty(folder: Path, *, top: Path) -> None:
    """Remove `folder` and its parents below `top`, as long as they are empty."""
    while folder != top and not any(folder.iterdir()):
        folder.rmdir()
        folder = folder.parent
