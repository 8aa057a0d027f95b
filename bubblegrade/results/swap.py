"""A new result put in the place of an old one, so that a kill at any point loses neither.

The new files wait in a sub-folder, and the old result stands untouched. Renaming that sub-folder is the moment from
which the new result counts: what comes after (the old record and the files that leave are removed, the new ones moved
in, the record last) is done again from its beginning by the next run into the folder, where it was cut short.
"""

from __future__ import annotations

import errno
import hashlib
import json
import os
import shutil
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from bubblegrade.results.inside import is_inside, remove
from bubblegrade.results.whole import unwritable, write_whole

LEAVING: Final = ".bubblegrade-leaving"  # beside the new files: the names of those that leave, as JSON


@dataclass(frozen=True)
class Swap:
    """The places of a swap in a folder, apart for every record that stands in it."""

    folder: Path
    record: str  # the file that lists a result's files and is put in place last

    @property
    def waiting(self) -> Path:
        """Where new files wait while an old result stands."""
        return self._own("new")

    @property
    def ready(self) -> Path:
        """Where they stand while they are moved in."""
        return self._own("ready")

    @property
    def lock(self) -> Path:
        """What a run that writes the record holds."""
        return self._own("lock")

    def commit(self, leaving: Iterable[str]) -> None:
        """Put the waiting files in the place of the old result's, of which those `leaving` that are not new go.

        Raises
        ------
        OutputError
            A file cannot be put in its place; where that could be told before, the old result is untouched.
        """
        new = _files(self.waiting)
        for name in new:
            if (self.folder / name).is_dir():
                raise unwritable(self.folder / name, IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR)))
        try:
            write_whole(self.waiting / LEAVING, json.dumps(sorted(set(leaving).difference(new))).encode("ascii"))
            os.replace(self.waiting, self.ready)
        except OSError as error:
            raise unwritable(self.ready, error) from error
        self.complete()

    def complete(self) -> None:
        """Move in what is ready, where there is any: from this run, or from one that was cut short in doing so.

        Raises
        ------
        OutputError
            A file cannot be put in its place.
        """
        if not os.path.lexists(self.ready):
            return
        leaving, new = self._leaving(), _files(self.ready)
        if self.record in new:
            remove(self.folder, [self.record])  # no record stands beside files of which it does not tell
        remove(self.folder, leaving)
        for name in sorted(new, key=lambda name: (name == self.record, name)):
            place = self.folder / name
            try:
                place.parent.mkdir(parents=True, exist_ok=True)
                os.replace(self.ready / name, place)
            except OSError as error:
                raise unwritable(place, error) from error
        _clear(self.ready)

    def abandon(self) -> None:
        """Remove what still waits, from this run or from one that was cut short; an old result stays.

        Raises
        ------
        OutputError
            It cannot be removed.
        """
        if os.path.lexists(self.waiting):
            _clear(self.waiting)

    def _leaving(self) -> list[str]:
        """Return the names of the old files that are to go; none where the list is not one of ours."""
        try:
            names = json.loads((self.ready / LEAVING).read_bytes())
        except (OSError, ValueError, RecursionError):
            return []
        listed = names if isinstance(names, list) else []
        return [name for name in listed if isinstance(name, str) and is_inside(self.folder, name)]

    def _own(self, kind: str) -> Path:
        return self.folder / f".bubblegrade-{hashlib.sha256(os.fsencode(self.record)).hexdigest()[:8]}.{kind}"


def _files(folder: Path) -> list[str]:
    """Return the names of the files below a folder, but for the list of those that leave."""
    found = (file.relative_to(folder).as_posix() for file in sorted(folder.rglob("*")) if file.is_file())
    return [name for name in found if name != LEAVING]


def _clear(folder: Path) -> None:
    try:
        shutil.rmtree(folder)
    except OSError as error:
        raise unwritable(folder, error) from error
