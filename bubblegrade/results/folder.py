"""The folder a run writes into: refused where it would overwrite a result unasked, every file whole or not at all.

A file is written beside its place under a name of its own, flushed to the disk and renamed. Where an old result is
replaced, the new files wait in a sub-folder until `finish`, which swaps them in (see `swap`): up to then the old result
stands untouched, and a run that fails leaves it so. Only what the old run.json lists under `files` is ever removed, and
what a failed run has itself written.

A run that is cut short leaves its journal: such a folder is refused too, unless the run goes on or is replaced. While
one run writes, another into the same folder is refused.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from pathlib import Path, PurePath
from types import TracebackType
from typing import BinaryIO, Final

from bubblegrade.errors import CutShortError, OutputError
from bubblegrade.results.inside import is_inside, remove
from bubblegrade.results.journal import JOURNAL_FILE, read_journal
from bubblegrade.results.lock import Lock
from bubblegrade.results.members import listed_files
from bubblegrade.results.swap import Swap
from bubblegrade.results.whole import PART_FILES, unwritable, whole_file

RUN_FILE: Final = "run.json"
RESULT_MARKS: Final = (RUN_FILE, "voids.csv")  # either of them makes a folder one that holds a result

_OTHER_FOLDER: Final = "name another folder with --out"
# By whether what a folder holds is a run that was cut short.
_REFUSED: Final = {
    True: "{path} holds a run that was cut short ({held}): let grade go on with --resume, or begin again with "
    "--replace",
    False: f"{{path}} holds a result already ({{held}}): add --replace, or {_OTHER_FOLDER}",
}


@dataclass(frozen=True)
class ResultFolder:
    """A folder that is ready to be written into; use it as a context manager, or call `finish` or `abandon`."""

    path: Path
    replacing: bool = False  # whether an old result stands there until `finish`
    resuming: bool = False  # whether it adds to a result, whose files stay whatever happens
    made: bool = False  # whether there was no folder before
    record: str = RUN_FILE  # the file that lists the result's files and is put in place last
    _lock: Lock | None = field(default=None, repr=False, compare=False)
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
        made = not os.path.lexists(path)
        lock = _locked(Swap(path, record))
        try:
            Swap(path, record).complete()
            held = _held(path, record)
            if held and not (replace or resume):
                raise OutputError(_REFUSED[held == JOURNAL_FILE].format(path=path, held=held))
            replacing = held is not None and replace
            folder = cls(path, replacing=replacing, resuming=resume, made=made, record=record, _lock=lock)
            folder.abandon()
            if resume or held == JOURNAL_FILE:
                folder._clear_parts()
        except BaseException:
            lock.release()
            raise
        return folder

    def __enter__(self) -> ResultFolder:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, _error: BaseException | None, _at: TracebackType | None
    ) -> None:
        try:
            if kind is None:
                self.finish()
            else:
                self.abandon()
                if not issubclass(kind, CutShortError):
                    self._take_back()
        finally:
            self._release()
        if kind is not None and self.made and not any(self.path.iterdir()):
            self.path.rmdir()

    def write_text(self, name: str, text: str) -> Path:
        """Write `text` in UTF-8 and return its place; what UTF-8 cannot hold is written as a backslash escape."""
        return self.write_bytes(name, text.encode("utf-8", errors="backslashreplace"))

    def write_bytes(self, name: str, data: bytes) -> Path:
        """Write `data` to `name` as `writing` does, and return the place it has in the end."""
        with self.writing(name) as file:
            file.write(data)
        return self._place(name)

    def write_together(self, writers: Mapping[str, Callable[[BinaryIO], object]]) -> None:
        """Write files as `writing` does, each by its writer; none is in its place before all are whole, the first last.

        Raises
        ------
        OutputError
            As `writing`.
        """
        with ExitStack() as whole:
            for name, write in writers.items():
                write(whole.enter_context(self.writing(name)))

    @contextmanager
    def writing(self, name: str) -> Iterator[BinaryIO]:
        """Open `name` below the folder to write to piece by piece: it is there, whole, when the block ends well.

        `name` may lie in a sub-folder, which is made.

        Raises
        ------
        OutputError
            If the name leads out of the folder, or the file cannot be written; then nothing of it is left.
        """
        place = self._place(name)
        target = self._swap.waiting / name if self.replacing else place
        try:
            target.parent.mkdir(parents=True, exist_ok=True)
            with whole_file(target) as file:
                yield file
        except OSError as error:
            raise unwritable(place, error) from error
        self._names.append(name)

    def discard(self, names: Iterable[str]) -> None:
        """Remove files of a result that its record no longer lists.

        Raises
        ------
        OutputError
            If one cannot be removed.
        """
        remove(self.path, (name for name in names if is_inside(self.path, name)))

    def finish(self) -> None:
        """Put the new files in the place of the old result; nothing is left to do where none was replaced.

        Raises
        ------
        OutputError
            If a file cannot be put in its place.
        """
        if self._swap.waiting.is_dir():
            self._swap.commit(self._former_files())

    def abandon(self) -> None:
        """Remove new files that still wait, from this run or from one that was cut short; an old result stays."""
        self._swap.abandon()

    @property
    def _swap(self) -> Swap:
        return Swap(self.path, self.record)

    def _release(self) -> None:
        """Let others write into the folder."""
        if self._lock is not None:
            self._lock.release()

    def _take_back(self) -> None:
        """Remove what a failed run has written, unless it adds to a result."""
        if self.replacing or self.resuming:
            return
        remove(self.path, [*self._names, JOURNAL_FILE])

    def _place(self, name: str) -> Path:
        """Return where `name` lies, refused unless that is inside the folder."""
        if not is_inside(self.path, name):
            raise OutputError(f"{name!r} is no name inside {self.path}: rename the photograph, or grade its own folder")
        return self.path / name

    def _clear_parts(self) -> None:
        """Remove what writes have left that were killed."""
        remove(self.path, [part.relative_to(self.path).as_posix() for part in self.path.rglob(PART_FILES)])

    def _former_files(self) -> frozenset[str]:
        """Return the names that the old record and the journal list; none where they cannot be read."""
        names = listed_files(self.path / self.record)
        if self.record == RUN_FILE:
            names = (*names, *journalled_pictures(self.path), JOURNAL_FILE)
        return frozenset(PurePath(name).as_posix() for name in names)


def _locked(swap: Swap) -> Lock:
    """Make the folder, and take its lock, which shows that it can be written to."""
    try:
        swap.folder.mkdir(parents=True, exist_ok=True)
        lock = Lock.take(swap.lock)
    except (OSError, ValueError) as error:
        raise unwritable(swap.folder, error) from error
    if lock is None:
        raise OutputError(f"{swap.folder} is being written by another run: wait for its end, or {_OTHER_FOLDER}")
    return lock


def _held(path: Path, record: str) -> str | None:
    """Return the name by which a folder is known to hold a result, or a run that was cut short."""
    marks = (JOURNAL_FILE, *RESULT_MARKS) if record == RUN_FILE else (record,)
    return next((name for name in marks if os.path.lexists(path / name)), None)


def journalled_pictures(folder: Path) -> tuple[str, ...]:
    """Return the pictures inside its folder of a run that was cut short; none where there is no journal."""
    journal = read_journal(folder)
    marked = () if journal is None else (line.marked for line in journal.lines())
    return tuple(name for name in marked if isinstance(name, str) and is_inside(folder, name))
