"""A graded casting of the folder with its corrections, read again whenever its files have changed."""

from __future__ import annotations

import json
import threading
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, Final

from bubblegrade.bench.folder import BenchFolder
from bubblegrade.corrected.changes import Change, Redone, Step, Undone, check_change, check_name
from bubblegrade.corrected.finds import Find
from bubblegrade.corrected.history import holding, to_redo, to_undo
from bubblegrade.corrected.numbers import Basis, Corrected, applied
from bubblegrade.errors import InputError
from bubblegrade.grading_run import Casting
from bubblegrade.photo.lens import Lens
from bubblegrade.photo.on_card import OnCard
from bubblegrade.results.casting_reading import read_casting
from bubblegrade.results.corrected_table import CORRECTED_FILE, corrected_csv
from bubblegrade.results.corrections import (
    CORRECTIONS_FILE,
    CORRECTIONS_FILES,
    OtherFindsError,
    add_step,
    read_corrections,
)
from bubblegrade.results.folder import RUN_FILE
from bubblegrade.results.lock import Lock
from bubblegrade.results.swap import Swap
from bubblegrade.results.whole import unwritable, write_whole
from bubblegrade.runs.log_folder import photo_of
from bubblegrade.units import count_of

ASKED: Final = ("version", "request", "settings")  # of run.json
State = tuple[tuple[int, int], ...]  # time of change in ns and bytes of the files that a casting is read from


class ChangedMeanwhileError(InputError):
    """The casting was corrected on another page since this one was loaded."""


@dataclass(frozen=True, eq=False)
class Kept:
    """A graded casting, the steps taken on it, and what it is after them."""

    graded: Casting
    basis: Basis
    steps: tuple[Step, ...]
    corrected: Corrected
    asked: Mapping[str, Any]  # what it was graded for and with, as run.json tells it: version, request, settings
    aside: str = ""  # what to say of corrections that are about other finds; empty where there are none

    @property
    def card(self) -> OnCard | None:
        """What was said of the scale card that it is squared to, and of the camera over it; None without one."""
        said = self.asked["request"]["card"]
        if said is None:
            return None
        lens = said["lens"]
        known = None if lens is None else Lens(**{**lens, "shape_px": tuple(lens["shape_px"])})
        return OnCard(said["printed_mm"], said["camera_height_mm"], known)

    @property
    def is_corrected(self) -> bool:
        """Whether any change holds."""
        return bool(holding(self.steps))

    @property
    def finds(self) -> tuple[Find, ...]:
        """Everything that was found or added."""
        return self.corrected.finds


@dataclass(eq=False)
class Castings:
    """The graded castings of a folder."""

    folder: BenchFolder
    _lock: Any = field(default_factory=threading.Lock)
    _read: dict[str, tuple[State, Kept | None]] = field(default_factory=dict)  # while the files stay as they are

    def of(self, name: str) -> Kept | None:
        """Return a photograph's casting; None where it was not graded.

        Raises
        ------
        InputError
            There is no such photograph, it is another than the one that was graded, or its result or its corrections
            cannot be used.
        """
        place = self.folder.result(name)
        state = _state(self.folder.photograph(name), place / RUN_FILE, *sorted(place.glob(CORRECTIONS_FILES)))
        if name not in self._read or self._read[name][0] != state:
            self._read[name] = state, self._of(name, place)
        return self._read[name][1]

    def _of(self, name: str, place: Path) -> Kept | None:
        """Return a casting as it stands on the disk."""
        try:
            run = json.loads((place / RUN_FILE).read_bytes())
        except FileNotFoundError:
            return None
        except (OSError, ValueError) as error:
            raise InputError(f"{place / RUN_FILE} cannot be read: grade {name} again") from error
        graded, basis = read_casting(run, place=str(place / RUN_FILE))
        if graded.sha256 != photo_of(self.folder.photograph(name)).sha256:
            raise InputError(
                f"{name} is another photograph than the one that was graded under this name: grade it again"
            )
        steps, aside = _steps(place, graded)
        return replace(_kept(graded, basis, steps, {name: run[name] for name in ASKED}), aside=aside)

    def change(self, name: str, did: Change | Undone | Redone, *, who: str, seen: int) -> Kept:
        """Take a step on a casting of which the page has `seen` so many, and return what it is then.

        Raises
        ------
        ChangedMeanwhileError
            Other steps were taken since, or another process is writing to its result.
        InputError
            There is nothing to correct, or the step cannot be taken.
        OutputError
            It cannot be written.
        """
        check_name(who, "who corrects,")
        if self.of(name) is None:
            raise InputError(f"{name} is not graded: grade it before you correct it")
        place = self.folder.result(name)
        with self._lock, _alone(place, name):
            kept = self.of(name)
            assert kept is not None  # noqa: S101 - it was graded, and no run writes there now
            if seen != len(kept.steps):
                raise ChangedMeanwhileError(
                    f"{name} was corrected on another page: it is shown as it is now, after "
                    f"{count_of(len(kept.steps), 'step')}; change it again"
                )
            _check(did, kept)
            step = Step(len(kept.steps) + 1, who, did)
            after = _kept(kept.graded, kept.basis, (*kept.steps, step), kept.asked)
            add_step(place, kept.graded, kept.steps, step)
            _write_table(place, after)
            return after


@contextmanager
def _alone(place: Path, name: str) -> Iterator[None]:
    """Hold the lock of a result: no run and no other bench writes there meanwhile."""
    try:
        lock = Lock.take(Swap(place, RUN_FILE).lock)
    except OSError as error:
        raise unwritable(place, error) from error
    if lock is None:
        raise ChangedMeanwhileError(
            f"{name} is being graded or corrected elsewhere: wait a moment, then change it again"
        )
    try:
        yield
    finally:
        lock.release()


def table_again(place: Path) -> None:
    """Write the corrected table of a casting that was graded again, with those corrections that are about its finds.

    Raises
    ------
    OutputError
        It cannot be written.
    """
    if not (place / CORRECTIONS_FILE).is_file():
        return
    run = json.loads((place / RUN_FILE).read_bytes())
    graded, basis = read_casting(run, place=str(place / RUN_FILE))
    with suppress(InputError):  # they cannot be read, as the page says
        _write_table(place, _kept(graded, basis, _steps(place, graded)[0], run))


def _steps(place: Path, graded: Casting) -> tuple[tuple[Step, ...], str]:
    """Return the steps on a casting, and what to say of those that are about other finds."""
    try:
        return read_corrections(place, graded), ""
    except OtherFindsError as error:
        return (), str(error)


def _state(*files: Path) -> State:
    known = []
    for file in files:
        try:
            stat = file.stat()
        except OSError:
            known.append((0, 0))
        else:
            known.append((stat.st_mtime_ns, stat.st_size))
    return tuple(known)


def _kept(graded: Casting, basis: Basis, steps: Sequence[Step], asked: Mapping[str, Any]) -> Kept:
    return Kept(graded, basis, tuple(steps), applied(graded, holding(steps), basis), asked)


def _check(did: Change | Undone | Redone, kept: Kept) -> None:
    if isinstance(did, Undone | Redone):
        wanted = to_undo(kept.steps) if isinstance(did, Undone) else to_redo(kept.steps)
        if did.of != wanted:
            raise InputError(f"step {did.of} cannot be taken back or forth now: load the page again")
        return
    check_change(did, {find.name for find in kept.finds if not find.gone}, kept.graded.shape_px)


def _write_table(place: Path, kept: Kept) -> None:
    """Write the corrected table beside the automatic one."""
    text = corrected_csv(kept.corrected, kept.graded)
    write_whole(place / CORRECTED_FILE, text.encode("utf-8", errors="backslashreplace"))
