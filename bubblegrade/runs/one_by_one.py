"""Photographs graded one after the other, so that the memory holds one at a time, each written before the next."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import cv2

from bubblegrade.errors import InputError, PhotoError
from bubblegrade.grading_run import Casting, Request, grade
from bubblegrade.photo.light import Light, grey_light
from bubblegrade.photo.reading import read_photo
from bubblegrade.results.folder import ResultFolder
from bubblegrade.results.run import NotGraded, Run, write_run
from bubblegrade.runs.inputs import Source, Sources
from bubblegrade.settings import Settings
from bubblegrade.show.marked import marked_jpeg


@dataclass(frozen=True)
class Task:
    """What to do with every photograph."""

    version: str
    request: Request
    settings: Settings
    blank: Path | None = None  # photograph of the bare light
    again: Path | None = None  # second photograph of the one casting, wiped and turned
    strict: bool = False  # refuse what is unfit


@dataclass(frozen=True)
class Reports:
    """Whom to tell while it goes on."""

    fault: Callable[[str], None]  # one line on a photograph that is not graded
    done: Callable[[Source], None]


@dataclass(frozen=True)
class Outcome:
    """What came of it."""

    castings: tuple[Casting, ...]
    not_graded: tuple[NotGraded, ...]
    run_json: str

    @property
    def whole(self) -> bool:
        """Whether everything named was graded."""
        return not self.not_graded


def grade_all(sources: Sources, task: Task, folder: ResultFolder, reports: Reports) -> Outcome:
    """Grade the photographs, write marked pictures and tables into `folder`, and return what came of it.

    Where nothing could be graded, nothing is written.

    Raises
    ------
    InputError
        The photograph of the bare light cannot be read.
    OutputError
        The results cannot be written.
    """
    blank, blank_sha256 = _bare_light(task.blank)
    castings: list[Casting] = []
    not_graded = list(sources.faults)
    for fault in sources.faults:
        reports.fault(fault.reason)
    for source in sources.photographs:
        try:
            castings.append(_graded(source, task, blank, folder))
        except InputError as error:
            reports.fault(str(error))
            not_graded.append(NotGraded(source.name, str(error)))
        reports.done(source)
    if not castings:
        return Outcome((), tuple(not_graded), "")
    run = Run(
        version=task.version,
        request=task.request,
        settings=task.settings,
        blank_sha256=blank_sha256,
        castings=tuple(castings),
        not_graded=tuple(not_graded),
        pictures=folder.written,
    )
    return Outcome(run.castings, run.not_graded, write_run(folder, run))


def _bare_light(path: Path | None) -> tuple[Light | None, str | None]:
    """Return the light of the photograph of the bare backlight and the hash of its file."""
    if path is None:
        return None, None
    photo = read_photo(path)
    return grey_light(photo.codes), photo.sha256


def _graded(source: Source, task: Task, blank: Light | None, folder: ResultFolder) -> Casting:
    """Grade one photograph and write its marked picture."""
    try:
        photo = read_photo(source.path, name=source.name)
        again = None if task.again is None else read_photo(task.again)
        casting = grade(photo, task.request, task.settings, blank=blank, again=again)
    except (MemoryError, cv2.error) as error:
        if isinstance(error, cv2.error) and error.code != cv2.Error.StsNoMem:
            raise
        raise PhotoError(f"{source.name} needs more memory than there is: send a smaller picture") from error
    except PhotoError:
        raise
    except InputError as error:
        raise PhotoError(f"{source.name}: {error}") from error
    if task.strict and casting.unfit:
        raise PhotoError(f"{source.name} is unfit and --strict refuses it: {'; '.join(casting.unfit)}")
    folder.write_bytes(source.marked, marked_jpeg(photo.codes, casting))
    return casting
