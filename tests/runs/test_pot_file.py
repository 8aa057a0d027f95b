"""The small file that describes a pot."""

from __future__ import annotations

import datetime
from pathlib import Path

import pytest

from bubblegrade.errors import SettingsError
from bubblegrade.pressure.pot import Pot
from bubblegrade.runs.pot_file import KEYS, read_pot, read_pot_file

WHOLE = """
name = "the blue pot"
rated_pressure = "60psi"
relief_setting = "58 psi"
mould_pressure = "60psi"
gauge_range = "0-100 psi"
gauge_class = "B"
free_volume = "7.5l"
last_inspection = 2025-03-31
"""


def test_a_whole_file_is_read(tmp_path: Path) -> None:
    (tmp_path / "pot.toml").write_text(WHOLE, "utf-8")
    pot = read_pot_file(tmp_path / "pot.toml")
    assert pot.name == "the blue pot"
    assert pot.limits.lowest == (pytest.approx(58.0), "the relief valve's setting")
    assert pot.dial is not None
    assert (pot.dial.low.psig, pot.dial.high.psig, pot.dial.grade) == (0.0, pytest.approx(100.0), "B")
    assert pot.free_volume_cm3 == pytest.approx(7500.0)
    assert pot.last_inspection == datetime.date(2025, 3, 31)


def test_the_whole_file_names_every_key() -> None:
    assert all(f"\n{key} = " in WHOLE for key in KEYS)


def test_what_is_not_said_stays_unknown() -> None:
    assert read_pot("", name="a.toml") == Pot()
    assert read_pot("# only a remark", name="a.toml").limits.lowest is None


@pytest.mark.parametrize("text", ["0 to 7 bar", "0-7bar", "0\N{EN DASH}7 bar gauge", "0 - 101.52642 psi"])
def test_a_range_is_read_in_the_dial_s_own_unit(text: str) -> None:
    dial = read_pot(f'gauge_range = "{text}"', name="a.toml").dial
    assert dial is not None
    assert dial.high.kpa_gauge == pytest.approx(700.0, rel=1e-6)


@pytest.mark.parametrize(("written", "grade"), [('"b"', "B"), ("1.6", "1.6"), ("1", "1"), ('"2.5"', "2.5")])
def test_a_class_is_read_with_and_without_quotes(written: str, grade: str) -> None:
    dial = read_pot(f'gauge_range = "0-100 psi"\ngauge_class = {written}', name="a.toml").dial
    assert dial is not None
    assert dial.grade == grade


def test_a_day_may_stand_in_quotes() -> None:
    assert read_pot('last_inspection = "2025-03-31"', name="a.toml").last_inspection == datetime.date(2025, 3, 31)


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("rated_pressure: 60", "a.toml is not TOML"),
        ('rated = "60psi"', "a.toml: rated is not known of a pot: did you mean rated_pressure?"),
        ('relief_seting = "60psi"', "a.toml: relief_seting is not known of a pot: did you mean relief_setting?"),
        ("x = 1", "a.toml: x is not known of a pot: use one of name, rated_pressure"),
        ("rated_pressure = 60", "a.toml: rated_pressure = 60 is not text in quotes: write it with its unit"),
        ("rated_pressure = true", "a.toml: rated_pressure = True is not text in quotes"),
        ('rated_pressure = "60"', "a.toml: rated_pressure 60 has no unit"),
        ('rated_pressure = "4 bar"', "a.toml: rated_pressure 4 bar does not say what it counts from"),
        ('rated_pressure = "500psi"', "a.toml: rated_pressure 500psi is no limit of a casting pot"),
        ('relief_setting = "75psia"', "a.toml: relief_setting 75psia counts from vacuum"),
        ("name = 3", "a.toml: name = 3 is not text in quotes"),
        ('gauge_range = "100psi"', "a.toml: gauge_range 100psi is no range with a unit"),
        ('gauge_range = "100-0psi"', "a.toml: gauge_range 100-0psi does not rise"),
        ('gauge_range = "0-100mm"', "a.toml: gauge_range 0-100mm is no range with a unit"),
        ('gauge_class = "B"', "a.toml: gauge_class is a share of the dial's span: add gauge_range"),
        ('gauge_range = "0-9psi"\ngauge_class = "E"', "a.toml: gauge_class = 'E' is no class of a gauge"),
        ("gauge_class = true", "a.toml: gauge_class = True is no class of a gauge"),
        ("free_volume = 9.5", "a.toml: free_volume = 9.5 is not text in quotes"),
        ('free_volume = "9.5"', "a.toml: free_volume 9.5 has no unit: write 30cm3, 9.5l or 2.5gal"),
        ('free_volume = "-1l"', "a.toml: free_volume -1l is not above zero"),
        ('last_inspection = "spring"', "a.toml: last_inspection = spring is no day: write year, month and day"),
        ("last_inspection = 2025-03-31T12:00:00", "a.toml: last_inspection = 2025-03-31 12:00:00 is no day"),
        ("last_inspection = 2025", "a.toml: last_inspection = 2025 is no day"),
    ],
)
def test_what_cannot_be_used_is_one_line(text: str, line: str) -> None:
    with pytest.raises(SettingsError) as caught:
        read_pot(text, name="a.toml")
    assert str(caught.value).startswith(line)
    assert "\n" not in str(caught.value)


# ASME BPVC VIII-1 UG-125(c): 10 % or 3 psi above the working pressure, whichever is greater
@pytest.mark.parametrize(("rated", "highest"), [(60.0, 66.0), (20.0, 23.0), (30.0, 33.0)])
def test_a_relief_valve_set_past_what_the_code_allows_contradicts_the_plate(rated: float, highest: float) -> None:
    def written(relief: float) -> str:
        return f'rated_pressure = "{rated}psi"\nrelief_setting = "{relief}psi"'

    assert read_pot(written(highest), name="a.toml").limits.relief is not None
    with pytest.raises(SettingsError, match=r"^a\.toml: relief_setting .* contradicts rated_pressure"):
        read_pot(written(highest + 0.1), name="a.toml")


def test_a_file_that_cannot_be_read_is_one_line(tmp_path: Path) -> None:
    with pytest.raises(SettingsError, match="cannot be opened"):
        read_pot_file(tmp_path / "none.toml")
    (tmp_path / "pot.toml").write_bytes(b"\xff\xfe")
    with pytest.raises(SettingsError, match="is not text in UTF-8"):
        read_pot_file(tmp_path / "pot.toml")
