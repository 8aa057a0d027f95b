"""`bubblegrade weigh`, from the command line to its record."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from jsonschema import Draft202012Validator

from bubblegrade.commands import main
from bubblegrade.results.weigh import schema_text

USUAL = ("--air", "25.00g", "--water", "3.26g@23C")


def weigh(*arguments: str | Path) -> Result:
    """Run the command."""
    return CliRunner().invoke(main, ["weigh", *map(str, arguments)], env={"COLUMNS": "120"})


def record_of(result: Result) -> dict[str, object]:
    """Return the printed record, checked against its schema."""
    record = json.loads(result.stdout)
    Draft202012Validator(json.loads(schema_text())).validate(record)
    assert isinstance(record, dict)
    return record


def test_density_void_content_and_master_are_told_with_what_they_cannot_see() -> None:
    result = weigh(*USUAL, "--reference", "1.150g/cm3", "--master", "25.4g", "--ballast", "lead")
    assert result.exit_code == 0, result.output
    for words in ("1147.1", "voids by weight", "missing as ballast", "Fine bubbles it cannot see", "cannot be told by"):
        assert words in " ".join(result.stdout.split())


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
