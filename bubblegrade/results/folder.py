"""The folder a run writes into: refused where it would overwrite a result unasked, every file whole or not at all.

A file is written beside its place under a name of its own, flushed to the disk and renamed. Where an old result is
replaced, the new files wait in a sub-folder until `finish`: up to then the old result stands untouched, and a run that
fails leaves it so. `finish` removes those files of the old result that the new one does not have, then renames the
new files into place, run.json last. Only what the old run.json lists under `files` is ever removed, and what a failed
run has itself written.

A run that is cut short leaves its journal: such a folder is refused too, unless the run goes on or is replaced.
"""

from __future__ import annotations

import json
import os
import shutil
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path, PurePath
from types import TracebackType
from typing import Final

from bubblegrade.errors import OutputError
from bubblegrade.results.journal import JOURNAL_FILE, read_journal
from bubblegrade.results.whole import PART_FILES, part_name, unwritable, write_whole

RUN_FILE: Final = "run.json"
RESULT_MARKS: Final = (RUN_FILE, "voids.csv")  # either of them makes a folder one that holds a result

_WAITING: Final = ".bubblegrade-new"  # sub-folder in which new files wait while an old result stands
_OTHER_FOLDER: Final = "name another folder with --out"


@dataclass(frozen=True)
class ResultFolder:
    """A folder that is ready to be written into; use it as a context manager, or call `finish` or `abandon`."""

    path: Path
    replacing: bool = False  # whether an old result stands there until `finish`
    resuming: bool = False  # whether it adds to a result, whose files stay whatever happens
    made: bool = False  # whether there was no folder before
    record: str = RUN_FILE  # the file that lists the result's files and is put in place last
    _names: list[str] = field(default_factory=list, init=False, repr=False, compare=False)

    @property
    def written(self) -> tuple[str, ...]:
        """The names written so far, in their order."""
        return tuple(self._names)

    @classmethod
    def prepare(cls, path: Path, *, replace: bool, resume: bool = False, record: str = RUN_FILE) -> ResultFolder:
        """Return the folder at `path`, made where there is none, after checking that it can be written to.

        A folder without a result of this `record` is accepted, whatever else it holds; one with such a result, or with
        a run that was cut short, only with `replace` or `resume`, of which `resume` adds to what is there.

        Raises
        ------
        OutputError
            If it holds such a thing and neither is given, both are given, it is a file, or it cannot be written to.
        """
        if replace and resume:
            raise OutputError(f"{path} cannot be both replaced and resumed: give --replace or --resume, not both")
        if os.path.exists(path) and not os.path.isdir(path):
            raise OutputError(f"{path} is a file, and the results need a folder: {_OTHER_FOLDER}")
        marks = (JOURNAL_FILE, *RESULT_MARKS) if record == RUN_FILE else (record,)
        held = next((name for name in marks if os.path.lexists(path / name)), None)
        if held == JOURNAL_FILE and not (replace or resume):
            raise OutputError(
                f"{path} holds a run that was cut short ({held}): let grade go on with --resume, or begin again with "
                "--replace"
            )
        if held and not (replace or resume):
            raise OutputError(f"{path} holds a result already ({held}): add --replace, or {_OTHER_FOLDER}")
        made = not os.path.lexists(path)
        folder = cls(path, replacing=bool(held) and replace, resuming=resume, made=made, record=record)
        folder._check_writable()
        folder.abandon()
        if resume or held == JOURNAL_FILE:
            folder._clear_parts()
        return folder

    def __enter__(self) -> ResultFolder:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, _error: BaseException | None, _at: TracebackType | None
    ) -> None:
        if kind is None:
            self.finish()
        else:
            self.abandon()
            self._take_back()

    def write_text(self, name: str, text: str) -> Path:
        """Write `text` in UTF-8 and return its place; what UTF-8 cannot hold is written as a backslash escape."""
        return self.write_bytes(name, text.encode("utf-8", errors="backslashreplace"))

    def write_bytes(self, name: str, data: bytes) -> Path:
        """Write `data` to `name` below the folder, whole or not at all, and return the place it has in the end.

        `name` may lie in a sub-folder, which is made.

        Raises
        ------
        OutputError
            If the name leads out of the folder, or the file cannot be written; then nothing of it is left.
        """
        place = self._place(name)
        target = self.path / _WAITING / name if self.replacing else place
        try:
            target.parent.mkdir(parents=True, exist_ok=True)
            write_whole(target, data)
        except OSError as error:
            raise unwritable(place, error) from error
        self._names.append(name)
        return place

    def discard(self, names: Iterable[str]) -> None:
        """Remove files of a result that its record no longer lists.

        Raises
        ------
        OutputError
            If one cannot be removed.
        """
        self._remove(name for name in names if self._is_inside(name))

    def finish(self) -> None:
        """Put the new files in the place of the old result; nothing is left to do where none was replaced.

        Raises
        ------
        OutputError
            If a file cannot be put in its place.
        """
        waiting = self.path / _WAITING
        if not waiting.is_dir():
            return
        new = [file.relative_to(waiting).as_posix() for file in sorted(waiting.rglob("*")) if file.is_file()]
        self._remove(self._former_files().difference(new))
        for name in sorted(new, key=lambda name: (name == self.record, name)):
            place = self._place(name)
            try:
                place.parent.mkdir(parents=True, exist_ok=True)
                os.replace(waiting / name, place)
            except OSError as error:
                raise unwritable(place, error) from error
        self.abandon()

    def abandon(self) -> None:
        """Remove new files that still wait, from this run or from one that was cut short; an old result stays."""
        waiting = self.path / _WAITING
        if not os.path.lexists(waiting):
            return
        try:
            shutil.rmtree(waiting)
        except OSError as error:
            raise unwritable(waiting, error) from error

    def _take_back(self) -> None:
        """Remove what a failed run has written, unless it adds to a result."""
        if self.replacing or self.resuming:
            return
        self._remove([*self._names, JOURNAL_FILE])
        if self.made and not any(self.path.iterdir()):
            self.path.rmdir()

    def _check_writable(self) -> None:
        """Make the folder and write one file into it, which is removed again."""
        trial = self.path / part_name()
        try:
            self.path.mkdir(parents=True, exist_ok=True)
            trial.touch(exist_ok=False)
            trial.unlink()
        except (OSError, ValueError) as error:
            raise unwritable(self.path, error) from error

    def _place(self, name: str) -> Path:
        """Return where `name` lies, refused unless that is inside the folder."""
        if not self._is_inside(name):
            raise OutputError(f"{name!r} is no name inside {self.path}: rename the photograph, or grade its own folder")
        return self.path / name

    def _is_inside(self, name: str) -> bool:
        """Tell whether `name` stays below the folder, also through links, and is not one of the waiting files."""
        parts = PurePath(name)
        if "\0" in name or not parts.parts or parts.anchor or ".." in parts.parts or parts.parts[0] == _WAITING:
            return False
        inner = Path(os.path.realpath(self.path / parts.parent))
        return inner.is_relative_to(os.path.realpath(self.path))

    def _clear_parts(self) -> None:
        """Remove what writes have left that were killed."""
        self._remove([part.relative_to(self.path).as_posix() for part in self.path.rglob(PART_FILES)])

    def _former_files(self) -> frozenset[str]:
        """Return the names that the old record and the journal list; none where they cannot be read."""
        try:
            listed = json.loads((self.path / self.record).read_text("utf-8"))["files"]
        except (OSError, ValueError, LookupError, TypeError, RecursionError):
            listed = []
        names = listed if isinstance(listed, list) else []
        if self.record == RUN_FILE:
            names = [*names, *journalled_pictures(self.path), JOURNAL_FILE]
        return frozenset(PurePath(name).as_posix() for name in names if isinstance(name, str) and self._is_inside(name))

    def _remove(self, names: Iterable[str]) -> None:
        """Remove these files, and the sub-folders that are empty then; what is gone already is passed over."""
        for name in sorted(names):
            place = self.path / name
            try:
                if place.is_symlink() or place.is_file():
                    place.unlink()
                    _remove_empty(place.parent, top=self.path)
            except OSError as error:
                raise unwritable(place, error) from error


def journalled_pictures(folder: Path) -> tuple[str, ...]:
    """Return the pictures of a run that was cut short; none where there is no journal."""
    journal = read_journal(folder)
    return () if journal is None else tuple(line.marked for line in journal.lines)


def _remove_empty(folder: Path, *, top: Path) -> None:
    """Remove `folder` and its parents below `top`, as long as they are empty."""
    while folder != top and not any(folder.iterdir()):
        folder.rmdir()
        folder = folder.parent
