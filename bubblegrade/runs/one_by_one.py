"""Photographs graded one after the other, so that the memory holds one at a time, each written before the next."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

import cv2

from bubblegrade.errors import InputError, PhotoError
from bubblegrade.grading_run import Casting, Request, grade
from bubblegrade.photo.light import Codes, Light, grey_light
from bubblegrade.photo.on_card import square_view
from bubblegrade.photo.on_disc import beside_disc
from bubblegrade.photo.reading import Photo, read_photo
from bubblegrade.photo.scale import Scale, SpanPx
from bubblegrade.results.entry import Entry, entry_of
from bubblegrade.results.folder import ResultFolder
from bubblegrade.results.run import NotGraded, Run, write_run
from bubblegrade.runs.earlier import Earlier, reusable
from bubblegrade.runs.inputs import Source, Sources
from bubblegrade.settings import Settings
from bubblegrade.show.marked import marked_jpeg

SQUARED: Final = "places are those of the photograph squared to the scale card"


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

    castings: tuple[Casting, ...]  # graded now; what an earlier result held is only in `run`
    run: Run

    @property
    def whole(self) -> bool:
        """Whether everything named was graded."""
        return not self.run.not_graded


def grade_all(sources: Sources, task: Task, folder: ResultFolder, reports: Reports) -> tuple[Outcome, str]:
    """Grade the photographs, write marked pictures and tables into `folder`; return what came of it, and run.json.

    Where nothing could be graded, nothing is written, and run.json is empty.

    Raises
    ------
    InputError
        The photograph of the bare light cannot be read.
    OutputError
        The results cannot be written.
    """
    outcome = grade_each(sources, task, folder, reports)
    return outcome, write_run(folder, outcome.run) if outcome.castings else ""


def grade_each(
    sources: Sources, task: Task, folder: ResultFolder, reports: Reports, *, earlier: Sequence[Path] = ()
) -> Outcome:
    """Grade the photographs and write their marked pictures into `folder`, without any table.

    Those that a result in a folder of `earlier` holds, graded by the same version for the same request with the same
    settings, are taken from there.

    Raises
    ------
    InputError
        The photograph of the bare light cannot be read.
    OutputError
        A picture cannot be written.
    """
    blank, blank_sha256 = _bare_light(task.blank)
    asked = (task.version, task.request, task.settings, blank_sha256)
    known = [found for place in earlier if (found := reusable(place, *asked)) is not None]
    castings: list[Casting] = []
    entries: list[Entry] = []
    not_graded = list(sources.faults)
    for fault in sources.faults:
        reports.fault(fault.reason)
    for source in sources.photographs:
        try:
            entry = _taken_over(source, task, known, folder)
            if entry is None:
                castings.append(_graded(source, task, blank, folder))
                entry = entry_of(castings[-1])
            entries.append(entry)
        except InputError as error:
            reports.fault(str(error))
            not_graded.append(NotGraded(source.name, str(error)))
        reports.done(source)
    run = Run(
        version=task.version,
        request=task.request,
        settings=task.settings,
        blank_sha256=blank_sha256,
        entries=tuple(entries),
        not_graded=tuple(not_graded),
        pictures=folder.written,
    )
    return Outcome(tuple(castings), run)


def _bare_light(path: Path | None) -> tuple[Light | None, str | None]:
    """Return the light of the photograph of the bare backlight and the hash of its file."""
    if path is None:
        return None, None
    photo = read_photo(path)
    return grey_light(photo.codes, photo.tone), photo.sha256


def _taken_over(source: Source, task: Task, known: Sequence[Earlier], folder: ResultFolder) -> Entry | None:
    """Return a photograph's part as an earlier result has it, with its marked picture; None where none has."""
    for earlier in known:
        found = earlier.find(source.path)
        if found is None:
            continue
        entry, marked = found
        _check_fit(source, task, entry.record["unfit"])
        folder.write_bytes(source.marked, marked)
        return entry.renamed(source.name)
    return None


@dataclass(frozen=True, eq=False)
class _View:
    """A photograph made ready to grade."""

    photo: Photo
    shown: Codes  # what the marks are drawn on
    scale: Scale | None = None  # measured from what lies on the light
    span_px: SpanPx | None = None
    remarks: tuple[str, ...] = ()


def _read(path: Path, name: str, task: Task) -> _View:
    """Return a photograph, squared where it shows the scale card, the disc beside the casting covered."""
    photo, request, index = read_photo(path, name=name), task.request, task.settings.index
    if request.card is not None:
        square, scale = square_view(photo, request.card, thickness_mm=request.thickness_mm, index=index)
        return _View(square, square.codes, scale, remarks=(SQUARED,))
    if request.disc is not None:
        alone, scale, span_px = beside_disc(photo, request.disc, thickness_mm=request.thickness_mm, index=index)
        return _View(alone, photo.codes, scale, span_px)
    return _View(photo, photo.codes)


def _graded(source: Source, task: Task, blank: Light | None, folder: ResultFolder) -> Casting:
    """Grade one photograph and write its marked picture."""
    try:
        view = _read(source.path, source.name, task)
        again = None if task.again is None else _read(task.again, str(task.again), task).photo
        casting = grade(
            view.photo, task.request, task.settings, blank=blank, again=again, scale=view.scale, span_px=view.span_px
        )
        casting = replace(casting, warnings=(*casting.warnings, *view.remarks))
    except (MemoryError, cv2.error) as error:
        if isinstance(error, cv2.error) and error.code != cv2.Error.StsNoMem:
            raise
        raise PhotoError(f"{source.name} needs more memory than there is: send a smaller picture") from error
    except PhotoError:
        raise
    except InputError as error:
        raise PhotoError(f"{source.name}: {error}") from error
    _check_fit(source, task, casting.unfit)
    folder.write_bytes(source.marked, marked_jpeg(view.shown, casting))
    return casting


def _check_fit(source: Source, task: Task, unfit: Sequence[str]) -> None:
    """Refuse what is not fit to measure, where that was asked for."""
    if task.strict and unfit:
        raise PhotoError(f"{source.name} is unfit and --strict refuses it: {'; '.join(unfit)}")
