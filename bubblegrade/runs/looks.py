"""Looks into a folder that a camera writes to: which photographs are there, have arrived whole, and when it pauses."""

from __future__ import annotations

import os
import time
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from bubblegrade.photo.reading import is_picture, is_unread_picture

POLL_S: Final = 0.2  # between two looks into the folder
STEADY: Final = 2  # looks in a row at which a file has not changed, and is taken for whole;
ENDED: Final = 1  # as many for one that ends as its format does
ENDS: Final = (b"\xff\xd9", b"IEND\xaeB`\x82")  # of JPEG and PNG: ITU-T T.81 annex B, ISO/IEC 15948 clause 11.2.5
PAUSE: Final = 10  # looks in a row at which no file has changed, and the camera pauses: two seconds

Stamp = tuple[int, int]  # a file's size in bytes, above 0, and when it was last written to


@dataclass
class Arrivals:
    """Tells which files have arrived whole."""

    _steady: dict[Path, tuple[Stamp, int]] = field(default_factory=dict)
    _told: set[Path] = field(default_factory=set)

    def whole(self, now: Mapping[Path, Stamp]) -> list[Path]:
        """Return the files that have not changed for STEADY looks or have ended, each once until it changes again."""
        self._steady = {path: (stamp, self._looks(path, stamp)) for path, stamp in now.items()}
        self._told = {path for path in self._told if self._steady.get(path, (None, 0))[1]}
        arrived = [
            path
            for path, (_, looks) in self._steady.items()
            if path not in self._told and (looks >= STEADY or (looks >= ENDED and _has_ended(path)))
        ]
        self._told.update(arrived)
        return arrived

    @property
    def pause(self) -> bool:
        """Whether nothing has come for a while."""
        return all(looks >= PAUSE for _, looks in self._steady.values())

    def _looks(self, path: Path, stamp: Stamp) -> int:
        before, looks = self._steady.get(path, (None, 0))
        return looks + 1 if before == stamp else 0


def listed(folder: Path) -> dict[Path, Stamp]:
    """Return the pictures below `folder`, of any kind, sorted; hidden ones and empty ones are passed over."""
    found: dict[Path, Stamp] = {}
    for place, inner, files in os.walk(folder):
        inner[:] = [name for name in inner if not name.startswith(".")]
        for path in (Path(place, name) for name in files if not name.startswith(".")):
            if (is_picture(path) or is_unread_picture(path)) and (stamp := stamp_of(path)) is not None:
                found[path] = stamp
    return dict(sorted(found.items()))


@dataclass
class Pace:
    """When it is time for the next look."""

    _last: float = 0.0

    def wait(self) -> None:
        """Wait until then."""
        time.sleep(POLL_S)
        self._last = time.monotonic()

    def due(self) -> bool:
        """Tell whether it is; then it is asked for the one after that."""
        now = time.monotonic()
        if now < self._last + POLL_S:
            return False
        self._last = now
        return True


def _has_ended(path: Path) -> bool:
    """Tell whether the last bytes of a file are the end of its format."""
    try:
        with path.open("rb") as file:
            file.seek(-max(map(len, ENDS)), os.SEEK_END)
            return file.read().endswith(ENDS)
    except OSError:
        return False


def stamp_of(path: Path) -> Stamp | None:
    """Return a file's stamp; None while it is empty, and where it has just been renamed or removed."""
    try:
        about = path.stat()
    except OSError:
        return None
    return (about.st_size, about.st_mtime_ns) if about.st_size else None
