"""`bubblegrade weigh`, from the command line to its record."""

from __future__ import annotations

import json
import math
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from jsonschema import Draft202012Validator

from bubblegrade.commands import main
from tests.schemas import schema_of

USUAL = ("--air", "25.00g", "--water", "3.26g@23C")


def weigh(*arguments: str | Path) -> Result:
    """Run the command."""
    return CliRunner().invoke(main, ["weigh", *map(str, arguments)], env={"COLUMNS": "120"})


def record_of(result: Result) -> dict[str, object]:
    """Return the printed record, checked against its schema."""
    record = json.loads(result.stdout)
    Draft202012Validator(schema_of("weigh")).validate(record)
    assert isinstance(record, dict)
    return record


def test_density_void_content_and_master_are_told_with_what_they_cannot_see() -> None:
    result = weigh(*USUAL, "--reference", "1.150g/cm3", "--master", "25.4g", "--ballast", "lead")
    assert result.exit_code == 0, result.output
    for words in ("1146.9", "voids by weight", "missing as ballast", "Fine bubbles it cannot see", "cannot be told by"):
        assert words in " ".join(result.stdout.split())


def test_what_is_written_coarsely_is_known_no_better() -> None:
    # One step of 0.01 oz is 0.2835 g; its two readings round and repeat: 0.2835 / sqrt(12) x sqrt(4) = 0.164 g.
    def half_share(*said: str) -> float:
        found = record_of(weigh(*said, "--json"))["void_share"]
        assert isinstance(found, dict)
        return float(found["high"] - found["low"]) / 2.0

    ounces = ("--air", "1.00oz", "--water", "0.11oz@23C")
    grams = ("--air", "28.35g", "--water", "3.12g@23C")
    exact = ("--reference", "1150.0kg/m3")
    # d = a / (a - b): its relative variance is (b / (a - b))^2 of a's, and that of b's reading over a - b
    reading, air, under = 0.2835 * (4.0 / 12.0) ** 0.5, 28.35, 25.23
    expected = 1.96 * math.hypot((1.0 / under - 1.0 / air) * reading, reading / under)
    assert half_share(*ounces, *exact) == pytest.approx(expected, rel=0.1)
    assert half_share(*grams, *exact) < 0.002
    stated = half_share(*ounces, *exact, "--resolution", "0.001oz")
    assert stated < 0.2 * expected
    # A density of 1.15 g/cm3 lies anywhere from 1.145 to 1.155: 10 / sqrt(12) kg/m3, 0.25 %, one sigma.
    assert half_share(*grams, "--reference", "1.15g/cm3") == pytest.approx(1.96 * 2.887 / 1150.0, rel=0.1)


def test_a_piece_that_floats_has_one_density_whether_its_sinker_is_stated_or_tared_away() -> None:
    # 5 / (5 + 3 - 1.8) of water's 998.20 kg/m3 at 20 C (handbook), less and plus the air's 1.2
    for said in (("--water", "1.80g@20C", "--holder", "3.00g"), ("--water", "-1.20g@20C")):
        density = record_of(weigh("--air", "5.00g", *said, "--json"))["density_kg_m3"]
        assert isinstance(density, dict)
        assert density["value"] == pytest.approx(997.0 * 5.0 / 6.2 + 1.2, abs=0.05)


def test_a_piece_of_no_mass_is_refused() -> None:
    result = weigh("--air", "0g", "--water", "0")
    assert result.exit_code == 2
    assert result.stderr.startswith("bubblegrade: --air 0g is not above zero")


def test_without_a_reference_it_asks_for_one() -> None:
    result = weigh(*USUAL)
    assert result.exit_code == 0
    assert "The void content is not known without a reference" in result.stdout
    assert "voids by weight" not in result.stdout


def test_the_record_keeps_to_its_schema_full_and_bare() -> None:
    bare = record_of(weigh(*USUAL, "--json"))
    assert bare["void_share"] is None
    full = record_of(
        weigh(
            *USUAL,
            "--reference-air",
            "20.00g",
            "--reference-water",
            "2.66g@23C",
            "--master",
            "25.4g",
            "--ballast",
            "9g/cm3",
            "--json",
        )
    )
    assert full["void_share"] is not None
    assert full["master"] is not None


def test_the_photographs_voids_stand_beside_those_weighed(tmp_path: Path) -> None:
    cup = Path(__file__).parents[2] / "sample_images" / "cup-60psi-a.jpg"
    grade = ["grade", str(cup), "--out", str(tmp_path / "R"), "--width", "36mm", "--thickness", "12mm"]
    assert CliRunner().invoke(main, grade).exit_code == 0
    arguments = (*USUAL, "--reference", "1.150g/cm3", "--graded", tmp_path / "R")
    assert "The two are different things and are not to be merged." in " ".join(weigh(*arguments).stdout.split())
    run = json.loads((tmp_path / "R" / "run.json").read_text("utf-8"))
    (tmp_path / "R" / "run.json").write_text(json.dumps({**run, "castings": 2 * run["castings"]}), "utf-8")
    assert "say which with --photo, such as cup-60psi-a.jpg" in weigh(*arguments).stderr
    (tmp_path / "R" / "run.json").write_text(json.dumps(run), "utf-8")
    seen = record_of(weigh(*arguments, "--json"))["seen"]
    assert isinstance(seen, dict)
    assert seen["photo"] == "cup-60psi-a.jpg"
    # truth: the void volume of the sample over its volume of 12.2 cm3
    truth = (Path(__file__).parents[2] / "sample_images" / "truth.csv").read_text("utf-8").splitlines()
    columns = truth[0].split(",")
    across = [float(row.split(",")[columns.index("diameter_mm")]) for row in truth if row.startswith("cup-60psi-a")]
    share = sum(0.5236 * d**3 for d in across) / (3.1416 * 18.0**2 * 12.0)
    assert seen["share"]["low"] < share < seen["share"]["high"]


def test_a_folder_gets_the_record_once(tmp_path: Path) -> None:
    assert weigh(*USUAL, "--out", tmp_path / "W").exit_code == 0
    assert [place.name for place in (tmp_path / "W").iterdir()] == ["weigh.json"]
    again = weigh(*USUAL, "--out", tmp_path / "W")
    assert again.exit_code == 2
    assert "--replace" in again.stderr


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((), "nothing is weighed"),
        (("--air", "25g"), "--air alone tells nothing"),
        (("--air", "25", "--water", "3g"), "--air 25 has no unit"),
        ((*USUAL, "--ballast", "lead"), "add --master"),
        (("--air", "25g", "--water", "3g@296K"), "296K"),
        (("--air", "25g", "--water", "3g@296C"), "296 C"),
        (("--air", "3g", "--water", "25g"), "water lifts every piece"),
        ((*USUAL, "--reference", "1.15"), "--reference 1.15 has no unit"),
        ((*USUAL, "--reference", "1.0g/cm3"), "more than the 1000.0 kg/m3 of the reference"),
        ((*USUAL, "--reference-air", "20g"), "go together"),
        ((*USUAL, "--reference", "1.1g/cm3", "--reference-air", "20g", "--reference-water", "2g"), "both say"),
        ((*USUAL, "--ballast", "led", "--master", "24g"), "--ballast led is no ballast that is known"),
        (("--air", "25g", "--master", "24g"), "--master compares by volume too"),
        (("--air", "25g", "--master", "24g", "--reference", "1.1g/cm3", "--holder", "2g"), "--holder says nothing"),
        ((*USUAL, "--photo", "cup.jpg"), "add --graded DIR"),
        ((*USUAL, "--graded", "nowhere"), "cannot be opened"),
    ],
)
def test_what_cannot_be_used_is_one_line(arguments: tuple[str, ...], words: str) -> None:
    result = weigh(*arguments)
    assert result.exit_code == 2, result.output
    (line,) = result.stderr.splitlines()
    assert words in line


def test_an_unstated_temperature_of_the_water_is_told_and_doubted() -> None:
    stated, unstated = (weigh("--air", "25.00g", "--water", water) for water in ("3.26g@23C", "3.26g"))
    assert "temperature is not stated: it is taken as 23 C, give or take 3 C" in " ".join(unstated.output.split())
    assert "not stated" not in stated.output
    widths = []
    for water in ("3.26g@23C", "3.26g"):
        found = json.loads(weigh("--air", "25.00g", "--water", water, "--json").stdout)["density_kg_m3"]
        widths.append(found["high"] - found["low"])
    assert widths[1] > 2.0 * widths[0]
