"""Lengths and pressures as people write them."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bubblegrade.errors import UnitError
from bubblegrade.units import (
    PSI_KPA,
    AbsolutePressure,
    GaugePressure,
    altitude_m,
    angle_deg,
    barometer,
    celsius,
    density_kg_m3,
    duration_s,
    length_mm,
    mass_g,
    pressure,
    viscosity_pa_s,
    volume_cm3,
)


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("44mm", 44.0),
        ("44 mm", 44.0),
        (" 4.4cm ", 44.0),
        ("44,5mm", 44.5),
        (",5mm", 0.5),
        ("0,375mm", 0.375),
        ("44.mm", 44.0),
        ("1.5e1MM", 15.0),
        ("0.044m", 44.0),
        ("1.75in", 44.45),
        ("1.75 inch", 44.45),
        ("2 inches", 50.8),
        ('1.75"', 44.45),
        ("1.75\N{DOUBLE PRIME}", 44.45),
        ("1ft", 304.8),
        ("250um", 0.25),
        ("250 \N{MICRO SIGN}m", 0.25),
        ("250\N{GREEK SMALL LETTER MU}m", 0.25),
        ("250 microns", 0.25),
        ("1 micron", 0.001),
    ],
)
def test_a_length_is_read_with_its_unit(text: str, mm: float) -> None:
    assert length_mm(text) == pytest.approx(mm, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("44", "width 44 has no unit: write 44mm or 1.75in"),
        ("-44", "width -44 has no unit: write 44mm or 1.75in"),
        ("44 px", "width 44 px has no known unit of length (px): write 44mm or 1.75in"),
        ("1 3/4in", "width 1 3/4in has no known unit of length (3/4in): write 44mm or 1.75in"),
        ("-3mm", "width -3mm is not above zero: write 44mm or 1.75in"),
        ("\N{MINUS SIGN}3mm", "width \N{MINUS SIGN}3mm is not above zero: write 44mm or 1.75in"),
        ("0in", "width 0in is not above zero: write 44mm or 1.75in"),
        ("1e-400mm", "width 1e-400mm is not above zero: write 44mm or 1.75in"),
        ("nan mm", "width nan mm is not a finite number: write 44mm or 1.75in"),
        ("inf mm", "width inf mm is not a finite number: write 44mm or 1.75in"),
        ("1e308ft", "width 1e308ft is not a finite number: write 44mm or 1.75in"),
        ("wide", "width wide does not begin with a number: write 44mm or 1.75in"),
        ("mm", "width mm does not begin with a number: write 44mm or 1.75in"),
        ("  ", "width is empty: write 44mm or 1.75in"),
        ("1,750mm", "width 1,750mm can be read in two ways: write 1.750mm or 1750mm"),
        ("4\n4\x07", "width 4 4? has no known unit of length (4?): write 44mm or 1.75in"),
    ],
)
def test_a_length_that_cannot_be_used_is_one_line_with_value_fault_and_cure(text: str, line: str) -> None:
    with pytest.raises(UnitError) as caught:
        length_mm(text, what="width")
    assert str(caught.value) == line


def test_an_error_repeats_no_more_than_the_head_of_a_long_text() -> None:
    with pytest.raises(UnitError, match=r"^length x{40}\.\.\. does not begin with a number"):
        length_mm("x" * 5000)


@given(st.floats(1e-6, 1e6))
def test_a_length_written_in_mm_comes_back(mm: float) -> None:
    assert length_mm(f"{mm!r}mm") == mm
    assert length_mm(f"{mm / 10.0!r} cm") == pytest.approx(mm, rel=1e-12)


@given(st.text(max_size=20))
def test_any_text_is_a_length_or_one_line_of_error(text: str) -> None:
    try:
        assert length_mm(text) > 0.0
    except UnitError as error:
        assert len(str(error).splitlines()) == 1  # noqa: PT017


def test_a_psi_is_6894_757_pascal() -> None:
    # computed from exact definitions; NIST SP 811 App. B.8 prints 6.894 757 E+03
    psi_kpa = float(PSI_KPA)
    assert psi_kpa * 1000.0 == pytest.approx(6894.757293168, abs=1e-9)
    # the standard atmosphere, 101 325 Pa exactly, is 14.695 949 psi
    assert 101.325 / psi_kpa == pytest.approx(14.695949, abs=5e-7)
    # 1 bar is 14.503 774 psi, computed; a textbook's table prints 14.5038
    assert 100.0 / psi_kpa == pytest.approx(14.503774, abs=5e-7)


@pytest.mark.parametrize("text", ["60psi", "60 psig", "60 PSI gauge", "60psi(g)", "60 psi g"])
def test_psi_is_what_the_dial_shows(text: str) -> None:
    assert pressure(text) == GaugePressure(60.0 * PSI_KPA)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("400 kPa gauge", GaugePressure(400.0)),
        ("400kPag", GaugePressure(400.0)),
        ("4 bar gauge", GaugePressure(400.0)),
        ("4barg", GaugePressure(400.0)),
        ("0psi", GaugePressure(0.0)),
        ("500 kPa abs", AbsolutePressure(500.0)),
        ("500kPaa", AbsolutePressure(500.0)),
        ("5 bar absolute", AbsolutePressure(500.0)),
        ("1000 hPa abs", AbsolutePressure(100.0)),
        ("1000 mbar abs", AbsolutePressure(100.0)),
        ("4,5 bara", AbsolutePressure(450.0)),
    ],
)
def test_a_pressure_keeps_what_it_counts_from_in_its_type(
    text: str, expected: GaugePressure | AbsolutePressure
) -> None:
    assert pressure(text) == expected


def test_psia_is_absolute() -> None:
    assert pressure("14.695949psia") == AbsolutePressure(pytest.approx(101.325, abs=1e-5))


@given(st.floats(0.0, 1000.0))
def test_a_dials_reading_comes_back_in_psi(psig: float) -> None:
    read = pressure(f"{psig!r} psig")
    assert isinstance(read, GaugePressure)
    assert read.psig == pytest.approx(psig, rel=1e-12)


CURE = "write 60psi (what the dial shows), 74.7psia, '4 bar gauge' or '500 kPa abs'"


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("60", f"pressure 60 has no unit: {CURE}"),
        ("60 mm", f"pressure 60 mm has no known unit of pressure (mm): {CURE}"),
        (
            "400 kPa",
            "pressure 400 kPa does not say what it counts from: "
            "write '400 kPa gauge' if a dial shows it, else '400 kPa abs'",
        ),
        (
            "-5psi",
            "pressure -5psi lies below the atmosphere: write it as an absolute pressure, such as 3psia",
        ),
        (
            "0 psia",
            "pressure 0 psia is no absolute pressure, which is above zero: write 60psi for what the dial shows",
        ),
        ("nan psi", f"pressure nan psi is not a finite number: {CURE}"),
        ("", f"pressure is empty: {CURE}"),
    ],
)
def test_a_pressure_that_cannot_be_used_is_one_line_with_value_fault_and_cure(text: str, line: str) -> None:
    with pytest.raises(UnitError) as caught:
        pressure(text)
    assert str(caught.value) == line


@pytest.mark.parametrize(
    ("read", "text", "number"),
    [
        (altitude_m, "5000 ft", 1524.0),
        (altitude_m, "0m", 0.0),
        (altitude_m, "-0.43km", -430.0),
        (celsius, "24 \N{DEGREE SIGN}C", 24.0),
        (celsius, "-4F", -20.0),
        (celsius, "75 \N{DEGREE SIGN} f", 23.8889),
        (duration_s, "20 minutes", 1200.0),
        (angle_deg, "270\N{DEGREE SIGN}", 270.0),
        (duration_s, "1,5h", 5400.0),
        (volume_cm3, "2.5 gal", 9463.53),  # the US gallon is 3.785411784 l
        (volume_cm3, "10 qt", 9463.53),
        (volume_cm3, "600ml", 600.0),
    ],
)
def test_a_number_is_read_with_its_unit(read: Callable[[str], float], text: str, number: float) -> None:
    assert read(text) == pytest.approx(number, rel=1e-5, abs=1e-9)


@pytest.mark.parametrize(
    ("read", "text", "line"),
    [
        (altitude_m, "1500", "it 1500 has no unit: write 1500m or 4900ft"),
        (altitude_m, "1,500m", "it 1,500m can be read in two ways: write 1.500m or 1500m"),
        (altitude_m, "inf m", "it inf m is not a finite number: write 1500m or 4900ft"),
        (barometer, "1013 hPa gauge", "it 1013 hPa gauge has no known unit (hpa gauge): write '1013 hPa', 101.3kPa"),
        (barometer, "-3kPa", "it -3kPa is not above zero: write '1013 hPa'"),
        (celsius, "297K", "it 297K has no known unit (k): write 24C or 75F"),
        (celsius, "warm", "it warm does not begin with a number: write 24C or 75F"),
        (angle_deg, "270", "it 270 has no unit: write 270deg"),
        (duration_s, "0min", "it 0min is not above zero: write 20min, 900s or 12h"),
        (volume_cm3, "2.5", "it 2.5 has no unit: write 30cm3, 9.5l or 2.5gal"),
    ],
)
def test_a_number_that_cannot_be_used_is_one_line(read: Callable[..., object], text: str, line: str) -> None:
    with pytest.raises(UnitError) as caught:
        read(text, what="it")
    assert str(caught.value).startswith(line)


@pytest.mark.parametrize(
    ("text", "grams"),
    [("1 lb", 453.59237), ("16 ounces", 453.59237), ("0,5kg", 500.0), ("250 mg", 0.25), ("12.5 grams", 12.5)],
)
def test_a_mass_is_read_with_the_exact_pound_of_1959(text: str, grams: float) -> None:
    # international yard and pound agreement, 1959: 0.45359237 kg
    assert mass_g(text) == pytest.approx(grams, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "words"), [("12.5", "no unit"), ("0g", "not above zero"), ("3 stone", "no known unit")]
)
def test_a_mass_without_unit_or_weight_is_refused(text: str, words: str) -> None:
    with pytest.raises(UnitError, match=words):
        mass_g(text, what="weight")


@pytest.mark.parametrize(("text", "pa_s"), [("600cP", 0.6), ("0.6 Pa s", 0.6), ("6 P", 0.6), ("600 mPa.s", 0.6)])
def test_a_viscosity_is_read_in_every_unit_of_data_sheets(text: str, pa_s: float) -> None:
    assert viscosity_pa_s(text) == pytest.approx(pa_s)


@pytest.mark.parametrize(("text", "kg_m3"), [("1.15g/cm3", 1150.0), ("1150 kg/m3", 1150.0), ("1.15 kg/l", 1150.0)])
def test_a_density_is_read_in_every_unit_of_data_sheets(text: str, kg_m3: float) -> None:
    assert density_kg_m3(text) == pytest.approx(kg_m3)
