"""Photographs graded as a camera brings them into a folder; the tables are written anew after each."""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path, PurePosixPath
from typing import Final

from bubblegrade.grading_run import Casting
from bubblegrade.photo.light import Light
from bubblegrade.photo.reading import is_picture
from bubblegrade.results.folder import ResultFolder
from bubblegrade.results.journal import JOURNAL_FILE, Journal
from bubblegrade.results.run import NotGraded, Run, write_run
from bubblegrade.results.spool import Spool, Spooled
from bubblegrade.runs.earlier import Asked, Earlier, Held, going_on
from bubblegrade.runs.inputs import Source, marked_name, printable
from bubblegrade.runs.many import Outcome, Taken, taken_over
from bubblegrade.runs.one import Graded, Task, bare_light, graded

POLL_S: Final = 0.3  # between two looks into the folder
STEADY: Final = 2  # looks in a row at which a file has not changed, and is taken for whole

Stamp = tuple[int, int]  # a file's size in bytes, above 0, and when it was last written to


@dataclass(frozen=True)
class Post:
    """How the folder is looked into, and whom to tell."""

    look: Callable[[], Mapping[Path, Stamp]]
    wait: Callable[[], None]  # until the next look; KeyboardInterrupt, here or elsewhere, ends the watch
    fault: Callable[[str], None]  # one line on a photograph that is not graded
    graded: Callable[[Casting], None]


@dataclass
class Arrivals:
    """Tells which files have arrived whole."""

    _steady: dict[Path, tuple[Stamp, int]] = field(default_factory=dict)

    def whole(self, now: Mapping[Path, Stamp]) -> list[Path]:
        """Return the files that have not changed for STEADY looks, each once until it changes again."""
        self._steady = {path: (stamp, self._looks(path, stamp)) for path, stamp in now.items()}
        return [path for path, (_, looks) in self._steady.items() if looks == STEADY]

    def _looks(self, path: Path, stamp: Stamp) -> int:
        before, looks = self._steady.get(path, (None, 0))
        return looks + 1 if before == stamp else 0


def listed(folder: Path) -> dict[Path, Stamp]:
    """Return the pictures below `folder`, sorted, hidden ones and empty ones passed over."""
    found: dict[Path, Stamp] = {}
    for place, inner, files in os.walk(folder):
        inner[:] = [name for name in inner if not name.startswith(".")]
        for path in (Path(place, name) for name in files if not name.startswith(".")):
            if is_picture(path) and (stamp := _stamp(path)) is not None:
                found[path] = stamp
    return dict(sorted(found.items()))


def wait() -> None:
    """Wait until the next look."""
    time.sleep(POLL_S)


def watch(photographs: Path, task: Task, folder: ResultFolder, post: Post) -> Outcome:
    """Grade the photographs in a folder and those that come, until Ctrl-C; return what came of it.

    What `folder` holds of an earlier result is taken over. The tables are those that grading the folder at once gives.

    Raises
    ------
    InputError
        The photograph of the bare light cannot be read, or what `folder` holds was graded otherwise.
    OutputError
        The results cannot be written.
    """
    blank, blank_sha256 = bare_light(task.blank)
    asked = Asked(task.version, task.request, task.settings, blank_sha256)
    spool = Spool.begin(folder.path)
    held = going_on(folder.path, asked, spool) or Earlier(folder.path, (), spool)
    watched, arrivals = _Watched(photographs, task, asked, folder, post, blank, held), Arrivals()
    try:
        while True:
            there = watched.foreign(post.look())
            for path in arrivals.whole(there):
                watched.take(path, there)
            post.wait()
    except KeyboardInterrupt:
        watched.write()
        return watched.outcome()


@dataclass(frozen=True)
class _Came:
    """What the memory keeps of a photograph that came: where the rest waits."""

    sha256: str
    entry: int  # place in the spool
    casting: int | None  # likewise; None where it was taken over


@dataclass(frozen=True)
class _Watched:
    """What has come so far."""

    photographs: Path
    task: Task
    asked: Asked
    folder: ResultFolder
    post: Post
    blank: Light | None
    held: Earlier
    _came: dict[Path, _Came | NotGraded] = field(default_factory=dict)

    def foreign(self, there: Mapping[Path, Stamp]) -> dict[Path, Stamp]:
        """Return the files that are not our own marked pictures."""
        own = {os.path.realpath(self.folder.path / name) for name in self._pictures()}
        return {path: stamp for path, stamp in there.items() if os.path.realpath(path) not in own}

    def take(self, path: Path, there: Mapping[Path, Stamp]) -> None:
        """Grade a photograph that has arrived and write the tables anew."""
        source = self._source(path)
        one = (
            self._clash(source, there)
            or taken_over(source, self.task, (self.held,))
            or graded(source, self.task, self.blank)
        )
        if isinstance(one, NotGraded):
            self._came[path] = one
            self.post.fault(one.reason)
        else:
            picture = one.picture.jpeg if isinstance(one, Graded) else one.picture
            self.folder.write_bytes(source.marked, picture)
            self._came[path] = self._put_aside(one)
            self._forget_renamed(path, there)
        if isinstance(one, Graded):
            self.post.graded(one.casting)
        self.write()

    def outcome(self) -> Outcome:
        """Return what came of it so far."""
        places = (one.casting for one in self._in_order() if isinstance(one, _Came))
        return Outcome(Spooled(self.held.spool, tuple(place for place in places if place is not None)), self._run())

    def write(self) -> None:
        """Write the tables; nothing where nothing was graded."""
        run = self._run()
        if run.entries:
            write_run(self.folder, run)
            Journal(self.folder.path / JOURNAL_FILE).end()

    def _put_aside(self, one: Graded | Taken) -> _Came:
        """Put a photograph's part aside and return what the memory keeps of it."""
        casting = self.held.spool.put(one.casting) if isinstance(one, Graded) else None
        return _Came(one.entry.record["sha256"], self.held.spool.put(one.entry), casting)

    def _in_order(self) -> list[_Came | NotGraded]:
        return [self._came[path] for path in sorted(self._came)]

    def _run(self) -> Run:
        came = self._in_order()
        kept = [held.entry for held in self._kept()]
        return Run(
            version=self.asked.version,
            request=self.asked.request,
            settings=self.asked.settings,
            blank_sha256=self.asked.blank_sha256,
            entries=Spooled(self.held.spool, (*kept, *(one.entry for one in came if isinstance(one, _Came)))),
            not_graded=tuple(one for one in came if isinstance(one, NotGraded)),
            pictures=self._pictures(),
        )

    def _kept(self) -> list[Held]:
        """Return what the earlier result holds of photographs that have not come."""
        came = {_sha256(one) for one in self._came.values()}
        return [held for held in self.held.entries if held.sha256 not in came]

    def _pictures(self) -> tuple[str, ...]:
        came = [self._source(path).marked for path, one in self._came.items() if isinstance(one, _Came)]
        return (*(held.marked for held in self._kept()), *came)

    def _source(self, path: Path) -> Source:
        below = str(PurePosixPath(path.relative_to(self.photographs).as_posix()))
        return Source(path, printable(below), marked_name(below))

    def _clash(self, source: Source, there: Mapping[Path, Stamp]) -> NotGraded | None:
        """Refuse a photograph whose marked picture would be that of another, or another photograph."""
        others = {
            self._source(path).marked: self._source(path).name
            for path, one in self._came.items()
            if path != source.path and path in there and isinstance(one, _Came)
        }
        taken = others.get(source.marked)
        if taken is None:
            return None
        return NotGraded(
            source.name, f"{taken} and {source.name} would both give {printable(source.marked)}: rename one of them"
        )

    def _forget_renamed(self, path: Path, there: Mapping[Path, Stamp]) -> None:
        """Drop the same photograph under a name that is gone."""
        sha256 = _sha256(self._came[path])
        for other in [other for other, one in self._came.items() if other not in there and _sha256(one) == sha256]:
            del self._came[other]
            self.folder.discard([self._source(other).marked])


def _sha256(one: _Came | NotGraded) -> str | None:
    return one.sha256 if isinstance(one, _Came) else None


def _stamp(path: Path) -> Stamp | None:
    """Return a file's stamp; None while it is empty, and where it has just been renamed or removed."""
    try:
        about = path.stat()
    except OSError:
        return None
    return (about.st_size, about.st_mtime_ns) if about.st_size else None
