"""A second casting in the frame and an outline that no light holds are said, with the cure."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from bubblegrade.casting.flattened import Flattened
from bubblegrade.casting.outline import find_outline
from bubblegrade.fitness.check import Check, Fitness, Verdict
from bubblegrade.fitness.outlined import beside, held
from bubblegrade.fitness.view import View
from bubblegrade.photo.light import grey_light
from bubblegrade.photo.reading import Photo

Draw = Callable[..., np.ndarray]


def view_of(picture: np.ndarray, off_px: float = 0.0) -> View:
    """Return what the checks look at, the outline moved to the right by `off_px`."""
    photo = Photo("cup.png", picture, "0" * 64)
    outline = find_outline(grey_light(picture))
    assert outline is not None
    return View(photo, Flattened(photo), replace(outline, edge_px=outline.edge_px + np.array([off_px, 0.0])))


def test_two_castings_in_a_frame_ask_for_care(
    drawn: Draw, checked: Callable[..., Fitness], check_of: Callable[..., Check]
) -> None:
    fitness = checked(np.hstack([drawn(1), drawn(2)]))
    check = check_of(fitness, "beside")
    assert (check.verdict, check.value) == (Verdict.CARE, 1.0)
    assert check.line == "more than one casting in view: photograph one at a time, or crop"
    assert check.place.kind == "region"
    assert check_of(fitness, "outline_held").verdict is Verdict.FIT


def test_one_casting_has_none_beside_it_and_is_held_by_light(drawn: Draw) -> None:
    view = view_of(drawn(1))
    assert beside(view).value == 0.0
    assert held(view).value == 1.0


def test_an_outline_off_its_casting_is_not_held(drawn: Draw) -> None:
    found = held(view_of(drawn(1), 40.0))
    assert found.value < 0.6
    assert found.fault.startswith("light holds only ")


def test_where_no_outline_was_looked_for_none_is_held(drawn: Draw, checked: Callable[..., Fitness]) -> None:
    unknown = {check.name: check.fault for check in checked(drawn(1), whole=True).of(Verdict.CANNOT_TELL)}
    assert unknown["outline_held"] == "no outline was looked for"
