"""What the options shared by commands say of air, pot and mould."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click
import pytest
from click.testing import CliRunner

from bubblegrade.commands.pressure_options import air_options, limit_options, stated_atmosphere, stated_limits
from bubblegrade.errors import InputError, UnitError
from bubblegrade.pressure.atmosphere import SEA_LEVEL, Source


def options(*arguments: str) -> dict[str, Any]:
    """Return the options that a command with both decorators reads from its line."""
    seen: dict[str, Any] = {}

    @click.command()
    @air_options
    @limit_options
    def command(**given: Any) -> None:
        seen.update(given)

    result = CliRunner().invoke(command, list(arguments))
    assert result.exit_code == 0, result.output
    return seen


def pot(folder: Path, text: str) -> str:
    """Write the file of a pot and return its place."""
    place = folder / "pot.toml"
    place.write_text(text, "utf-8")
    return str(place)


def test_nothing_said_is_sea_level_and_no_limit() -> None:
    given = options()
    assert stated_atmosphere(given) == SEA_LEVEL
    assert stated_limits(given).lowest is None


# ISO 2533:1975, geometric altitude
@pytest.mark.parametrize(("height", "kpa"), [("1500m", 84.55968), ("1.5 km", 84.55968), ("0m", 101.325)])
def test_an_altitude_gives_the_standard_atmosphere(height: str, kpa: float) -> None:
    found = stated_atmosphere(options("--altitude", height))
    assert found.kpa == pytest.approx(kpa, abs=1e-4)
    assert found.source is Source.ALTITUDE


def test_a_land_below_the_sea_has_more_air() -> None:
    assert stated_atmosphere(options("--altitude", "-430m")).kpa > SEA_LEVEL.kpa


@pytest.mark.parametrize(
    ("barometer", "kpa"),
    [
        ("1013.25 hPa", 101.325),
        ("1013.25mbar", 101.325),
        ("98 kPa", 98.0),
        ("98 kPa abs", 98.0),
        ("29.92 inHg", 101.321),  # 3.386389 kPa each: NIST SP 811
        ("760 mmHg", 101.325),
        ("14.7 psia", 101.353),
    ],
)
def test_a_barometer_is_absolute_by_nature(barometer: str, kpa: float) -> None:
    found = stated_atmosphere(options("--barometer", barometer))
    assert found.kpa == pytest.approx(kpa, abs=1e-3)
    assert found.source is Source.BAROMETER


@pytest.mark.parametrize(
    ("arguments", "line"),
    [
        (("--altitude", "1500m", "--barometer", "850hPa"), "altitude 1500 m and barometer 85 kPa are both given"),
        (("--altitude", "1500"), "--altitude 1500 has no unit: write 1500m or 4900ft"),
        (("--altitude", "30000ft"), "altitude 9144 m lies outside the land's heights"),
        (("--barometer", "1013"), "--barometer 1013 has no unit: write '1013 hPa'"),
        (("--barometer", "14.7psi"), "--barometer 14.7psi has no known unit (psi): write '1013 hPa'"),
        (("--barometer", "1013 kPa"), "barometer 1013 kPa is no air pressure on land"),
        (("--barometer", "0hPa"), "--barometer 0hPa is not above zero"),
    ],
)
def test_air_that_cannot_be_is_one_line(arguments: tuple[str, ...], line: str) -> None:
    with pytest.raises(UnitError) as caught:
        stated_atmosphere(options(*arguments))
    assert str(caught.value).startswith(line)
    assert "\n" not in str(caught.value)


def test_limits_are_read_from_the_line() -> None:
    limits = stated_limits(options("--rated", "70psi", "--relief", "4.4 bar gauge", "--mould-pressure", "60psi"))
    assert limits.rated is not None
    assert limits.relief is not None
    assert limits.rated.psig == pytest.approx(70.0)
    assert limits.relief.psig == pytest.approx(63.817, abs=1e-3)  # 1 bar is 14.503774 psi
    assert limits.lowest == (pytest.approx(60.0), "the mould's own casting pressure")


def test_limits_are_read_from_the_file_and_lowered_by_the_line(tmp_path: Path) -> None:
    place = pot(tmp_path, 'rated_pressure = "60psi"\nrelief_setting = "60psi"\n')
    limits = stated_limits(options("--pot", place, "--relief", "55psi", "--mould-pressure", "80psi"))
    assert limits.rated is not None
    assert limits.relief is not None
    assert limits.mould is not None
    assert [round(each.psig, 6) for each in (limits.rated, limits.relief, limits.mould)] == [60.0, 55.0, 80.0]


def test_the_same_limit_twice_is_no_fault(tmp_path: Path) -> None:
    place = pot(tmp_path, 'rated_pressure = "60psi"\n')
    limits = stated_limits(options("--pot", place, "--rated", "60psi"))
    assert limits.rated is not None
    assert limits.rated.psig == pytest.approx(60.0)


@pytest.mark.parametrize(
    ("option", "key"), [("--rated", "rated_pressure"), ("--relief", "relief_setting"), ("--mould-pressure",) * 2]
)
def test_the_line_never_raises_a_limit_of_the_file(tmp_path: Path, option: str, key: str) -> None:
    key = key.removeprefix("--").replace("-", "_")
    place = pot(tmp_path, f'{key} = "60psi"\n')
    with pytest.raises(InputError) as caught:
        stated_limits(options("--pot", place, option, "60.1psi"))
    assert str(caught.value) == (
        f"{option} 60.1psi is above {key} in {place}, 60 psi: "
        "an option may only lower it; go by the plate, and mend the file if it is wrong"
    )


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("70", "--rated 70 has no unit"),
        ("4 bar", "--rated 4 bar does not say what it counts from"),
        ("85psia", "--rated 85psia counts from vacuum, and plates count from the air"),
        ("0psi", "--rated 0psi is no limit of a casting pot"),
        ("700psi", "--rated 700psi is no limit of a casting pot"),
    ],
)
def test_a_limit_that_no_plate_states_is_one_line(text: str, line: str) -> None:
    with pytest.raises(UnitError) as caught:
        stated_limits(options("--rated", text))
    assert str(caught.value).startswith(line)
