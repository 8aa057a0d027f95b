"""Advice: limits first, nothing past a rating, every rule with its ground and source."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bubblegrade.grading.estimate import Estimate
from bubblegrade.pressure.advice import RULES, advise
from bubblegrade.pressure.cautions import PRESSURE, RESIN
from bubblegrade.pressure.comparison import Comparison, compare
from bubblegrade.pressure.cups import Cup
from bubblegrade.pressure.enough import Decision
from bubblegrade.pressure.situation import Advice, Level, Limits, Situation
from bubblegrade.pressure.stops import STOPS
from tests.conftest import psi

Cups = Callable[..., list[Cup]]


def decision(value: float, high: float, **changes: object) -> Decision:
    """Return a decision for no more than 5 voids above 0.1 mm."""
    facts = {
        "visible_mm": 0.1,
        "tolerated": 5.0,
        "casting_cm3": math.nan,
        "enough_psig": Estimate(value, value, high),
        "rows": (),
        "below_limit": False,
        "highest_tested_psig": 60.0,
    }
    return Decision(**{**facts, **changes})  # type: ignore[arg-type]


def said(
    limits: Limits,
    *asked: float,
    decided: Decision | None = None,
    comparison: Comparison | None = None,
) -> dict[str, Advice]:
    """Return the advice by the names of its rules."""
    at = Situation(limits, tuple(psi(each) for each in asked), 101.325, decided, comparison)
    return {each.rule: each for each in advise(at)}


@pytest.mark.parametrize(
    ("limits", "rule", "text"),
    [
        (
            Limits(rated=psi(50.0)),
            "above rating",
            "60 psi is above the pot's rated working pressure of 50 psi: do not cast at it.",
        ),
        (
            Limits(relief=psi(35.0)),
            "above relief",
            "60 psi is above the relief valve's setting of 35 psi: do not cast at it.",
        ),
        (
            Limits(mould=psi(40.0)),
            "above mould",
            "60 psi is above the mould's own casting pressure of 40 psi: do not cast at it.",
        ),
    ],
)
def test_above_a_limit_there_is_a_stop_and_no_advice(limits: Limits, rule: str, text: str) -> None:
    found = said(limits, 0.0, 60.0, decided=decision(20.0, 30.0))
    assert list(found) == [rule]
    assert found[rule].level is Level.STOP
    assert found[rule].text == text


def test_a_relief_valve_set_above_the_rating_is_a_stop() -> None:
    found = said(Limits(rated=psi(60.0), relief=psi(70.0)), 40.0)
    assert list(found) == ["relief above rating"]
    assert found["relief above rating"].source == "ASME BPVC VIII-1 UG-125"


def test_at_a_limit_is_not_above_it() -> None:
    found = said(Limits(rated=psi(60.0), relief=psi(60.0), mould=psi(60.0)), 60.0)
    assert not any(each.level is Level.STOP for each in found.values())
    assert found["near relief"].level is Level.CAUTION


def test_a_target_above_the_lowest_limit_is_a_stop_that_names_it() -> None:
    found = said(Limits(rated=psi(70.0), mould=psi(60.0)), 40.0, decided=decision(58.0, 64.2))
    assert list(found) == ["target above limits"]
    assert (
        "can take up to 64.2 psi, above the mould's own casting pressure of 60 psi" in found["target above limits"].text
    )


def test_the_upper_end_is_advised_and_rounded_up() -> None:
    found = said(Limits(rated=psi(60.0)), 60.0, decided=decision(38.0, 44.32))
    assert found["enough"].text == (
        "No more than 5 voids above 0.1 mm in a casting like the cups: expected from 44.4 psi at gel on."
    )
    assert "no rating given" not in found


def test_without_a_rating_advice_depends_on_the_plate() -> None:
    found = said(Limits(), 40.0, decided=decision(38.0, 44.0, casting_cm3=25.0))
    assert found["enough"].text.endswith(
        "in 25 cm3: expected from 44 psi at gel on, if that is within the rating on the pot's plate."
    )
    assert found["no rating given"].level is Level.CAUTION


def test_without_a_rating_what_hardly_a_plate_bears_is_said() -> None:
    assert "80 psi at most" in said(Limits(), 90.0)["above usual plates"].text
    assert "above usual plates" not in said(Limits(), 80.0)
    assert "above usual plates" not in said(Limits(rated=psi(150.0)), 90.0)


def test_without_a_rating_nothing_above_80_psi_is_advised() -> None:
    found = said(Limits(), 40.0, decided=decision(90.0, 120.0))
    assert "enough" not in found
    assert "not by pressure alone" in found


def test_open_air_is_advised_where_it_is_enough() -> None:
    found = said(Limits(rated=psi(60.0)), 30.0, decided=decision(0.0, 0.0))
    assert "open air is enough" in found
    assert "enough" not in found


def test_coarse_voids_are_not_cured_by_pressure() -> None:
    found = said(Limits(rated=psi(60.0)), 60.0, decided=decision(math.inf, math.inf))
    assert "not reachable by pressure alone" in found["not by pressure alone"].text


def test_an_interval_without_an_end_is_no_advice_to_cast_at() -> None:
    found = said(Limits(rated=psi(60.0)), 60.0, decided=decision(45.0, math.inf))
    assert "nothing within reach is sure to" in found["perhaps enough"].text
    assert not {"enough", "not by pressure alone"} & set(found)


@pytest.mark.parametrize(
    ("change", "why"),
    [
        ({"highest_tested_psig": 30.0}, "a higher pressure than any cup had"),
        ({"below_limit": True}, "voids too small for the photographs"),
    ],
)
def test_what_was_not_seen_is_to_be_tested_first(change: dict[str, object], why: str) -> None:
    found = said(Limits(rated=psi(60.0)), 30.0, decided=decision(40.0, 45.0, **change))
    assert why in found["test first"].text


def test_a_step_more_at_60_psi_brings_little_and_at_15_it_does_not() -> None:
    found = said(Limits(rated=psi(80.0)), 60.0)
    assert found["little gain"].text.startswith("Beyond 60 psi another 5 psi would take only 2.1 % off a diameter")
    at_limit = said(Limits(rated=psi(60.0)), 60.0)["little gain"].text
    assert at_limit.startswith(
        "5 psi more would lie above the pot's rated working pressure of 60 psi, and take only 2.1 %"
    )
    assert "little gain" not in said(Limits(rated=psi(80.0)), 15.0)
    assert "little gain" not in said(Limits(rated=psi(80.0)))


def test_a_misfit_comes_before_more_pressure(even_cups: Cups) -> None:
    found = said(Limits(rated=psi(60.0)), 60.0, comparison=compare(even_cups(pressure_share=0.5)))
    assert found["misfit first"].text.startswith("Find the cause of the misfit before changing the pressure")
    assert "leaked" in found["misfit first"].text


def test_pressures_that_were_written_down_wrong_come_before_all_else(even_cups: Cups) -> None:
    swapped = compare(even_cups(settings=(0.0, 60.0), offsets=(0.0,), exponent=-1.0 / 3.0))
    assert swapped.suspects
    assert swapped.needed
    found = set(said(Limits(rated=psi(80.0)), 15.0, comparison=swapped))
    assert found == {"check the pressures"}


def test_too_few_cups_are_told_how_many_would_do(even_cups: Cups) -> None:
    two = compare(even_cups(settings=(0.0, 60.0), offsets=(0.0,)))
    found = said(Limits(rated=psi(60.0)), 60.0, comparison=two)
    assert found["more cups"].text == (
        "To tell it, cast 6 cups at every setting; pour each of 3 mixes over all settings."
    )


def test_voids_are_offered_where_they_would_do(drawn_cups: Cups) -> None:
    wide = compare(drawn_cups(np.random.default_rng(3), cup_spread=0.0, voids=8, limit=0.02))
    assert wide.needed is not None
    assert wide.needed.voids_per_cup is not None
    text = said(Limits(rated=psi(60.0)), 60.0, comparison=wide)["more cups"].text
    assert f"or as many as now with {wide.needed.voids_per_cup} voids in each" in text


def test_hidden_voids_ask_for_closer_photographs(even_cups: Cups) -> None:
    hidden = compare(even_cups(median=0.12, offsets=(-0.3, 0.0, 0.3), settings=(0.0, 15.0, 30.0)))
    assert "closer photographs" in said(Limits(rated=psi(60.0)), 30.0, comparison=hidden)


@given(
    st.floats(1.0, 100.0),
    st.one_of(st.none(), st.floats(1.0, 100.0)),
    st.one_of(st.none(), st.floats(1.0, 100.0)),
    st.floats(0.0, 100.0),
    st.floats(0.0, 200.0),
    st.floats(0.0, 50.0),
)
def test_no_advice_ever_goes_past_a_limit(
    rated: float, relief: float | None, mould: float | None, asked: float, value: float, more: float
) -> None:
    limits = Limits(psi(rated), None if relief is None else psi(relief), None if mould is None else psi(mould))
    found = said(limits, asked, decided=decision(value, value + more))
    lowest = min(each for each in (rated, relief, mould) if each is not None)
    if any(each.level is Level.STOP for each in found.values()):
        assert all(each.level is Level.STOP for each in found.values())
    else:
        assert asked <= lowest * (1.0 + 1e-6)
    if "enough" in found:
        assert value + more <= lowest * (1.0 + 1e-6)


def test_nothing_calls_a_pot_safe() -> None:
    at = Situation(Limits(), (psi(60.0),), 101.325, decision(40.0, 45.0))
    texts = [each.text + each.ground for each in (*PRESSURE, *RESIN, *advise(at))]
    assert not any("safe" in text.lower() for text in texts)
    assert any("Never open" in each.text for each in PRESSURE)


def test_every_rule_is_listed_once_and_has_ground_and_source(even_cups: Cups) -> None:
    assert len(set(STOPS)) == len(STOPS)
    assert len(set(RULES)) == len(RULES)
    comparison = compare(even_cups(settings=(0.0, 60.0), offsets=(0.0,), pressure_share=0.3))
    for each in said(Limits(relief=psi(62.0)), 60.0, decided=decision(40.0, 70.0), comparison=comparison).values():
        assert each.ground
        assert each.source


def test_rounding_never_goes_past_a_limit() -> None:
    rated = Limits(rated=psi(43.51))  # 3 bar gauge
    assert "expected from 43.51 psi at gel on." in said(rated, decided=decision(40.0, 43.505))["enough"].text
    perhaps = said(rated, decided=decision(43.505, math.inf))["perhaps enough"].text
    assert "about 43.51 psi at gel may do" in perhaps


def test_what_may_be_enough_depends_on_the_plate_too() -> None:
    perhaps = said(Limits(), 60.0, decided=decision(76.2, math.inf))["perhaps enough"].text
    assert "about 76 psi at gel may do, if that is within the rating on the pot's plate, but nothing" in perhaps


def test_no_pressure_at_all_is_open_air() -> None:
    perhaps = said(Limits(rated=psi(60.0)), 60.0, decided=decision(0.0, math.inf))["perhaps enough"].text
    assert "in a casting like the cups: open air may do, but nothing within reach is sure to" in perhaps


def test_what_an_interval_leaves_open_is_not_called_out_of_reach() -> None:
    open_ended = decision(math.inf, math.inf, enough_psig=Estimate(math.inf, 30.0, math.inf))
    text = said(Limits(rated=psi(60.0)), 60.0, decided=open_ended)["not by pressure alone"].text
    assert "hardly reachable by pressure alone, as far as can be told" in text


@pytest.mark.parametrize("limits", [Limits(rated=psi(60.0)), Limits(relief=psi(60.0)), Limits(mould=psi(60.0))])
def test_a_little_above_a_limit_is_above_it(limits: Limits) -> None:
    assert all(each.level is Level.STOP for each in said(limits, 60.01).values())
