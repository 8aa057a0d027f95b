"""Drawn lures from photograph to verdict: no fault passes, and nothing faultless fails, however the lure lies.

The larger table is printed by make_lures.py.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from bubblegrade.drawn.lure_faults import FAULTLESS, FAULTS, MM_PER_PX, limits_text
from bubblegrade.drawn.lures import Lure, draw_lure
from bubblegrade.grading_run import Request, grade
from bubblegrade.inspection.judging import judge
from bubblegrade.inspection.seen import seen
from bubblegrade.inspection.verdicts import Judgement
from bubblegrade.photo.light import grey_light
from bubblegrade.photo.reading import Photo
from bubblegrade.runs.limits_file import read_limits
from bubblegrade.settings import Settings

WAYS = ({"turned_degrees": 25.0, "size": 1.0}, {"turned_degrees": 215.0, "size": 0.6, "mirrored": True})


def judged(lure: Lure) -> Judgement:
    picture = draw_lure(lure).picture
    casting = grade(Photo("lure", picture, "0" * 64), Request(mm_per_px=MM_PER_PX / lure.size), Settings())
    return judge(casting, seen(casting, grey_light(picture)), read_limits(limits_text(), name="drawn"))


@pytest.mark.parametrize("way", WAYS, ids=["turned", "mirrored and small"])
@pytest.mark.parametrize("kind", FAULTS)
def test_a_planted_fault_never_passes(kind: str, way: dict[str, float]) -> None:
    found = judged(replace(FAULTS[kind](np.random.default_rng(3)), **way))
    assert found.verdict != "pass"
    zone = kind.removeprefix("large in ").replace("beside the eye", "hardware").replace("cluster", "flank")
    assert zone in {fault.zone for fault in found.faults}
    assert (found.lie.head_by, found.lie.belly_by) == ("eye", "round side")


@pytest.mark.parametrize("way", WAYS, ids=["turned", "mirrored and small"])
@pytest.mark.parametrize("kind", FAULTLESS)
def test_what_has_no_fault_never_fails(kind: str, way: dict[str, float]) -> None:
    make: Callable[[np.random.Generator], Lure] = FAULTLESS[kind]
    assert judged(replace(make(np.random.default_rng(3)), **way)).verdict != "fail"


def test_a_clean_lure_passes() -> None:
    assert judged(replace(FAULTLESS["clean"](np.random.default_rng(1)), turned_degrees=70.0)).verdict == "pass"
