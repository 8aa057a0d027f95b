"""Many photographs graded, by several processes where that pays, each written as soon as it is finished.

What was found in them waits on the disk until the tables are written: the memory does not grow with their number.
"""

from __future__ import annotations

from collections.abc import Callable, Generator, Iterator, Sequence
from contextlib import closing, contextmanager
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any

from bubblegrade.errors import InputError, StoppedError
from bubblegrade.grading_run import Casting
from bubblegrade.photo.light import Light
from bubblegrade.results.entry import Entry
from bubblegrade.results.folder import ResultFolder
from bubblegrade.results.journal import Journal
from bubblegrade.results.run import NotGraded, Run, write_run
from bubblegrade.results.spool import Spool, Spooled
from bubblegrade.runs.cluster import Cluster
from bubblegrade.runs.earlier import Asked, Earlier, going_on, reusable
from bubblegrade.runs.inputs import Source, Sources
from bubblegrade.runs.machine import worker_count
from bubblegrade.runs.one import Draw, Graded, Task, bare_light, check_fit, graded, lost, marked
from bubblegrade.runs.workers import worked


@dataclass(frozen=True)
class Reports:
    """Whom to tell while it goes on."""

    fault: Callable[[str], None]  # one line on a photograph that is not graded, in the order of the photographs
    done: Callable[[Source], None]  # a photograph is finished, in any order


@dataclass(frozen=True)
class Outcome:
    """What came of it, in the order of the photographs."""

    castings: Sequence[Casting]  # graded now, read from the disk; what an earlier result held is only in `run`
    run: Run
    told: tuple[Any, ...] = ()  # what drawing each of `castings` has told
    stays: tuple[str, ...] = ()  # marked pictures of photographs that were graded before and are not named now

    @property
    def whole(self) -> bool:
        """Whether everything named was graded."""
        return not self.run.not_graded


def grade_all(
    sources: Sources,
    task: Task,
    folder: ResultFolder,
    reports: Reports,
    *,
    parquet: bool = False,
    cluster: Cluster | None = None,
) -> Outcome:
    """Grade the photographs, write marked pictures and tables into `folder`; return what came of it.

    With a `cluster` they are graded there; with `parquet` the tables are written as Parquet too. A journal is kept
    until the tables are written. Where `folder` is resumed, what stands there is taken over and
    stays. Where nothing could be graded, nothing is written.

    Raises
    ------
    InputError
        The photograph of the bare light cannot be read, or what is resumed was begun otherwise.
    OutputError
        The results cannot be written.
    StoppedError
        A person stops it when a photograph is finished, and the journal keeps what is.
    """
    blank, blank_sha256 = bare_light(task.blank)
    asked = Asked(task.version, task.request, task.settings, blank_sha256)
    spool = Spool.begin(folder.path)
    held = going_on(folder.path, asked, spool) if folder.resuming else None
    kept = () if held is None else held.apart_from(sources.photographs)
    journal = None if folder.replacing else Journal.begin(folder.path, asked.record)
    known, before = () if held is None else (held,), tuple(earlier.entry for earlier in kept)
    run = _Run(task, folder, reports, blank, known, spool, before=before, journal=journal, cluster=cluster)
    with _kept_when_stopped(folder, journal):
        outcome = run.outcome(sources, asked)
        stays = tuple(earlier.marked for earlier in kept)
        pictures = tuple(dict.fromkeys((*stays, *outcome.run.pictures)))
        outcome = replace(outcome, run=replace(outcome.run, pictures=pictures), stays=stays)
        if outcome.run.entries:
            write_run(folder, outcome.run, parquet=parquet)
        if held is not None and outcome.run.entries:
            folder.discard({one.marked for one in held.entries}.difference(pictures))
        if journal is not None:
            journal.end()
    return outcome


@contextmanager
def _kept_when_stopped(folder: ResultFolder, journal: Journal | None) -> Iterator[None]:
    """Let a person stop the run without losing what the journal holds."""
    try:
        yield
    except KeyboardInterrupt as error:
        if journal is None or not folder.written:
            raise
        raise StoppedError(
            f"stopped: what is finished stays in {folder.path}, go on with the same command and --resume"
        ) from error


def grade_each(
    sources: Sources,
    task: Task,
    folder: ResultFolder,
    reports: Reports,
    *,
    earlier: Sequence[Path] = (),
    draw: Draw = marked,
) -> Outcome:
    """Grade the photographs and write their pictures, as `draw` marks them, into `folder`, without any table.

    Those that a result in a folder of `earlier` holds, graded by the same version for the same request with the same
    settings, are taken from there.

    Raises
    ------
    InputError
        The photograph of the bare light cannot be read.
    OutputError
        A picture cannot be written.
    """
    blank, blank_sha256 = bare_light(task.blank)
    asked = Asked(task.version, task.request, task.settings, blank_sha256)
    spool = Spool.begin(folder.path)
    known = [found for place in earlier if (found := reusable(place, asked, spool)) is not None]
    return _Run(task, folder, reports, blank, known, spool, draw).outcome(sources, asked)


@dataclass(frozen=True)
class Taken:
    """A photograph's part as an earlier result has it."""

    entry: Entry
    picture: bytes


Came = Graded | Taken | NotGraded  # what came of a photograph


@dataclass(frozen=True)
class Kept:
    """What the memory keeps of a photograph until the tables are written: where the rest waits."""

    entry: int  # place in the spool
    casting: int | None = None  # likewise; None where it was taken over
    told: Any = None  # by what drew its picture


@dataclass(frozen=True)
class _Run:
    """A run that goes on."""

    task: Task
    folder: ResultFolder
    reports: Reports
    blank: Light | None
    known: Sequence[Earlier]
    spool: Spool
    draw: Draw = marked
    before: tuple[int, ...] = ()  # places of what stands in front, from an earlier result
    journal: Journal | None = None
    cluster: Cluster | None = None

    def outcome(self, sources: Sources, asked: Asked) -> Outcome:
        """Grade the photographs and write their pictures."""
        for fault in sources.faults:
            self.reports.fault(fault.reason)
        came = self._came(sources.photographs)
        kept = [one for one in came if isinstance(one, Kept)]
        graded_now = [(one.casting, one.told) for one in kept if one.casting is not None]
        run = Run(
            version=asked.version,
            request=asked.request,
            settings=asked.settings,
            blank_sha256=asked.blank_sha256,
            entries=Spooled(self.spool, (*self.before, *(one.entry for one in kept))),
            not_graded=(*sources.faults, *(one for one in came if isinstance(one, NotGraded))),
            pictures=self.folder.written,
        )
        castings: Spooled[Casting] = Spooled(self.spool, tuple(place for place, _ in graded_now))
        return Outcome(castings, run, tuple(told for _, told in graded_now))

    def _came(self, photographs: Sequence[Source]) -> list[Kept | NotGraded]:
        """Return what came of each photograph, in their order; each is written and told as soon as that can be."""
        came: dict[int, Kept | NotGraded] = {}
        told = 0
        with closing(self._finished(photographs)) as finished:
            for place, one in finished:
                came[place] = self._written(photographs[place], one)
                self.reports.done(photographs[place])
                while told in came:
                    if isinstance(fault := came[told], NotGraded):
                        self.reports.fault(fault.reason)
                    told += 1
        return [came[place] for place in range(len(photographs))]

    def _finished(self, photographs: Sequence[Source]) -> Generator[tuple[int, Came], None, None]:
        """Yield the place of each photograph and what came of it: first those taken over, then those graded."""
        anew = []
        for place, source in enumerate(photographs):
            taken = taken_over(source, self.task, self.known)
            if taken is None:
                anew.append(place)
            else:
                yield place, taken
        with closing(self._graded([photographs[place] for place in anew])) as results:
            for place, one in results:
                yield anew[place], one

    def _graded(self, sources: Sequence[Source]) -> Generator[tuple[int, Graded | NotGraded], None, None]:
        """Grade photographs on the cluster, or by as many processes as this machine carries."""
        if self.cluster is not None:
            return self.cluster.graded(sources, self.task, self.draw)
        jobs = worker_count([source.path for source in sources], self.task.jobs)
        work = partial(graded, task=self.task, blank=self.blank, draw=self.draw)
        return worked(work, sources, jobs=jobs, lost=lost)

    def _written(self, source: Source, one: Came) -> Kept | NotGraded:
        """Write the picture of a photograph and put its part aside; return what the memory keeps of it."""
        if isinstance(one, NotGraded):
            return one
        if isinstance(one, Taken):
            self.folder.write_bytes(source.marked, one.picture)
            return Kept(self.spool.put(one.entry))
        if self.journal is not None:
            self.journal.enter(one.entry, source.marked, one.picture.jpeg)
        self.folder.write_bytes(source.marked, one.picture.jpeg)
        return Kept(self.spool.put(one.entry), self.spool.put(one.casting), one.picture.told)


def taken_over(source: Source, task: Task, known: Sequence[Earlier]) -> Taken | NotGraded | None:
    """Return a photograph's part as an earlier result has it, with its marked picture; None where none has."""
    for earlier in known:
        found = earlier.find(source.path, source.marked)
        if found is None:
            continue
        entry, picture = found
        try:
            check_fit(source, task, entry.record["unfit"])
        except InputError as error:
            return NotGraded(source.name, str(error))
        return Taken(entry.renamed(source.name), picture)
    return None
