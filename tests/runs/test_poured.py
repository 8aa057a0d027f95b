"""Cups as the user names them on the command line."""

from __future__ import annotations

from pathlib import Path

import pytest

from bubblegrade.errors import InputError, UnitError
from bubblegrade.pressure.atmosphere import SEA_LEVEL
from bubblegrade.pressure.poured import Stated
from bubblegrade.results.run import NotGraded
from bubblegrade.runs.poured import Named, check_once, check_populations, check_pressures, named_on_the_line
from bubblegrade.units import GaugePressure


def touched(folder: Path, *names: str) -> list[Path]:
    """Make small files of different bytes."""
    for name in names:
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text(name)
    return [folder / name for name in names]


def named(path: str | Path, setting: str = "30 psi", at: str = "", **said: str) -> Named:
    """Return a cup."""
    return Named(Path(path), Stated(setting, GaugePressure(0.0), SEA_LEVEL, **said), at or setting)


def settings_of(*arguments: str) -> list[tuple[str, str]]:
    """Return the setting and the file's name of each cup."""
    cups, _ = named_on_the_line(arguments, SEA_LEVEL)
    return [(cup.stated.setting, cup.path.name) for cup in cups]


def test_photographs_and_folders_stand_behind_their_pressure(tmp_path: Path) -> None:
    touched(tmp_path, "open/b.jpg", "open/a.jpg", "open/notes.txt", "c.jpg", "d.jpg")
    assert settings_of(f"0psi={tmp_path}/open", f"30psi={tmp_path}/c.jpg, {tmp_path}/d.jpg") == [
        ("0 psi", "a.jpg"),
        ("0 psi", "b.jpg"),
        ("30 psi", "c.jpg"),
        ("30 psi", "d.jpg"),
    ]


def test_a_name_with_a_comma_or_an_equals_sign_is_taken_whole(tmp_path: Path) -> None:
    touched(tmp_path, "a,b=c.jpg")
    assert settings_of(f"0psi={tmp_path}/a,b=c.jpg") == [("0 psi", "a,b=c.jpg")]


@pytest.mark.parametrize(
    ("one", "other", "name"),
    [
        ("15psi", "15.0 psig", "15 psi"),
        ("4 bar gauge", "400 kPa gauge", "4 bar gauge"),
        ("74.7psia", "74.7 psia", "74.7psia"),
        ("0psi", "101.3 kPa abs", "0 psi"),  # the standard atmosphere is 101.325 kPa
        ("54.7psia", "40 psi", "54.7psia"),  # and 14.696 psi
    ],
)
def test_one_pressure_has_one_name_however_it_is_written(tmp_path: Path, one: str, other: str, name: str) -> None:
    touched(tmp_path, "a.jpg", "b.jpg")
    assert {setting for setting, _ in settings_of(f"{one}={tmp_path}/a.jpg", f"{other}={tmp_path}/b.jpg")} == {name}


def test_pressures_within_one_per_cent_are_one_setting_and_those_farther_apart_are_two(tmp_path: Path) -> None:
    touched(tmp_path, "a.jpg", "b.jpg", "c.jpg", "d.jpg", "e.jpg")
    places = [f"{tmp_path}/{name}.jpg" for name in "abcde"]
    said = ("4.14 bar gauge", "60 psi", "0 psi", "60.7 psi", "0.1 psi")  # 60 psi is 4.1369 bar (1 psi = 6.894757 kPa)
    found = settings_of(*(f"{words}={place}" for words, place in zip(said, places, strict=True)))
    assert [setting for setting, _ in found] == ["4.14 bar gauge", "4.14 bar gauge", "0 psi", "60.7 psi", "0.1 psi"]


def test_an_absolute_pressure_counts_from_the_air(tmp_path: Path) -> None:
    touched(tmp_path, "a.jpg")
    cups, _ = named_on_the_line([f"202.65 kPa abs={tmp_path}/a.jpg"], SEA_LEVEL)
    assert cups[0].stated.gauge_ratio == pytest.approx(1.0)


def test_a_place_that_is_not_there_is_a_fault(tmp_path: Path) -> None:
    _, (fault,) = named_on_the_line([f"0psi={tmp_path}/gone"], SEA_LEVEL)
    assert fault.reason == f"{tmp_path}/gone does not exist: check the name"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("cups", "cups is no pressure with its photographs: write 0psi=cups/open"),
        ("30psi=", "30psi= is no pressure with its photographs"),
        ("30=a.jpg", "30=a.jpg: pressure 30 has no unit"),
        ("3bar=a.jpg", "does not say what it counts from"),
        ("200 kPa=a.jpg", "write '200 kPa gauge' if a dial shows it"),
        ("-20psi=a.jpg", "lies below the atmosphere"),
        ("0psia=a.jpg", "is no absolute pressure"),
        ("301psi=a.jpg", "301 psi gauge is above 300 psi gauge"),
    ],
)
def test_what_is_no_pressure_is_one_line(text: str, words: str) -> None:
    with pytest.raises(InputError) as refused:
        named_on_the_line([text], SEA_LEVEL)
    assert words in str(refused.value)
    assert len(str(refused.value).splitlines()) == 1


def test_a_photograph_at_two_pressures_is_refused(tmp_path: Path) -> None:
    (one,) = touched(tmp_path, "a.jpg")
    with pytest.raises(InputError, match="named twice, at 15 psi and at 30 psi: a cup gelled at one pressure"):
        check_once([named(one, "15 psi"), named(one, "30 psi")])
    with pytest.raises(InputError, match=r"at 15 psi and at 30 psi \(line 2 and line 3\)"):
        check_once([named(one, "15 psi", "line 2"), named(one, "30 psi", "line 3")])


def test_a_photograph_counts_once(tmp_path: Path) -> None:
    (one,) = touched(tmp_path, "a.jpg")
    with pytest.raises(InputError, match=r"a.jpg is named twice \(line 2 and line 5\): a cup counts once"):
        check_once([named(one, at="line 2"), named(tmp_path / "." / "a.jpg", at="line 5")])


def test_a_copy_under_another_name_is_the_same_photograph(tmp_path: Path) -> None:
    one, other = touched(tmp_path, "a.jpg", "b.jpg")
    other.write_bytes(one.read_bytes())
    with pytest.raises(InputError, match=r"b.jpg is a copy of .*a.jpg, at 0 psi and at 60 psi"):
        check_once([named(one, "0 psi"), named(other, "60 psi")])


def test_photographs_that_cannot_be_read_are_no_copies_of_each_other(tmp_path: Path) -> None:
    check_once([named(tmp_path / "gone-a.jpg"), named(tmp_path / "gone-b.jpg")])


def test_one_pressure_is_no_trial() -> None:
    with pytest.raises(InputError, match="30 psi is the only pressure: add cups at another one, best open ones"):
        check_pressures([named("a.jpg"), named("b.jpg")])
    with pytest.raises(InputError, match="no cup is named"):
        check_pressures([])


def test_one_pressure_that_faults_have_left_names_them() -> None:
    faults = (NotGraded("gone", "gone does not exist: check the name"),)
    with pytest.raises(InputError, match=r"^gone does not exist: check the name; only 30 psi is left, two pressures"):
        check_pressures([named("a.jpg")], faults)
    with pytest.raises(InputError, match=r"^gone does not exist: check the name; no cup is left, two pressures"):
        check_pressures([], faults)
    check_pressures([named("a.jpg"), named("b.jpg", "60 psi")], faults)


def test_cups_of_two_recipes_are_compared_only_if_asked() -> None:
    cups = [named("a.jpg", recipe="Slow", resin="X"), named("b.jpg", recipe="fast"), named("c.jpg", resin="y")]
    with pytest.raises(InputError, match=r"2 recipes \(Slow, fast\) and 2 resins \(X, y\), .* add --across-recipes"):
        check_populations(cups, across=False)
    (warning,) = check_populations(cups, across=True)
    assert "the fit presumes that all were poured with the same sizes of voids" in warning


def test_a_recipe_in_other_letters_or_left_out_is_the_same() -> None:
    cups = [named("a.jpg", recipe="Slow  mix"), named("b.jpg", recipe="slow mix"), named("c.jpg")]
    assert check_populations(cups, across=False) == ()


def test_a_bad_unit_is_a_unit_error() -> None:
    with pytest.raises(UnitError):
        named_on_the_line(["30=a.jpg"], SEA_LEVEL)
