"""Photographs of unlike sizes under one scale that was stated in px."""

from __future__ import annotations

import pytest

from bubblegrade.grading.record import Request
from bubblegrade.photo.scale import Span
from bubblegrade.runs.unlike_sizes import size_of, stated_in_px, unlike_sizes


@pytest.mark.parametrize(
    ("request_", "option"),
    [
        (Request(), None),
        (Request(width_mm=44.0), None),
        (Request(mm_per_px=0.04), "--mm-per-px"),
        (Request(span=Span(0.0, 0.0, 300.0, 400.0, 20.0)), "--span"),
    ],
)
def test_a_scale_is_stated_in_px_by_the_scale_itself_or_by_two_points(request_: Request, option: str | None) -> None:
    assert stated_in_px(request_) == option


def test_a_copy_made_smaller_under_the_same_scale_is_pointed_out() -> None:
    sizes = [size_of({"width_px": wide, "height_px": high}) for wide, high in ((1500, 1200), (1200, 1500), (750, 600))]
    (said,) = unlike_sizes("--mm-per-px", sizes)
    assert said.startswith("--mm-per-px was taken for photographs of 750 x 600 px to 1500 x 1200 px: right where")
    assert unlike_sizes("--mm-per-px", sizes[:2]) == ()
    assert unlike_sizes(None, sizes) == ()
