"""What the page asks of grading, as words in its form, and the same as a task: the words are those of `grade`."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

from bubblegrade.bench.folder import BenchFolder
from bubblegrade.bench.forms import FieldError, about
from bubblegrade.errors import InputError
from bubblegrade.grading_run import Request
from bubblegrade.photo.lens import lens_from_text
from bubblegrade.photo.on_card import OnCard
from bubblegrade.photo.on_disc import OnDisc
from bubblegrade.photo.scale import stated_scale
from bubblegrade.runs.one import Task
from bubblegrade.runs.ranges import THICKEST_MM, WIDEST_MM
from bubblegrade.settings import Settings, read_settings, with_index
from bubblegrade.units import length_mm, scale_mm_per_px

SCALES: Final = {
    "none": "not known: sizes in px",
    "width": "the casting's widest span",
    "disc": "a coin or disc beside it",
    "card": "the printed scale card under it",
    "mm-per-px": "millimetres per pixel",
}
FILES: Final = ("blank", "again", "settings")  # fields that name one of the folder
LENGTHS: Final = {"printed": "check length", "height": "height of the lens"}


def task_from(words: Mapping[str, str], folder: BenchFolder, *, version: str) -> Task:
    """Return the task that a form asks for; other photographs and files that it names are those of the folder.

    Raises
    ------
    InputError
        A length has no unit, is out of range or is missing, a thickness has no scale beside it, a file is not in the
        folder or cannot be used, an index is none of a resin, or two things asked do not go together.
    """
    scale, length = words.get("scale", "none"), words.get("length", "").strip()
    thickness = words.get("thickness", "").strip()
    if scale not in SCALES:
        raise InputError(f"scale {scale[:20]!r} is not known: use one of {', '.join(SCALES)}")
    if scale in {"width", "disc", "mm-per-px"} and not length:
        raise FieldError(f"{SCALES[scale]} has no length beside it: write one, such as 36mm", "length")
    if thickness and scale == "none":
        line = "a thickness says nothing without a scale: say what gives the scale, or leave it empty"
        raise FieldError(line, "scale", "thickness")
    _check_used(words, scale, length, thickness)
    named = {name: words.get(name, "").strip() for name in FILES}
    if scale == "card" and named["blank"]:
        raise FieldError("the bare backlight does not lie on the card as the casting does: leave it out", "blank")
    if named["blank"] and named["blank"] == named["again"]:
        line = f"{named['blank']} cannot be bare backlight and casting: choose another for one of them"
        raise FieldError(line, "blank", "again")
    request = Request(
        mm_per_px=_mm_per_px(length) if scale == "mm-per-px" else None,
        width_mm=_length("length", length, "widest span", WIDEST_MM) if scale == "width" else None,
        disc=OnDisc(_length("length", length, "disc", WIDEST_MM), _stated(words, "height"))
        if scale == "disc"
        else None,
        card=_card(words, folder) if scale == "card" else None,
        thickness_mm=_length("thickness", thickness, "thickness", THICKEST_MM) if thickness else None,
        camera_height_mm=_stated(words, "height") if scale == "width" else None,
        whole=words.get("whole") == "yes",
        planted=words.get("planted") == "yes",
    )
    return Task(
        version=version,
        request=request,
        settings=_settings(named["settings"], folder, index=words.get("index", "").strip()),
        blank=folder.photograph(named["blank"]) if named["blank"] else None,
        again=folder.photograph(named["again"]) if named["again"] else None,
        strict=words.get("strict") == "yes",
        jobs=1,
    )


def _check_used(words: Mapping[str, str], scale: str, length: str, thickness: str) -> None:
    """Refuse what is written and would not count with this scale.

    Raises
    ------
    InputError
        Something is.
    """
    if length and scale == "none":
        line = f"a length of {length} does not say what of: say what gives the scale, or leave it empty"
        raise FieldError(line, "scale", "length")
    if length and scale == "card":
        line = f"the card has its own lengths: leave {length} out, or write it as the check length"
        raise FieldError(line, "length")
    if scale == "width" and words.get("whole") == "yes":
        raise FieldError(
            "the widest span needs the outline that is not looked for in the whole lit frame: untick that, or choose "
            "another scale",
            "scale",
            "whole",
        )
    for name, what in (("printed", LENGTHS["printed"]), ("lens", "calibrated lens")):
        if words.get(name, "").strip() and scale != "card":
            line = f"a {what} says nothing without the card in view: say that it gives the scale"
            raise FieldError(line, "scale", name)
    known_height = scale in {"card", "disc"} or (scale == "width" and thickness)
    if words.get("height", "").strip() and not known_height:
        raise FieldError(
            "the height of the lens says nothing without a scale at a known height: say that card, coin or widest span "
            "gives it, the span with a thickness, or leave it empty",
            "height",
        )


def check_alone(task: Task, names: Sequence[str]) -> None:
    """Refuse to grade photographs with what is not for them.

    Raises
    ------
    InputError
        A second photograph is asked for several castings, or a photograph is to be graded with itself.
    """
    if task.again is not None and len(names) != 1:
        line = f"a second photograph settles one casting, {len(names)} are named: grade them one by one"
        raise FieldError(line, "again")
    helping = (("blank", task.blank, "the bare backlight"), ("again", task.again, "the second photograph"))
    for field, path, what in helping:
        if path is not None and path.name in names:
            raise FieldError(f"{path.name} is {what} here: grade another with it", field)


def _card(words: Mapping[str, str], folder: BenchFolder) -> OnCard:
    name = words.get("lens", "").strip()
    table = folder.table(name) if name else ""
    with about("lens"):
        lens = lens_from_text(table, name=name).lens if name else None
    return OnCard(printed_mm=_stated(words, "printed"), camera_height_mm=_stated(words, "height"), lens=lens)


def _settings(name: str, folder: BenchFolder, *, index: str) -> Settings:
    table = folder.table(name) if name else ""
    with about("settings"):
        settings = read_settings(table, name=name) if name else Settings()
    with about("index"):
        return with_index(settings, index, what="the resin's refractive index") if index else settings


def _stated(words: Mapping[str, str], name: str) -> float | None:
    text = words.get(name, "").strip()
    return _length(name, text, LENGTHS[name], WIDEST_MM) if text else None


def _mm_per_px(text: str) -> float:
    with about("length"):
        return stated_scale(scale_mm_per_px(text)).mm_per_px


def _length(field: str, text: str, what: str, most_mm: float) -> float:
    with about(field):
        length = length_mm(text, what=what)
        if length > most_mm:
            raise InputError(f"{what} {text} is over {most_mm:g} mm: check it")
    return length
