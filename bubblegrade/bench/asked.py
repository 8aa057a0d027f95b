"""What the page asks of grading, as words in its form, and the same as a task: the words are those of `grade`."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from bubblegrade.errors import InputError
from bubblegrade.grading_run import Request
from bubblegrade.photo.on_card import OnCard
from bubblegrade.photo.on_disc import OnDisc
from bubblegrade.photo.scale import stated_scale
from bubblegrade.runs.one import Task
from bubblegrade.settings import Settings
from bubblegrade.units import length_mm

SCALES: Final = {
    "none": "not known: sizes in px",
    "width": "the casting's widest span",
    "disc": "a coin or disc beside it",
    "card": "the printed scale card under it",
    "mm-per-px": "millimetres per pixel",
}
WIDEST_MM: Final = 5000.0
THICKEST_MM: Final = 500.0


def task_from(words: Mapping[str, str], *, version: str, settings: Settings) -> Task:
    """Return the task that a form asks for.

    Raises
    ------
    InputError
        A length has no unit, is out of range or is missing, or a thickness has no scale beside it.
    """
    scale, length = words.get("scale", "none"), words.get("length", "").strip()
    thickness = words.get("thickness", "").strip()
    if scale not in SCALES:
        raise InputError(f"scale {scale[:20]!r} is not known: use one of {', '.join(SCALES)}")
    if scale in {"width", "disc", "mm-per-px"} and not length:
        raise InputError(f"{SCALES[scale]} has no length beside it: write one, such as 36mm")
    if thickness and scale == "none":
        raise InputError("a thickness says nothing without a scale: say what gives the scale, or leave it empty")
    request = Request(
        mm_per_px=_ratio(length) if scale == "mm-per-px" else None,
        width_mm=_length(length, "widest span", WIDEST_MM) if scale == "width" else None,
        disc=OnDisc(_length(length, "disc", WIDEST_MM)) if scale == "disc" else None,
        card=OnCard() if scale == "card" else None,
        thickness_mm=_length(thickness, "thickness", THICKEST_MM) if thickness else None,
        whole=words.get("whole") == "yes" and scale != "width",
    )
    return Task(version=version, request=request, settings=settings, jobs=1)


def _length(text: str, what: str, most_mm: float) -> float:
    length = length_mm(text, what=what)
    if length > most_mm:
        raise InputError(f"{what} {text} is over {most_mm:g} mm: check it")
    return length


def _ratio(text: str) -> float:
    try:
        return stated_scale(float(text)).mm_per_px
    except ValueError:
        raise InputError(f"{text[:20]!r} is no number of millimetres per pixel: write one, such as 0.0375") from None
