"""`bubblegrade expect`, from the command line to what it prints and leaves."""

from __future__ import annotations

import csv
import json
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result
from jsonschema import Draft202012Validator

from bubblegrade.commands import main
from bubblegrade.pressure.cautions import PRESSURE, RESIN
from tests.command_line import imported_by, refused_with
from tests.schemas import schema_of

FILES = ["expect.csv", "expect.json", "expect.png", "expect.svg"]
DISSOLVE = ("--dissolve", "--diffusivity", "1e-10", "--solubility", "0.1", "--saturation", "1", "--gel-time", "20min")


def expect(*arguments: str | Path) -> Result:
    """Run the command."""
    return CliRunner().invoke(main, ["expect", *(str(argument) for argument in arguments)])


def record(*arguments: str | Path, status: int = 0) -> dict[str, Any]:
    """Return what --json prints, checked against its schema."""
    result = expect(*arguments, "--json")
    assert result.exit_code == status, result.output
    found: dict[str, Any] = json.loads(result.stdout)
    Draft202012Validator(schema_of("expect")).validate(found)
    return found


def rows(*arguments: str | Path, status: int = 0) -> dict[float, dict[str, float]]:
    """Return the rows that --json prints, by pressure."""
    return {row["pressure_psig"]: row for row in record(*arguments, status=status)["rows"]}


# The prediction


# Ratios from gauge settings at sea level, computed: p/p0 2.36092, 3.72184, 5.08276, 6.44368
@pytest.mark.parametrize(
    ("psig", "volume", "diameter", "area", "began"),
    [
        (20.0, 0.42356, 0.75100, 0.564, 0.133),
        (40.0, 0.26868, 0.64528, 0.416, 0.155),
        (60.0, 0.19674, 0.58161, 0.338, 0.172),
        (80.0, 0.15519, 0.53739, 0.289, 0.186),
    ],
)
def test_rows_are_those_of_the_trade_table(
    psig: float, volume: float, diameter: float, area: float, began: float
) -> None:
    row = rows("80psi", "--size", "0.1mm")[psig]
    assert row["volume_share"] == pytest.approx(volume, abs=6e-6)
    assert row["diameter_share"] == pytest.approx(diameter, abs=6e-6)
    assert row["area_share"] == pytest.approx(area, abs=6e-4)
    assert row["began_mm"] == pytest.approx(began, abs=6e-4)
    assert row["becomes_mm"] == pytest.approx(0.1 * diameter, abs=1e-6)


def test_each_further_15_psi_takes_a_half_a_third_and_a_quarter() -> None:
    # common practice, where open air counts as 15 psi absolute
    found = rows("45psi")
    volumes = [found[psig]["volume_share"] for psig in (0.0, 15.0, 30.0, 45.0)]
    taken = [1.0 - after / before for before, after in pairwise(volumes)]
    assert taken == pytest.approx([0.50, 0.33, 0.25], abs=0.011)


# ISO 2533:1975, geometric altitude; diameter left at 60 psi, computed (0.5537 also by trade tables)
@pytest.mark.parametrize(("altitude", "left"), [("1000m", 0.56303), ("1500m", 0.55366), ("3000m", 0.52529)])
def test_altitude_lets_pressure_do_more(altitude: str, left: float) -> None:
    assert rows("60psi", "--altitude", altitude)[60.0]["diameter_share"] == pytest.approx(left, abs=1e-4)


def test_a_barometer_says_the_same_as_the_altitude_it_was_read_at() -> None:
    assert rows("60psi", "--barometer", "845.597hPa")[60.0] == rows("60psi", "--altitude", "1500m")[60.0]


def test_from_another_setting_both_are_counted_from_vacuum() -> None:
    found = record("40psi", "--from", "20psi")
    assert found["rows"][0]["diameter_share"] == 1.0
    assert found["rows"][-1]["diameter_share"] == pytest.approx(0.859227, abs=1e-6)  # by the dial alone: 0.7937


def test_a_void_seen_under_pressure_was_as_large_at_open_air_as_makes_it_so() -> None:
    was = rows("60psi", "--size", "0.2mm")[60.0]["began_mm"]
    assert rows("60psi", "--size", f"{was}mm")[60.0]["becomes_mm"] == pytest.approx(0.2, rel=1e-5)


def test_warm_gas_is_larger_at_gel() -> None:
    # combined gas law, computed: 25 to 60 C makes diameters 1.038 times as large
    warm, even = (rows("60psi", "--close", "25C", "--gel", gel)[60.0]["diameter_share"] for gel in ("60C", "77F"))
    assert warm / even == pytest.approx(1.038, abs=5e-4)


# Young and Laplace, 0.035 N/m, open air to 60 psi, computed
@pytest.mark.parametrize(("size", "left"), [("1um", 0.69586), ("10um", 0.59832)])
def test_surface_tension_is_included_below_50_micrometres_and_said(size: str, left: float) -> None:
    row = rows("60psi", "--size", size)[60.0]
    assert row["becomes_mm"] / float(size[:-2]) * 1000.0 == pytest.approx(left, abs=1e-5)
    assert "The sizes include a surface tension of 0.035 N/m" in expect("60psi", "--size", size).stdout
    assert record("60psi", "--size", "0.05mm")["tension_n_per_m"] == 0.0
    assert record("60psi", "--size", "0.05mm", "--tension", "0.04")["tension_n_per_m"] == 0.04
    assert "surface tension" not in expect("60psi", "--size", "0.05mm").stdout


def test_a_dissolving_void_ends_smaller_and_a_small_one_is_gone() -> None:
    large = rows("60psi", "--size", "1mm", *DISSOLVE)[60.0]
    assert 0.0 < large["dissolved_mm"] < large["becomes_mm"]
    assert rows("60psi", "--size", "0.1mm", *DISSOLVE)[60.0]["dissolved_mm"] == 0.0
    said = expect("60psi", "--size", "0.1mm", *DISSOLVE).stdout
    assert "gone" in said
    assert "Epstein and Plesset" in said


def test_steps_are_5_psi_and_what_is_asked_for_is_a_row_and_marked() -> None:
    found = record("12psi", "20psi")["rows"]
    assert [row["pressure_psig"] for row in found] == [0.0, 5.0, 10.0, 12.0, 15.0, 20.0]
    assert [row["pressure_psig"] for row in found if row["asked"]] == [12.0, 20.0]
    marked = [line.split()[1] for line in expect("12psi", "20psi").stdout.splitlines() if line.startswith(">")]
    assert marked == ["12", "20"]


def test_the_gain_is_what_the_next_row_shows() -> None:
    found = rows("60psi")
    assert 1.0 - found[5.0]["diameter_share"] == pytest.approx(found[0.0]["next_5psi_gain_share"], abs=1e-5)


# Limits


@pytest.mark.parametrize(
    ("option", "words"),
    [
        ("--rated", "the pot's rated working pressure"),
        ("--relief", "the relief valve's setting"),
        ("--mould-pressure", "the mould's own casting pressure"),
    ],
)
def test_above_a_limit_there_is_a_stop_and_no_row(option: str, words: str) -> None:
    result = expect("40psi", "60psi", option, "50psi")
    assert result.exit_code == 1
    assert " ".join(result.stdout.split()).startswith(f"STOP: 60 psi is above {words} of 50 psi: do not cast at it.")
    found = record("40psi", "60psi", option, "50psi", status=1)
    assert max(row["pressure_psig"] for row in found["rows"]) == 50.0
    assert found["rows"][-1]["next_5psi_gain_share"] is None  # that step would pass the limit
    assert found["stopped"]


def test_at_a_limit_is_not_above_it() -> None:
    assert max(rows("60psi", "--rated", "60psi", "--mould-pressure", "413.69 kPa gauge")) == 60.0


def test_a_relief_valve_above_the_rating_leaves_no_row() -> None:
    found = record("40psi", "--rated", "60psi", "--relief", "70psi", status=1)
    assert found["rows"] == []
    assert "have one fitted" in found["advice"][0]["text"]


def test_the_pot_s_file_limits_too(tmp_path: Path) -> None:
    (tmp_path / "pot.toml").write_text('rated_pressure = "50psi"\n', "utf-8")
    assert max(rows("60psi", "--pot", tmp_path / "pot.toml", status=1)) == 50.0


def test_without_a_rating_the_plate_decides() -> None:
    assert "the one on the pot's plate decides" in " ".join(expect("60psi").stdout.split())
    assert "plate decides" not in expect("60psi", "--rated", "70psi").stdout.split("Take care")[0]


def test_a_start_above_a_limit_leaves_no_row(tmp_path: Path) -> None:
    result = expect("60psi", "--from", "55psi", "--rated", "50psi", "--out", tmp_path)
    assert result.exit_code == 1
    assert sorted(place.name for place in tmp_path.iterdir()) == ["expect.csv", "expect.json"]


@pytest.mark.parametrize("more", [(), ("--rated", "50psi"), ("--plan",), ("--plan", "--rated", "50psi")])
def test_cautions_stand_wherever_a_pressure_is_printed(more: tuple[str, ...]) -> None:
    result = expect("40psi", "60psi", *more)
    lines = result.stdout.splitlines()
    assert all(f"- {each.text}" in lines for each in PRESSURE)
    assert {f"- {each.text}" in lines for each in RESIN} == {more == ("--plan",)}
    assert "safe" not in result.stdout.lower()
    assert record("40psi", "60psi", *more, status=result.exit_code)["cautions"]


# Files


def test_files_are_those_that_the_record_lists_and_agree(tmp_path: Path) -> None:
    result = expect("40psi", "60psi", "--size", "0.2mm", "--out", tmp_path / "R", "--json")
    assert result.exit_code == 0
    assert sorted(place.name for place in (tmp_path / "R").iterdir()) == FILES
    assert (tmp_path / "R" / "expect.json").read_text("utf-8") == result.stdout
    found = json.loads(result.stdout)
    assert found["files"] == FILES
    with (tmp_path / "R" / "expect.csv").open(encoding="utf-8", newline="") as file:
        table = list(csv.DictReader(file))
    assert [float(row["becomes_mm"]) for row in table] == [row["becomes_mm"] for row in found["rows"]]
    assert [row["dissolved_mm"] for row in table] == [""] * len(table)
    assert "40 psi: 64.5 % of the diameter" in (tmp_path / "R" / "expect.svg").read_text("utf-8")


def test_the_same_request_gives_the_same_bytes(tmp_path: Path) -> None:
    for name in ("one", "other"):
        expect("40psi", "--out", tmp_path / name)
    for name in FILES:
        assert (tmp_path / "one" / name).read_bytes() == (tmp_path / "other" / name).read_bytes()


def test_an_earlier_prediction_is_replaced_only_when_asked_to(tmp_path: Path) -> None:
    (tmp_path / "run.json").write_text("{}")  # of photographs that were graded into the same folder
    assert expect("40psi", "--out", tmp_path).exit_code == 0
    refused_with(expect("0psi", "--out", tmp_path), f"{tmp_path} holds a result already (expect.json): add --replace")
    assert expect("0psi", "--out", tmp_path, "--replace").exit_code == 0
    assert sorted(place.name for place in tmp_path.iterdir()) == ["expect.csv", "expect.json", "run.json"]


# The plan


def test_a_plan_says_how_many_cups_and_mixes() -> None:
    found = record("40psi", "60psi", "--plan", "--median", "0.4mm", "--smallest", "0.19mm")["plan"]
    one, every = found["one_mix_over_both"], found["a_mix_for_every_cup"]
    assert one["mixes"] == 3
    assert one["cups_per_setting"] % 3 == 0
    assert one["cups_per_setting"] < every["cups_per_setting"]
    assert found["difference_share"] == pytest.approx(1.0 / 0.9013 - 1.0, abs=2e-4)  # 40 to 60 psi, computed: x0.901
    said = " ".join(expect("40psi", "60psi", "--plan").stdout.split())
    assert "To tell 40 psi from 60 psi in 90 % of such trials" in said
    assert "One mix over all pressures" in said
    assert "Repeat with 3 mixes" in said
    assert "5.0 % from cup to cup (assumed)" in said


def test_a_setting_that_is_written_in_two_units_counts_once() -> None:
    arguments = ("40psi", "2.76 bar gauge", "60psi", "--plan")
    assert record(*arguments)["plan"] == record("40psi", "60psi", "--plan")["plan"]
    assert "To tell 40 psi from 60 psi" in " ".join(expect(*arguments).stdout.split())


def test_a_number_may_have_a_decimal_comma() -> None:
    arguments = ("40psi", "60psi", "--plan", "--cup-spread")
    assert record(*arguments, "0,08")["plan"] == record(*arguments, "0.08")["plan"]


def test_a_pot_file_may_begin_with_a_byte_order_mark(tmp_path: Path) -> None:
    (tmp_path / "pot.toml").write_text('rated_pressure = "50psi"\n', "utf-8-sig")
    assert expect("60psi", "--pot", tmp_path / "pot.toml").exit_code == 1


def test_a_precision_is_met() -> None:
    found = record("0psi", "60psi", "--plan", "--precision", "5%")["plan"]
    assert found["one_mix_over_both"]["half_width_share"] <= 0.05
    assert found["chance_share"] is None
    assert found == record("0psi", "60psi", "--plan", "--precision", "0.05")["plan"]
    assert "To know the ratio of 0 psi and 60 psi to 5.0 %" in " ".join(
        expect("0psi", "60psi", "--plan", "--precision", "5%").stdout.split()
    )


def test_a_measured_spread_takes_the_place_of_the_assumed_one(tmp_path: Path) -> None:
    (tmp_path / "trial.json").write_text('{"cup_spread": 0.12}')
    found = record("40psi", "60psi", "--plan", "--trial", tmp_path / "trial.json")["plan"]
    assert found["assumed"]["cup_spread_measured"]
    stated = record("40psi", "60psi", "--plan", "--cup-spread", "0.12")["plan"]
    assert found["one_mix_over_both"] == stated["one_mix_over_both"]
    said = " ".join(expect("40psi", "60psi", "--plan", "--trial", tmp_path / "trial.json").stdout.split())
    assert "12.0 % from cup to cup (measured in an earlier trial)" in said


@pytest.mark.parametrize(("spread", "warnings"), [("0.001", 1), ("0.03", 0)])
def test_a_measured_spread_that_drowns_in_the_voids_is_called_hardly_known(
    tmp_path: Path, spread: str, warnings: int
) -> None:
    (tmp_path / "trial.json").write_text(f'{{"cup_spread": {spread}}}')
    said = " ".join(expect("40psi", "60psi", "--plan", "--trial", tmp_path / "trial.json").stdout.split())
    assert said.count("is hardly known: plan with --cup-spread 0.05 as well") == warnings
    assert "hardly known" not in " ".join(expect("40psi", "60psi", "--plan", "--cup-spread", spread).stdout.split())


def test_a_plan_beyond_reach_without_blocks_says_so() -> None:
    arguments = ("55psi", "60psi", "--plan", "--mix-spread", "0.8")
    assert record(*arguments)["plan"]["a_mix_for_every_cup"] is None
    assert "more than 1000 cups" in " ".join(expect(*arguments).stdout.split())


def test_above_a_limit_nothing_is_planned() -> None:
    assert record("40psi", "60psi", "--plan", "--rated", "50psi", status=1)["plan"] is None


# What cannot be used


@pytest.mark.parametrize(
    ("arguments", "line"),
    [
        ((), "no pressure is named: name what the dial will show, such as 40psi"),
        (("40",), "pressure 40 has no unit"),
        (("4bar",), "pressure 4bar does not say what it counts from"),
        (("-5psi",), "-5psi is below 0: write a pressure below the atmosphere as an absolute one"),
        (("310psi",), "pressure 310 psi gauge is above 300 psi gauge"),
        (("3psia",), "pressure 3psia lies below the air around the pot: write 0psi for an open cup"),
        (("40psi", "--from", "60psi"), "40 psi lies below --from 60 psi"),
        (("40psi", "--altitude", "1500m", "--barometer", "850hPa"), "altitude 1500 m and barometer 85 kPa are both"),
        (("40psi", "--size", "2m"), "--size 2m is more than 50mm: check its unit"),
        (("40psi", "--close", "24C"), "--close and --gel go together"),
        (("40psi", "--close", "24", "--gel", "30C"), "--close 24 has no unit: write 24C or 75F"),
        (("40psi", "--close", "24C", "--gel", "400C"), "--gel 400 C is no resin's"),
        (("40psi", "--tension", "0.03"), "--tension acts on a void of known size: add --size"),
        (("40psi", "--size", "1mm", "--tension", "35"), "--tension 35 is out of range: give 0.001 to 0.1"),
        (("40psi", "--dissolve"), "--dissolve needs --size, --diffusivity, --solubility, --saturation, --gel-time"),
        (("40psi", "--gel-time", "9min"), "--gel-time says nothing without --dissolve"),
        (("40psi", "--size", "1mm", *DISSOLVE[:-1], "20"), "--gel-time 20 has no unit: write 20min, 900s or 12h"),
        (("40psi", "--voids", "9"), "--voids says nothing without --plan"),
        (("40psi", "--plan"), "--plan tells two settings apart, and 1 is named: name two pressures"),
        (("40psi", "40psi", "--plan"), "--plan tells two settings apart, and 1 is named (pressures within 1% are one)"),
        (("40psi", "2.76 bar gauge", "--plan"), "--plan tells two settings apart, and 1 is named (pressures within 1"),
        (("40psi", "50psi", "60psi", "--plan"), "--plan tells two settings apart, and 3 are named"),
        (("0psi", "9psi", "--plan", "--median", "1mm"), "--median and --smallest go together"),
        (("0psi", "9psi", "--plan", "--median", "1mm", "--smallest", "1mm"), "--smallest 1mm is not below --median"),
        (("0psi", "9psi", "--plan", "--cup-spread", "0,05x"), "--cup-spread 0,05x is not a number: give 0 to 2"),
        (("0psi", "9psi", "--plan", "--voids", "1,000"), "1,000 can be read in two ways: write 1.000 or 1000"),
        (("0psi", "9psi", "--plan", "--mixes", "2"), "2 mixes are too few to pour over both settings"),
        (("0psi", "9psi", "--plan", "--mixes", "3.5"), "--mixes 3.5 is no whole number"),
        (("0psi", "9psi", "--plan", "--voids", "many"), "--voids many is not a number: give 2 to 1e+06"),
        (("0psi", "9psi", "--plan", "--precision", "0%"), "--precision 0 is out of range: give 0.1 to 100"),
        (("0psi", "9psi", "--plan", "--cup-spread", "0.1", "--trial", "t.json"), "--cup-spread and --trial both say"),
        (("0psi", "9psi", "--plan", "--trial", "none.json"), "none.json cannot be opened"),
    ],
)
def test_what_cannot_be_used_is_one_line(arguments: tuple[str, ...], line: str) -> None:
    refused_with(expect(*arguments), line)


# Help


@pytest.mark.parametrize("arguments", [["--help"], ["expect", "--help"], ["expect"]])
def test_help_waits_for_no_heavy_library(arguments: list[str]) -> None:
    _, imported = imported_by(*arguments)
    assert not {"numpy", "cv2", "scipy", "matplotlib", "rich"} & imported


@pytest.mark.parametrize("arguments", [["expect", "60psi"], ["window", "60psi", "--gel-time", "20min@25C"]])
def test_what_needs_no_picture_and_no_statistics_waits_for_none(arguments: list[str]) -> None:
    printed, imported = imported_by(*arguments)
    assert "psi" in printed
    assert not {"matplotlib", "scipy.optimize", "scipy.stats", "scipy.integrate"} & imported


def test_help_lists_the_command_with_its_line() -> None:
    result = CliRunner().invoke(main, ["--help"])
    assert "expect Predict what pressure leaves of a void, or plan a trial." in " ".join(result.stdout.split())


def test_one_pressure_written_in_several_units_is_one_row() -> None:
    found = rows("40psi", "2.76 bar gauge", "276kPa gauge", "41psi")
    near = [psig for psig in found if 38.0 < psig < 44.0]
    assert near == pytest.approx([40.0, 41.0])
    assert [row["pressure_psig"] for row in record("2.76 bar gauge", "40psi")["rows"]][-1] == pytest.approx(
        40.03, abs=0.01
    )
    stopped = record(
        "40psi", "2.76 bar gauge", "--rated", "40.01psi", status=1
    )  # every pressure asked for is held to the limits
    assert stopped["stopped"]
