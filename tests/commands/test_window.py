"""`bubblegrade window`, from the command line to the files it leaves."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from bubblegrade.commands import main
from tests.command_line import refused

USUAL = (
    "40psi",
    "60psi",
    "--gel-time",
    "20min@25C",
    "--mix",
    "3min",
    "--pour",
    "2min",
    "--close",
    "1min",
    "--fill",
    "30s",
)


def window(*arguments: str | Path) -> Result:
    """Run the command."""
    return CliRunner().invoke(main, ["window", *map(str, arguments)], env={"COLUMNS": "120"})


def test_the_report_says_how_long_is_left_and_what_is_left_to_see() -> None:
    result = window(*USUAL, "--viscosity", "600cP@25C", "--depth", "12mm")
    assert result.exit_code == 0, result.output
    assert "The pressure stands in time. It stands 6.5 min after the first stir" in result.stdout
    assert "left under pressure" in result.stdout
    assert "rises out from" in result.stdout
    assert "Uncured urethane holds isocyanates" in result.stdout


def test_a_pressure_that_is_written_in_two_units_is_one_row() -> None:
    result = window("2.76 bar gauge", *USUAL)
    assert "40.03 psi" in result.stdout
    assert " 40 psi" not in result.stdout


def test_without_a_viscosity_it_says_what_cannot_be_told() -> None:
    result = window(*USUAL)
    assert result.exit_code == 0
    assert "Which voids rise out cannot be told without the resin's viscosity" in result.stdout
    assert "rises out from" not in result.stdout


@pytest.mark.parametrize(("gel", "status"), [("20min", 0), ("7min", 3), ("4min", 1)])
def test_the_status_says_whether_the_pressure_stands_in_time(gel: str, status: int) -> None:
    assert window("60psi", "--gel-time", gel, "--mix", "5min", "--fill", "90s").exit_code == status


def test_a_pressure_above_a_limit_is_stopped_with_the_reason() -> None:
    result = window(*USUAL, "--rated", "50psi")
    assert result.exit_code == 1
    assert "STOP: 60 psi is above the pot's rated working pressure of 50 psi: do not cast at it." in result.stdout
    assert "visible at gel" not in result.stdout


def test_a_folder_gets_table_record_and_picture(tmp_path: Path) -> None:
    result = window(*USUAL, "--viscosity", "600cP", "--depth", "12mm", "--out", tmp_path / "W")
    assert result.exit_code == 0, result.output
    names = sorted(place.name for place in (tmp_path / "W").iterdir())
    assert names == ["window.csv", "window.json", "window.png", "window.svg"]
    record = json.loads((tmp_path / "W" / "window.json").read_text("utf-8"))
    assert record["files"] == names
    svg = (tmp_path / "W" / "window.svg").read_text("utf-8")
    assert "left to see" in svg
    assert "stroke" in svg
    assert "stroke-opacity" not in svg  # hatches over clear colours fade to nothing in a browser
    refused(window(*USUAL, "--out", tmp_path / "W"), "--replace")


def test_the_record_can_be_printed() -> None:
    result = window(*USUAL, "--json")
    record = json.loads(result.stdout)
    assert record["verdict"] == "in time"
    assert record["flow"] is None
    assert [row["pressure_psig"] for row in record["rows"]] == [0, 40, 60]


def test_two_gel_times_follow_arrhenius() -> None:
    result = window("60psi", "--gel-time", "52min@21C", "--gel-time", "18min@38C", "--room", "27C", "--json")
    assert json.loads(result.stdout)["gel_s"]["value"] / 60.0 == pytest.approx(35.2, abs=0.5)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("60psi",), ["no gel time is stated", "--gel-time 20min@25C"]),
        (("60psi", "--gel-time", "20"), ["--gel-time 20", "no unit"]),
        (("60psi", "--gel-time", "20min@298K"), ["--gel-time", "298K"]),
        ((*USUAL, "--viscosity", "600cP"), ["--viscosity says nothing alone", "--depth"]),
        ((*USUAL, "--viscosity", "600", "--depth", "12mm"), ["600 has no unit", "600cP"]),
        ((*USUAL, "--depth", "12mm", "--viscosity", "600cP", "--density", "1.1"), ["--density 1.1 has no unit"]),
        ((*USUAL, "--depth", "2m", "--viscosity", "600cP"), ["--depth 2m is more than 1000mm"]),
        ((*USUAL, "--diffusivity", "1e-11"), ["--diffusivity needs --solubility, --saturation too"]),
        ((*USUAL, "--activation", "fast"), ["--activation fast is not a number"]),
        ((*USUAL, "--gel-time", "30min@25C"), ["both gel times are at one temperature"]),
        (("300kPa", "--gel-time", "20min"), ["300kPa"]),
    ],
)
def test_what_cannot_be_used_is_one_line(arguments: tuple[str, ...], words: list[str]) -> None:
    refused(window(*arguments), *words)
