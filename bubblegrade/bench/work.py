"""Grading, one photograph after another in a process of its own: the page stays quick, and any can be cancelled."""

from __future__ import annotations

import multiprocessing
import os
import signal
import threading
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field
from multiprocessing.connection import Connection, wait
from pathlib import Path
from typing import Any, Final

from bubblegrade.errors import BubblegradeError, InputError

WAITING, GRADING, REFUSED = "waiting", "grading", "not graded"
DIED: Final = "the process that graded it was ended by the system, for want of memory perhaps: send a smaller picture"
NICE: Final = 10  # steps by which grading stands back for the page
CANCELLED: Final = "cancelled: grade it again when you like"


@dataclass(frozen=True)
class Job:
    """A photograph to grade."""

    photograph: Path
    result: Path  # folder
    task: Any  # runs.one.Task; what imports it takes long to load


def graded_into(job: Job) -> str:
    """Grade a photograph into its folder as the command does; return why it could not be, or nothing."""
    from bubblegrade.bench.castings import table_again  # noqa: PLC0415
    from bubblegrade.results.folder import ResultFolder  # noqa: PLC0415
    from bubblegrade.runs.inputs import find_sources  # noqa: PLC0415
    from bubblegrade.runs.many import Reports, grade_all  # noqa: PLC0415

    faults: list[str] = []
    try:
        sources = find_sources((job.photograph,), out=job.result)
        with ResultFolder.prepare(job.result, replace=True) as folder:
            grade_all(sources, job.task, folder, Reports(faults.append, lambda _: None))
            if faults:
                raise InputError(faults[0])  # an earlier result stays
            folder.finish()
            table_again(job.result)  # while nobody else can write there
    except BubblegradeError as error:
        return str(error)
    return ""


@dataclass(eq=False)
class Work:
    """The photographs that wait, the one that is being graded, and why others were not."""

    grade: Callable[[Job], str] = graded_into
    _waiting: deque[Job] = field(default_factory=deque)
    _now: Job | None = None
    _cancelled: bool = False  # the one that is being graded
    _faults: dict[str, str] = field(default_factory=dict)
    _finished: int = 0  # since the queue was last empty
    _wake: threading.Condition = field(default_factory=threading.Condition)
    _hands: _Hands | None = None
    _thread: threading.Thread | None = None
    _stopped: bool = False

    def start(self) -> None:
        """Begin to work."""
        self._hands = _Hands(self.grade)
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def stop(self) -> None:
        """End the work; what is not graded waits for another time."""
        with self._wake:
            self._stopped = self._cancelled = True
            self._waiting.clear()
            self._wake.notify_all()
        if self._hands is not None and self._thread is not None:
            self._hands.stop()
            self._thread.join()

    def ask(self, job: Job) -> None:
        """Put a photograph behind those that wait; one that is under way already is not put twice."""
        name = job.photograph.name
        with self._wake:
            if self._now is None and not self._waiting:
                self._finished = 0
            if self._now is None or self._now.photograph.name != name:
                self._waiting = deque(one for one in self._waiting if one.photograph.name != name)
                self._waiting.append(job)
                self._faults.pop(name, None)
            self._wake.notify_all()

    def cancel(self, *names: str) -> None:
        """Take photographs out again, also one that is being graded; an earlier result of them stands."""
        with self._wake:
            now = () if self._now is None else (self._now.photograph.name,)
            left = deque(job for job in self._waiting if job.photograph.name not in names)
            asked = {*now, *(job.photograph.name for job in self._waiting)}
            self._faults |= dict.fromkeys(asked.intersection(names), CANCELLED)
            self._waiting = left
            under_way = bool(set(now).intersection(names))
            self._cancelled |= under_way
        if under_way and self._hands is not None:
            self._hands.stop()

    def state(self, name: str) -> tuple[str, str]:
        """Return where a photograph stands, and why it was not graded; both empty where nothing was asked."""
        with self._wake:
            if self._now is not None and self._now.photograph.name == name:
                return GRADING, ""
            if any(job.photograph.name == name for job in self._waiting):
                return WAITING, ""
            fault = self._faults.get(name, "")
            return (REFUSED, fault) if fault else ("", "")

    @property
    def progress(self) -> tuple[int, int]:
        """How many of how many are done since work was last asked for."""
        with self._wake:
            left = len(self._waiting) + (self._now is not None)
            return self._finished, self._finished + left

    def _run(self) -> None:
        assert self._hands is not None  # noqa: S101 - `start` has made them
        while True:
            with self._wake:
                self._wake.wait_for(lambda: self._stopped or bool(self._waiting))
                if self._stopped:
                    return
                job = self._now = self._waiting.popleft()
                self._cancelled = False
            fault = self._hands.work(job, lambda: not self._cancelled)
            with self._wake:
                self._now = None
                self._finished += 1
                if fault:
                    self._faults.setdefault(job.photograph.name, fault)
                else:
                    self._faults.pop(job.photograph.name, None)  # it was done before it could be cancelled


@dataclass(eq=False)
class _Hands:
    """The process that grades; a new one is started where the last was ended."""

    grade: Callable[[Job], str]
    _process: Any = None
    _line: Connection | None = None

    def work(self, job: Job, wanted: Callable[[], bool]) -> str:
        """Grade a photograph if it is still `wanted` when all is ready, and return why it could not be."""
        if self._process is None:
            self._begin()
        if not wanted():
            return CANCELLED
        line, process = self._line, self._process
        assert line is not None  # noqa: S101 - begun
        try:
            line.send(job)
            wait([line, process.sentinel])
            if line.poll():
                return str(line.recv())
        except (EOFError, OSError):
            pass
        process.join()
        self._process = None
        return f"{job.photograph.name}: {DIED}"

    def stop(self) -> None:
        """End the process at once."""
        if (process := self._process) is not None:
            process.terminate()

    def _begin(self) -> None:
        context = multiprocessing.get_context("spawn")
        self._line, theirs = context.Pipe()
        process = context.Process(target=_serve, args=(theirs, self.grade), daemon=True)
        process.start()
        theirs.close()
        self._process = process  # from here on it can be ended


def _serve(line: Connection, grade: Callable[[Job], str]) -> None:
    """Grade what comes until the other end is gone; Ctrl-C is for who started this."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    if hasattr(os, "nice"):
        os.nice(NICE)
    while True:
        try:
            line.send(grade(line.recv()))
        except (EOFError, OSError):
            return
