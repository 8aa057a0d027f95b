"""Photographs graded as a camera brings them into a folder.

Each is a line in the journal before it is told of, and the tables are written when the camera pauses: what a photograph
takes does not grow with their number. Where the camera goes on while tables are written, they wait for its next pause.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path, PurePosixPath

from bubblegrade.grading_run import Casting
from bubblegrade.photo.light import Light
from bubblegrade.photo.reading import is_unread_picture
from bubblegrade.results.folder import ResultFolder
from bubblegrade.results.journal import JOURNAL_FILE, Journal
from bubblegrade.results.run import NotGraded, Run, write_run
from bubblegrade.results.spool import Spool, Spooled
from bubblegrade.runs.earlier import Asked, Earlier, Held, going_on
from bubblegrade.runs.former import Former
from bubblegrade.runs.inputs import MARKED, Source, marked_name, not_read, without_copies
from bubblegrade.runs.looks import Arrivals, Stamp, stamp_of
from bubblegrade.runs.many import Outcome, Taken, taken_over
from bubblegrade.runs.one import Graded, Task, bare_light, graded
from bubblegrade.show.printable import printable


@dataclass(frozen=True)
class Post:
    """How the folder is looked into, and whom to tell."""

    look: Callable[[], Mapping[Path, Stamp]]
    wait: Callable[[], None]  # until the next look; KeyboardInterrupt, here or elsewhere, ends the watch
    due: Callable[[], bool]  # whether it is time for a look, asked while tables are written
    fault: Callable[[str], None]  # one line on a photograph that is not graded
    graded: Callable[[Casting], None]


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
    former = Former(photographs, folder.path)
    watched, arrivals = _Watched(photographs, task, asked, folder, post, blank, held, former), Arrivals()
    try:
        while True:
            there = watched.look()
            for path in arrivals.whole(there):
                if not watched.take(path, there, sure=arrivals.sure(path)):
                    arrivals.doubt(path)
            if arrivals.pause:
                watched.write_in_pause(there)
            post.wait()
    except KeyboardInterrupt:
        watched.tell_unsaid()
        watched.write()
        return watched.outcome()


class _GoesOnError(Exception):
    """The camera goes on while tables are written."""


@dataclass(frozen=True)
class _Came:
    """What the memory keeps of a photograph that came: where the rest waits."""

    marked: str  # its marked picture
    sha256: str
    entry: int  # place in the spool
    casting: int | None  # likewise; None where it was taken over


@dataclass
class _Watched:
    """What has come so far."""

    photographs: Path
    task: Task
    asked: Asked
    folder: ResultFolder
    post: Post
    blank: Light | None
    held: Earlier
    former: Former
    _came: dict[Path, _Came | NotGraded] = field(default_factory=dict)
    _unsaid: dict[Path, NotGraded] = field(default_factory=dict)  # faults of what may not have arrived
    _journal: Journal | None = None  # of what the tables do not hold yet
    _written: bool = False  # whether the tables hold all
    _gone: bool = False  # whether the folder was not there at the last look

    def look(self) -> Mapping[Path, Stamp]:
        """Return the photographs that are there now; that their folder is gone is said once."""
        there = self.post.look()
        gone = not there and not self.photographs.is_dir()
        if gone and not self._gone:
            place = printable(str(self.photographs))
            self.post.fault(f"{place} is gone: bring it back and the watch goes on, or end it with Ctrl-C")
        self._gone = gone
        return self.foreign(there)

    def foreign(self, there: Mapping[Path, Stamp]) -> Mapping[Path, Stamp]:
        """Return the files that are no pictures of ours, nor of an earlier result below the folder, nor copies."""
        there = {path: there[path] for path in without_copies(there)}
        former = self.former.among(there)
        names = {os.path.basename(picture) for picture in former}
        like_ours = {path for path in there if path.name.endswith(MARKED) or path.name in names}
        if not like_ours:
            return there
        own = former.union(os.path.realpath(self.folder.path / name) for name in self._pictures())
        ours = {path for path in like_ours if os.path.realpath(path) in own}
        return {path: stamp for path, stamp in there.items() if path not in ours}

    def take(self, path: Path, there: Mapping[Path, Stamp], *, sure: bool) -> bool:
        """Grade a photograph, and tell whether it had arrived; only of one that is `sure` to have is a fault said.

        Its line in the journal and its picture stand before it is told of.
        """
        if self._stands(path):
            return True
        source = self._source(path)
        one = self._found(source, there)
        self._unsaid.pop(path, None)
        if _goes_on(path, there[path]):
            return False
        if isinstance(one, NotGraded):
            self._unsaid[path] = one
            if sure:
                self.tell_unsaid(path)
            return sure
        self._written = False
        if isinstance(one, Graded):
            self._begun_journal().enter(one.entry, source.marked, one.picture.jpeg)
        self.folder.write_bytes(source.marked, one.picture.jpeg if isinstance(one, Graded) else one.picture)
        self._came[path] = self._put_aside(source, one)
        self._forget_renamed(path, there)
        if isinstance(one, Graded):
            self.post.graded(one.casting)
        return True

    def tell_unsaid(self, *paths: Path) -> None:
        """Tell the faults of these photographs, or of all that are there and have not been told of."""
        for path in paths or [path for path in self._unsaid if stamp_of(path) is not None]:
            self._came[path] = one = self._unsaid.pop(path)
            self._written = False
            self.post.fault(one.reason)

    def _stands(self, path: Path) -> bool:
        """Tell whether a file is graded with the same bytes, as in a folder that was gone for a while."""
        one = self._came.get(path)
        return isinstance(one, _Came) and one.sha256 == self.held.hash_of(path)

    def _found(self, source: Source, there: Mapping[Path, Stamp]) -> Graded | Taken | NotGraded:
        """Return what is found in a picture that has arrived, or why it is not graded."""
        if is_unread_picture(source.path):
            return not_read(source.name)
        clash, earlier = self._clash(source, there), (self.held,)
        return clash or taken_over(source, self.task, earlier) or graded(source, self.task, self.blank)

    def outcome(self) -> Outcome:
        """Return what came of it so far."""
        places = (one.casting for one in self._in_order() if isinstance(one, _Came))
        return Outcome(Spooled(self.held.spool, tuple(place for place in places if place is not None)), self._run())

    def write(self, heed: Callable[[], None] | None = None) -> None:
        """Write the tables, where they do not hold all; nothing where nothing was graded."""
        if self._written:
            return
        run = self._run(heed)
        if run.entries:
            write_run(self.folder, run)
            Journal(self.folder.path / JOURNAL_FILE).end()
            self._journal, self._written = None, True

    def write_in_pause(self, there: Mapping[Path, Stamp]) -> None:
        """Write the tables as long as nothing else is in the folder than at the last look."""

        def heed() -> None:
            if self.post.due() and self.look() != there:
                raise _GoesOnError

        with suppress(_GoesOnError):
            self.write(heed)

    def _begun_journal(self) -> Journal:
        """Return the journal, which goes on with one that was cut short."""
        if self._journal is None:
            self._journal = Journal.begin(self.folder.path, self.asked.record)
        return self._journal

    def _put_aside(self, source: Source, one: Graded | Taken) -> _Came:
        """Put a photograph's part aside and return what the memory keeps of it."""
        casting = self.held.spool.put(one.casting) if isinstance(one, Graded) else None
        return _Came(source.marked, one.entry.record["sha256"], self.held.spool.put(one.entry), casting)

    def _in_order(self) -> list[_Came | NotGraded]:
        return [self._came[path] for path in sorted(without_copies(self._came))]

    def _run(self, heed: Callable[[], None] | None = None) -> Run:
        came = self._in_order()
        kept = [held.entry for held in self._kept()]
        return Run(
            version=self.asked.version,
            request=self.asked.request,
            settings=self.asked.settings,
            blank_sha256=self.asked.blank_sha256,
            entries=Spooled(self.held.spool, (*kept, *(one.entry for one in came if isinstance(one, _Came))), heed),
            not_graded=tuple(one for one in came if isinstance(one, NotGraded)),
            pictures=self._pictures(),
        )

    def _kept(self) -> list[Held]:
        """Return what the earlier result holds of photographs that have not come, and whose place none has taken."""
        came = [one for one in self._came.values() if isinstance(one, _Came)]
        hashes, pictures = {one.sha256 for one in came}, {one.marked for one in came}
        return [held for held in self.held.entries if held.sha256 not in hashes and held.marked not in pictures]

    def _pictures(self) -> tuple[str, ...]:
        came = [one.marked for one in self._came.values() if isinstance(one, _Came)]
        return (*(held.marked for held in self._kept()), *came)

    def _source(self, path: Path) -> Source:
        below = str(PurePosixPath(path.relative_to(self.photographs).as_posix()))
        return Source(path, printable(below), marked_name(below))

    def _clash(self, source: Source, there: Mapping[Path, Stamp]) -> NotGraded | None:
        """Refuse a photograph whose marked picture would be that of another, or another photograph."""
        for path, one in self._came.items():
            same = isinstance(one, _Came) and one.marked == source.marked
            if same and path != source.path and path in there:
                both = f"{self._source(path).name} and {source.name}"
                return NotGraded(source.name, f"{both} would both give {printable(source.marked)}: rename one of them")
        before = next((held for held in self._kept() if held.marked == source.marked), None)
        if before is not None and before.sha256 not in {self.held.hash_of(each) for each in (source.path, *there)}:
            return NotGraded(source.name, self.held.taken_name(source))
        return None

    def _forget_renamed(self, path: Path, there: Mapping[Path, Stamp]) -> None:
        """Drop the same photograph under a name that is gone."""
        sha256 = _sha256(self._came[path])
        for other in [other for other, one in self._came.items() if _sha256(one) == sha256 and other not in there]:
            del self._came[other]
            self.folder.discard([self._source(other).marked])


def _goes_on(path: Path, seen: Stamp) -> bool:
    """Tell whether a file has been written to since it was seen; one that is gone meanwhile was whole."""
    return stamp_of(path) not in {seen, None}


def _sha256(one: _Came | NotGraded) -> str | None:
    return one.sha256 if isinstance(one, _Came) else None
