"""What only a log asks for, against definitions of the units."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from bubblegrade.errors import InputError
from bubblegrade.records import quantities as q


@pytest.mark.parametrize(
    ("read", "text", "number"),
    [
        (q.humidity_share, "45%", 0.45),
        (q.humidity_share, "45,5 % RH", 0.455),
        (q.deviation_share, "\N{MINUS SIGN}1.5 %", -0.015),
        (q.ratio_b_per_a, "2:1", 0.5),
        (q.ratio_b_per_a, "100 to 90,5", 0.905),
        (q.vacuum_kpa_below, "29.92 inHg", 101.32),  # the standard atmosphere, to its four digits
        (q.dial_kpa_gauge, "60psi", 413.685),  # 60 x 6.894757 kPa
        (q.temperature_k, "77F", 298.15),
        (q.barometer_kpa, "1013.25 hPa", 101.325),
        (q.height_m, "4900ft", 1493.52),
        (q.day_s, "2026-03-01", 1_772_323_200.0),  # by the civil calendar, UTC
        (q.day_s, "2026-03-01 08:15", 1_772_323_200.0 + 29_700.0),
        (q.day_s, "2026-03-01T08:15+01:00", 1_772_323_200.0 + 26_100.0),
        (q.clock_s, "08:15", 29_700.0),
        (q.clock_s, "8:15:30", 29_730.0),
        (q.clock_s, "2026-03-01 08:15", 29_700.0),
    ],
)
def test_what_is_typed_becomes_the_number_in_its_unit(
    read: Callable[[str, str], float], text: str, number: float
) -> None:
    assert read(text, "it") == pytest.approx(number, rel=1e-4)


@pytest.mark.parametrize(
    ("read", "text", "said"),
    [
        (q.humidity_share, "0.45", "has no percent sign: write 0.45%, or 45% where it is a share of 1$"),
        (q.deviation_share, "-1.5", "has no percent sign: write -1.5%$"),
        (q.humidity_share, "145%", "out of range: write 0% to 100%"),
        (q.ratio_b_per_a, "100", "is no ratio"),
        (q.ratio_b_per_a, "1:0", "is no ratio"),
        (q.ratio_b_per_a, "1.2.3:4", "is no ratio"),
        (q.vacuum_kpa_below, "40inHg", "not what a vacuum's dial shows"),
        (q.vacuum_kpa_below, "3 kPa abs", "not what a vacuum's dial shows"),
        (q.dial_kpa_gauge, "75psia", "counts from vacuum, .*: write that, 14.7 psi .1.01 bar. less at sea level"),
        (q.dial_kpa_gauge, "60 bar gauge", "above 300 psi gauge"),
        (q.dial_kpa_gauge, "4 bar", "does not say what it counts from"),
        (q.temperature_k, "400C", "out of range"),
        (q.barometer_kpa, "700 kPa", "no air pressure on land"),
        (q.height_m, "90km", "outside the land's heights"),
        (q.day_s, "01.03.2026", "is no day"),
        (q.clock_s, "25:00", "is no time of day"),
        (q.clock_s, "2026-03-01", "is no time of day"),
    ],
)
def test_what_cannot_be_used_is_refused_with_its_text_and_the_cure(
    read: Callable[[str, str], float], text: str, said: str
) -> None:
    with pytest.raises(InputError, match=said) as caught:
        read(text, "the value")
    assert ":" in str(caught.value)
