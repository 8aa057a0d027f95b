"""`bubblegrade hold`, from the command line to what it prints and leaves."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import cv2
import pytest
from click.testing import CliRunner, Result
from jsonschema import Draft202012Validator

from bubblegrade.commands import main
from bubblegrade.drawn.dials import DialFace, Shot, photograph
from tests.command_line import refused_with
from tests.schemas import schema_of

FILES = ["hold.json", "hold.png", "hold.svg", "readings.csv"]
TIGHT = ("0min=60psi@24C", "12h=60psi@24C", "--settled", "20min", "--graduation", "1psi")
POT = """
rated_pressure = "65psi"
gauge_range = "0-100 psi"
gauge_class = "B"
free_volume = "7.5l"
last_inspection = 2025-03-31
"""


def hold(*arguments: str | Path) -> Result:
    """Run the command."""
    return CliRunner().invoke(main, ["hold", *(str(argument) for argument in arguments)])


def record(*arguments: str | Path, status: int = 0) -> dict[str, Any]:
    """Return what --json prints, checked against its schema."""
    result = hold(*arguments, "--json")
    assert result.exit_code == status, result.output
    found: dict[str, Any] = json.loads(result.stdout)
    Draft202012Validator(schema_of("hold")).validate(found)
    return found


def test_a_time_below_0_is_not_taken_for_a_pressure() -> None:
    refused_with(
        hold("0min=60psi", "-12h=59psi"), "-12h=59psi is below 0, and no option: times and numbers here are 0 or above"
    )


def test_the_status_is_the_verdict() -> None:
    assert record(*TIGHT)["verdict"] == "holds"
    assert record("0min=60psi@24C", "1h=50psi@24C", "--settled", "20min", status=1)["verdict"] == "leaks"
    assert record("0min=60psi@24C", "5min=60psi@24C", "--release", "12h", status=3)["verdict"] == "cannot be told"


def test_the_pot_file_brings_limits_dial_volume_and_inspection(tmp_path: Path) -> None:
    (tmp_path / "pot.toml").write_text(POT, "utf-8")
    found = record("2026-03-31T08:00=60psi@24C", "2026-03-31T20:00=60psi@24C", "--pot", tmp_path / "pot.toml")
    assert found["pot"]["rated_psig"] == pytest.approx(65.0)
    assert found["dial"]["grade"] == "B"
    assert found["leak_std_cm3_min"] is not None
    assert any("2025-03-31, 1.0 years before this test" in each["text"] for each in found["advice"])
    stopped = hold("0min=66psi", "1h=65psi", "--pot", tmp_path / "pot.toml", "--out", tmp_path / "H")
    assert stopped.exit_code == 1
    assert "STOP: 66 psi is above the pot's rated" in stopped.stdout
    assert "Take care:" in stopped.stdout
    assert not (tmp_path / "H").exists()
    refused_with(
        hold("0min=60psi", "1h=59psi", "--pot", tmp_path / "pot.toml", "--rated", "70psi"), "--rated 70psi is above"
    )


def test_options_say_what_the_file_does_not() -> None:
    found = record(
        *TIGHT, "--range", "0-160 psi", "--class", "1.6", "--free-volume", "9l", "--temperature-doubt", "0.9F"
    )
    assert (found["dial"]["high_psig"], found["dial"]["grade"], found["dial"]["assumed"]) == (160.0, "1.6", False)
    assert found["pot"]["free_volume_cm3"] == 9000.0
    assert found["temperature_err_k"] == pytest.approx(0.5, abs=0.01)


def test_the_files_are_written_whole_and_again_only_when_told(tmp_path: Path) -> None:
    out = tmp_path / "out"
    assert hold(*TIGHT, "--out", out).exit_code == 0
    assert sorted(path.name for path in out.iterdir()) == FILES
    assert json.loads((out / "hold.json").read_text("utf-8"))["files"] == FILES
    refused_with(hold(*TIGHT, "--out", out), f"{out} holds a result already (hold.json)")
    before = (out / "hold.svg").read_bytes()
    assert hold(*TIGHT, "--out", out, "--replace").exit_code == 0
    assert (out / "hold.svg").read_bytes() == before


def test_a_sheet_gives_the_same_as_the_line(tmp_path: Path) -> None:
    (tmp_path / "log.csv").write_text("time;gauge;temperature\n0min;60psi;24C\n12h;60psi;24C\n", "utf-8")
    options = TIGHT[2:]
    assert record("--sheet", tmp_path / "log.csv", *options) == record(*TIGHT)


@pytest.mark.parametrize(
    ("arguments", "line"),
    [
        ((), "no reading is given: write 0min=60psi@24C"),
        (("0min=60psi", "--sheet", "a.csv"), "readings are given here and in a.csv"),
        (("0min=60psi",), "one reading shows no drop"),
        (
            ("0min=60psi@296C", "1h=60psi@296C"),
            "temperature 296 C is not that of the air in a pot: if it counts in kelvin",
        ),
        (("1h=60psi", "0min=60psi"), "the reading of 60 psi is not later"),
        ((*TIGHT, "--class", "B"), "--class is a share of the dial's span: add --range"),
        (
            (*TIGHT, "--range", "100"),
            '--range 100 is no range with a unit: write what the dial spans, such as "0-100 psi"',
        ),
        ((*TIGHT, "--range", "0-100 psi", "--class", "E"), "--class = 'E' is no class of a gauge"),
        ((*TIGHT, "--allowed", "0psi"), "--allowed 0psi is not above zero"),
        ((*TIGHT, "--temperature-doubt", "0C"), "--temperature-doubt 0C is out of range"),
        ((*TIGHT, "--sweep", "400deg"), "--sweep 400deg is no scale of a dial"),
        (("0min=a.jpg", "1h=b.jpg"), "a dial in photographs needs its range"),
        (("0min=a.jpg", "1h=b.jpg", "--range", "0-100 psi"), "say once what the dial shows in the first photograph"),
        (("0min=a.jpg", "1h=60psi", "--range", "0-100 psi", "--shows", "60psi"), "reading 1h=60psi has no photograph"),
        (("0min=a.jpg", "1h=b.jpg", "--range", "0-100 psi", "--shows", "60psi"), "a.jpg does not exist"),
    ],
)
def test_what_cannot_be_used_ends_with_one_line(arguments: tuple[str, ...], line: str) -> None:
    refused_with(hold(*arguments), line)


def test_photographs_of_the_dial_stand_for_readings(tmp_path: Path) -> None:
    for name, deg, seed in (("before.png", 162.0, 1), ("after.png", 135.0, 2)):
        photo = photograph(DialFace(), Shot(needle_deg=deg, radius_px=220.0, tilt_deg=8.0 * (seed - 1)), seed)
        cv2.imwrite(str(tmp_path / name), photo)
    readings = (f"0min={tmp_path}/before.png@24C", f"2h={tmp_path}/after.png@24C")
    found = record(*readings, "--range", "0-100 psi", "--shows", "60psi", status=1)
    last = found["readings"][1]
    assert last["needle_deg"] == pytest.approx(-27.0, abs=0.5)
    assert last["gauge_psig"] == pytest.approx(50.0, abs=0.2)
    assert last["source"] == "after.png"
    (tmp_path / "log.csv").write_text("time,photo,gauge\n0,before.png,60psi\n2h,after.png,50psi\n", "utf-8")
    refused_with(
        hold("--sheet", tmp_path / "log.csv", "--range", "0-100 psi"), f"{tmp_path}/log.csv line 3 has a photograph and"
    )


@pytest.mark.parametrize("left_psig", [5.0, 0.0, -0.3])
def test_a_needle_that_fell_by_more_than_half_a_circle_is_followed_down_and_not_off_the_dial(
    tmp_path: Path, left_psig: float
) -> None:
    """Down to its stop, which it may seem to lie below."""
    for name, deg, seed in (("before.png", 229.5, 1), ("after.png", 2.7 * left_psig, 2)):
        cv2.imwrite(str(tmp_path / name), photograph(DialFace(), Shot(needle_deg=deg, radius_px=220.0), seed))
    readings = (f"0min={tmp_path}/before.png@24C", f"12h={tmp_path}/after.png@24C")
    last = record(*readings, "--range", "0-100 psi", "--shows", "85psi", status=1)["readings"][1]
    assert last["needle_deg"] == pytest.approx(2.7 * left_psig - 229.5, abs=last["needle_err_deg"])
    assert last["gauge_psig"] == pytest.approx(left_psig, abs=0.5)


def test_help_is_light() -> None:
    code = "import sys, bubblegrade.commands.hold; print(sorted({'numpy', 'scipy', 'cv2'} & set(sys.modules)))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
