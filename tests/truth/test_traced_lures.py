"""Traced lures with one planted fault each, or none, from photograph to verdict; as photographed and mirrored.

The photographs of `faulty` are the smallest of each kind of
`python -m bubblegrade.drawn.traced_lures --each 24 --seed 2`. The larger table is printed by make_lures.py.
"""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from bubblegrade.drawn.lure_faults import limits_text
from bubblegrade.drawn.traced_lures import VOID_MM_PER_PX
from bubblegrade.grading_run import Request, grade
from bubblegrade.inspection.judging import judge
from bubblegrade.inspection.seen import seen
from bubblegrade.inspection.verdicts import Judgement
from bubblegrade.photo.light import grey_light
from bubblegrade.photo.reading import read_photo
from bubblegrade.runs.limits_file import read_limits
from bubblegrade.settings import Settings

PLACE = Path(__file__).parent / "faulty"
FAULTY = ("large-in-face", "large-in-flank", "large-in-belly", "beside-the-eye", "cluster")
both = pytest.mark.parametrize("mirrored", [False, True], ids=["as photographed", "mirrored"])


def judged(kind: str, *, mirrored: bool) -> Judgement:
    (path,) = PLACE.glob(f"{kind}-*.jpg")
    told = json.loads(path.with_suffix(".json").read_text())
    photo = read_photo(path)
    if mirrored:
        photo = replace(photo, codes=np.ascontiguousarray(photo.codes[:, ::-1]))
    request = Request(mm_per_px=told["mm_per_px_mid_plane"], thickness_mm=told["spec"]["height"])
    casting = grade(photo, request, Settings())
    limits = read_limits(limits_text(VOID_MM_PER_PX), name="lure")
    return judge(casting, seen(casting, grey_light(photo.codes)), limits)


@both
@pytest.mark.parametrize("kind", FAULTY)
def test_a_planted_fault_does_not_pass(kind: str, *, mirrored: bool) -> None:
    assert judged(kind, mirrored=mirrored).verdict != "pass"


@both
@pytest.mark.parametrize("kind", ["clean", "glitter", "wired"])
def test_what_has_no_fault_does_not_fail(kind: str, *, mirrored: bool) -> None:
    found = judged(kind, mirrored=mirrored)
    assert found.verdict != "fail"
    assert (found.lie.head_by, found.lie.belly_by) == ("eye", "round side")
