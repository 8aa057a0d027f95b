"""Numbers as people read them."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bubblegrade.grading.clarity import Clarity
from bubblegrade.grading_run import Casting
from bubblegrade.show.words import area, left_out_share, length, percent, rounded, score

MakeCasting = Callable[..., Casting]


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (0.04567, "0.0457"),
        (0.6, "0.600"),
        (12.34, "12.3"),
        (99.96, "100.0"),
        (0.0, "0"),
        (-1.5, "-1.50"),
        (math.inf, "-"),
    ],
)
def test_a_number_has_three_significant_digits(value: float, text: str) -> None:
    assert rounded(value) == text


@given(st.floats(1e-6, 1e6))
def test_a_rounded_number_is_the_number_to_half_a_percent(value: float) -> None:
    assert float(rounded(value)) == pytest.approx(value, rel=0.005)


@given(st.floats(0.0, 1.0, exclude_min=True, exclude_max=True))
def test_a_share_that_is_not_quite_0_or_1_is_never_shown_as_such(share: float) -> None:
    assert percent(share) not in {"0 %", "100 %"}


def test_a_share_that_is_not_known_is_a_dash() -> None:
    assert percent(math.nan) == "-"


def test_lengths_and_areas_say_their_unit(known_casting: MakeCasting) -> None:
    scaled, bare = known_casting(), known_casting(scale=None)
    assert (length(16.0, scaled), length(16.0, bare), length(math.nan, scaled)) == ("0.800 mm", "16.0 px", "-")
    assert (area(40_000.0, scaled), area(40_000.0, bare)) == ("1.00 cm2", "40000 px")


@pytest.mark.parametrize(
    ("value", "shown"), [(59.97, "59.9"), (59.8993, "59.9"), (59.5, "59.5"), (60.2, "60"), (59.4, "59"), (70.9, "71")]
)
def test_a_score_is_not_rounded_to_where_a_better_word_begins(value: float, shown: str) -> None:
    clarity = Clarity(value, 55.0, 66.0, 0.01, 0.0)
    assert score(clarity) == f"{shown} (55 to 66)"
    assert (clarity.word == "speckled") == (float(shown) >= 60.0)


def test_what_could_not_be_judged_has_no_score() -> None:
    assert score(Clarity(math.nan, math.nan, math.nan, math.nan, math.nan)) == "-"


def test_the_share_left_out_is_of_the_whole_casting(known_casting: MakeCasting) -> None:
    assert left_out_share(known_casting()) == pytest.approx(0.2)
    assert left_out_share(known_casting(not_judged=())) == 0.0
