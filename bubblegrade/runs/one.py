"""One photograph graded from its file: read, made ready, graded and its picture drawn, here or in a worker."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

import cv2
from threadpoolctl import threadpool_limits

from bubblegrade.casting.flattened import bare_light_of
from bubblegrade.errors import InputError, PhotoError
from bubblegrade.grading_run import Casting, Request, grade
from bubblegrade.photo.light import Codes, Light
from bubblegrade.photo.on_card import square_view
from bubblegrade.photo.on_disc import beside_disc
from bubblegrade.photo.reading import Photo, read_photo
from bubblegrade.photo.scale import Scale, SpanPx
from bubblegrade.results.entry import Entry, entry_of
from bubblegrade.results.run import NotGraded
from bubblegrade.runs.inputs import Source
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
    jobs: int | None = None  # processes at once, as far as the memory goes; None: as many as there are cores


@dataclass(frozen=True, eq=False)
class Ready:
    """A photograph made ready to grade."""

    photo: Photo
    shown: Codes  # what the marks are drawn on, in sRGB
    scale: Scale | None = None  # measured from what lies on the light
    span_px: SpanPx | None = None
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class Picture:
    """What is drawn of a graded photograph."""

    jpeg: bytes
    told: Any = None  # what else the drawing hand found, for who sent it


Draw = Callable[[Codes, Casting], Picture]  # a photograph and what was found in it; goes to workers, and so is pickled


@dataclass(frozen=True, eq=False)
class Graded:
    """A photograph that was graded."""

    casting: Casting
    entry: Entry
    picture: Picture


def marked(codes: Codes, casting: Casting) -> Picture:
    """Draw the marked picture."""
    return Picture(marked_jpeg(codes, casting))


def bare_light(path: Path | None) -> tuple[Light | None, str | None]:
    """Return the light of the photograph of the bare backlight and the hash of its file.

    Raises
    ------
    PhotoError
        It cannot be read, or shows no bare light.
    """
    if path is None:
        return None, None
    photo = read_photo(path)
    return bare_light_of(photo), photo.sha256


def made_ready(path: Path, name: str, task: Task) -> Ready:
    """Return a photograph, squared where it shows the scale card, the disc beside the casting covered."""
    photo, request, index = read_photo(path, name=name), task.request, task.settings.index
    if request.card is not None:
        square, scale = square_view(photo, request.card, thickness_mm=request.thickness_mm, index=index)
        return Ready(square, square.shown, scale, remarks=(SQUARED,))
    if request.disc is not None:
        alone, scale, span_px = beside_disc(photo, request.disc, thickness_mm=request.thickness_mm, index=index)
        return Ready(alone, photo.shown, scale, span_px)
    return Ready(photo, photo.shown)


def graded(source: Source, task: Task, blank: Light | None, draw: Draw = marked) -> Graded | NotGraded:
    """Grade one photograph and draw its picture; what a user can mend about it is an answer too."""
    try:
        # Linear algebra adds up in another order with another number of threads: last digits would hang on the machine.
        with threadpool_limits(1, user_api="blas"):
            view, casting = _measured(source, task, blank)
            check_fit(source, task, casting.unfit)
            return Graded(casting, entry_of(casting), draw(view.shown, casting))
    except (MemoryError, cv2.error) as error:
        if isinstance(error, cv2.error) and error.code != cv2.Error.StsNoMem:
            raise
        return NotGraded(source.name, f"{source.name} needs more memory than there is: send a smaller picture")
    except PhotoError as error:
        return NotGraded(source.name, str(error))
    except InputError as error:
        return NotGraded(source.name, f"{source.name}: {error}")


def lost(source: Source) -> NotGraded:
    """Return what is said of a photograph whose worker died."""
    return NotGraded(
        source.name,
        f"{source.name}: the process that graded it was ended by the system, most likely for want of memory: send a "
        "smaller picture, or free some memory",
    )


def check_fit(source: Source, task: Task, unfit: Sequence[str]) -> None:
    """Refuse what is not fit to measure, where that was asked for.

    Raises
    ------
    PhotoError
        It is unfit and the task is strict.
    """
    if task.strict and unfit:
        raise PhotoError(f"{source.name} is unfit and --strict refuses it: {'; '.join(unfit)}")


def _measured(source: Source, task: Task, blank: Light | None) -> tuple[Ready, Casting]:
    view = made_ready(source.path, source.name, task)
    again = None if task.again is None else made_ready(task.again, str(task.again), task).photo
    casting = grade(
        view.photo, task.request, task.settings, blank=blank, again=again, scale=view.scale, span_px=view.span_px
    )
    return view, replace(casting, warnings=(*casting.warnings, *view.remarks))
