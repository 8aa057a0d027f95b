"""Looks into a folder that a camera writes to: which photographs are there, have arrived whole, and when it pauses."""

from __future__ import annotations

import os
import time
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from bubblegrade.photo.reading import is_picture, is_unread_picture

POLL_S: Final = 0.1  # between two looks into the folder
STEADY: Final = 4  # looks in a row at which a file has not changed, and seems whole whatever its end
ENDS: Final = (b"\xff\xd9", b"IEND\xaeB`\x82")  # of JPEG and PNG: ITU-T T.81 annex B, ISO/IEC 15948 clause 11.2.5
PAUSE: Final = 20  # looks in a row at which no file has changed, and the camera pauses: two seconds

Stamp = tuple[int, int]  # a file's size in bytes, and when it was last written to


@dataclass
class Arrivals:
    """Tells which files have arrived whole, or seem to: those that end as their format does need not wait."""

    _steady: dict[Path, tuple[Stamp, int]] = field(default_factory=dict)
    _told: set[Path] = field(default_factory=set)
    _doubted: set[Path] = field(default_factory=set)

    def whole(self, now: Mapping[Path, Stamp]) -> list[Path]:
        """Return the files that seem to have arrived, each once until it changes again; a doubted one when sure."""
        self._steady = {path: (stamp, self._looks(path, stamp)) for path, stamp in now.items()}
        unchanged = {path for path, (_, looks) in self._steady.items() if looks}
        self._told &= unchanged
        self._doubted &= unchanged
        arrived = [path for path in now if path not in self._told and (self.sure(path) or self._seems_whole(path))]
        self._told.update(arrived)
        return arrived

    def sure(self, path: Path) -> bool:
        """Tell whether a file has not changed for a pause: a slow connection halts for less while it brings one."""
        return self._steady[path][1] >= PAUSE

    def doubt(self, path: Path) -> None:
        """Wait for a file until it is sure to have arrived, or changes again."""
        self._told.discard(path)
        self._doubted.add(path)

    def _seems_whole(self, path: Path) -> bool:
        return path not in self._doubted and (self._steady[path][1] >= STEADY or _has_ended(path))

    @property
    def pause(self) -> bool:
        """Whether nothing has come for a while."""
        return all(looks >= PAUSE for _, looks in self._steady.values())

    def _looks(self, path: Path, stamp: Stamp) -> int:
        before, looks = self._steady.get(path, (None, 0))
        return looks + 1 if before == stamp else 0


@dataclass
class Folder:
    """Lists the pictures below a folder; a path that was there before is not made again, as there may be thousands."""

    top: Path
    _pictures: dict[str, Path | None] = field(default_factory=dict)  # None: a file of another kind

    def look(self) -> dict[Path, Stamp]:
        """Return the pictures of any kind that are there now, sorted; hidden ones are passed over."""
        found: dict[Path, Stamp] = {}
        for name in _files(self.top):
            path = self._picture(name)
            if path is not None and (stamp := stamp_of(path)) is not None:
                found[path] = stamp
        return dict(sorted(found.items(), key=lambda one: one[0].parts))

    def _picture(self, name: str) -> Path | None:
        if name not in self._pictures:
            path = Path(name)
            self._pictures[name] = path if is_picture(path) or is_unread_picture(path) else None
        return self._pictures[name]


def _files(top: Path) -> Iterator[str]:
    """Return the paths of what is below a folder and no folder; hidden ones, and what cannot be listed, left out."""
    for folder, inner, names in os.walk(top):
        inner[:] = [name for name in inner if not name.startswith(".")]
        yield from (os.path.join(folder, name) for name in names if not name.startswith("."))


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
    """Return a file's stamp; None where it has just been renamed or removed."""
    try:
        about = path.stat()
    except OSError:
        return None
    return about.st_size, about.st_mtime_ns
