"""`bubblegrade shrink`, from the command line to the files it leaves."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from click.testing import Result
from jsonschema import Draft202012Validator

from tests.command_line import below, bubblegrade, refused, rows
from tests.schemas import schema_of

Photograph = Callable[..., Path]
DrawnTrial = Callable[..., list[str]]

SAMPLES = Path(__file__).parents[2] / "sample_images"
TABLES = ["castings.csv", "cups.csv", "run.json", "set-aside.csv", "settings.csv", "trial.json", "voids.csv"]
PICTURES = [
    f"{name}.{kind}" for name in ("gain", "sizes-at-each-setting", "sizes-by-pressure") for kind in ("png", "svg")
]
SCALE = ("--mm-per-px", "0.05")
ASKED = (*SCALE, "--rated", "70psi", "--thickness", "10mm", "--visible", "0.6mm")
CUPS = 2  # of each setting, in the trial that obeys Boyle's law


def record(folder: Path) -> dict[str, Any]:
    """Return what a result's trial.json holds."""
    held: dict[str, Any] = json.loads((folder / "trial.json").read_text("utf-8"))
    return held


@pytest.fixture(name="boyle", scope="module")
def _boyle(tmp_path_factory: pytest.TempPathFactory, drawn_trial: DrawnTrial) -> tuple[Path, Result]:
    """Return the result of a trial that obeys Boyle's law, drawn cups in `cups` beside it, and how it ended."""
    top = tmp_path_factory.mktemp("boyle")
    settings = drawn_trial(top / "cups", cups=CUPS)
    return top / "R", bubblegrade("shrink", *settings, "--out", top / "R", *ASKED)


@pytest.fixture(name="graded", scope="module")
def _graded(tmp_path_factory: pytest.TempPathFactory, drawn_trial: DrawnTrial) -> tuple[str | Path, ...]:
    """Return the options that take over gradings of drawn cups, for tests of what comes after grading."""
    top = tmp_path_factory.mktemp("graded")
    drawn_trial(top / "cups", cups=CUPS)
    bubblegrade("grade", top / "cups", "--out", top / "G", *SCALE, "--thickness", "10mm")
    return (*SCALE, "--thickness", "10mm", "--graded", top / "G")


@pytest.fixture(name="undrawn")
def _undrawn(monkeypatch: pytest.MonkeyPatch) -> None:
    """Leave out the plots, half the time of a trial that is graded, for tests of its words and numbers."""
    monkeypatch.setattr("bubblegrade.runs.trial.trial_pictures", lambda _: {})


# What comes out


def test_a_trial_says_by_what_its_cups_were_graded(boyle: tuple[Path, Result]) -> None:
    folder, _ = boyle
    graded, run = record(folder)["graded"], json.loads((folder / "run.json").read_text("utf-8"))
    assert graded == {"request": run["request"], "settings": run["settings"]}


def test_a_trial_that_obeys_boyle_s_law_agrees_with_it(boyle: tuple[Path, Result]) -> None:
    folder, result = boyle
    assert (result.exit_code, result.stderr) == (1, "")  # the target takes more than the pot bears
    assert "STOP: " in result.stdout
    assert result.stdout.startswith("The voids shrank as Boyle's law says, as far as these cups can tell.\n")
    held = record(folder)
    assert held["verdict"] == "agrees with Boyle"
    assert held["exponent"] == pytest.approx(1 / 3, abs=0.03)
    assert held["exponent_low"] < 1 / 3 < held["exponent_high"]
    assert [setting["setting"] for setting in held["settings"]] == ["0 psi", "20 psi", "60 psi"]


def test_it_leaves_the_files_of_the_contract(boyle: tuple[Path, Result]) -> None:
    folder, _ = boyle
    marked = [f"{psig}psi/{number}-marked.jpg" for psig in (0, 20, 60) for number in range(CUPS)]
    assert below(folder) == sorted([*TABLES, *PICTURES, *marked])
    run = json.loads((folder / "run.json").read_text("utf-8"))
    assert run["files"] == below(folder)
    for name, held in (("run", run), ("trial", record(folder))):
        assert [error.message for error in Draft202012Validator(schema_of(name)).iter_errors(held)] == []


def test_it_names_no_place_of_the_machine(boyle: tuple[Path, Result]) -> None:
    folder, result = boyle
    texts = [(folder / name).read_text("utf-8") for name in below(folder) if not name.endswith(("jpg", "png"))]
    assert all(str(folder.parent) not in text for text in [*texts, result.stdout])


def test_the_cautions_stand_below(boyle: tuple[Path, Result]) -> None:
    assert "Never open a lid, loosen a clamp" in " ".join(boyle[1].stdout.split())


def test_the_voids_are_those_that_grading_finds(boyle: tuple[Path, Result], graded: tuple[str | Path, ...]) -> None:
    (folder, _), grading = boyle, Path(graded[-1])
    for name in ("castings.csv", "voids.csv", "set-aside.csv", "60psi/1-marked.jpg"):
        assert (folder / name).read_bytes() == (grading / name).read_bytes()


@pytest.mark.usefixtures("undrawn")
def test_a_trial_at_half_the_pressure_shrank_less(
    tmp_path: Path, drawn_trial: DrawnTrial, graded: tuple[str | Path, ...]
) -> None:
    settings = drawn_trial(tmp_path / "cups", cups=CUPS, pressure_share=0.5)
    result = bubblegrade("shrink", *settings, "--out", tmp_path / "R", *graded)
    assert result.exit_code == 0, result.output
    held = record(tmp_path / "R")
    assert held["verdict"] == "shrank less"
    assert held["exponent"] == pytest.approx(0.23, abs=0.05)  # computed for half the gauge pressure
    assert held["effective_share"]["value"] == pytest.approx(0.5, abs=0.15)
    assert len(held["suspects"]) == 5
    assert "Suspects, the likeliest first:" in result.stdout


def test_the_sample_cups_run_through(tmp_path: Path) -> None:
    cups = ["0psi=cup-open-a.jpg,cup-open-b.jpg", "30psi=cup-30psi-a.jpg", "60psi=cup-60psi-a.jpg"]
    placed = [cup.replace("=", f"={SAMPLES}/").replace(",", f",{SAMPLES}/") for cup in cups]
    result = bubblegrade("shrink", *placed, "--out", tmp_path / "R", "--width", "36mm", "--json")
    held = json.loads(result.stdout)
    assert result.exit_code == (3 if held["verdict"] == "cannot be told" else 0)
    assert held["exponent_low"] < 1 / 3 < held["exponent_high"]
    assert result.stdout_bytes == (tmp_path / "R" / "trial.json").read_bytes()
    assert result.stderr == ""


@pytest.mark.usefixtures("undrawn")
def test_few_voids_cannot_tell_and_say_what_would(tmp_path: Path, drawn_trial: DrawnTrial) -> None:
    settings = drawn_trial(tmp_path / "cups", settings=(0, 20), cups=2, voids=12)
    result = bubblegrade("shrink", *settings, "--out", tmp_path / "R", *SCALE)
    assert result.exit_code == 3
    assert result.stdout.startswith("These cups cannot tell")
    assert "Advice: To tell it, cast" in result.stdout


def test_one_open_cup_and_one_from_the_pot_have_an_answer(
    tmp_path: Path, drawn_trial: DrawnTrial, graded: tuple[str | Path, ...]
) -> None:
    settings = drawn_trial(tmp_path / "cups", settings=(0, 60), cups=1)
    result = bubblegrade("shrink", *settings, "--out", tmp_path / "R", *graded, "--cup-spread", "0.04")
    assert result.exit_code == 0, result.output
    held = record(tmp_path / "R")
    assert held["verdict"] == "consistent with Boyle"
    assert (held["basis"], held["assumed_cup_spread"]) == ("assumed", 0.04)


def test_without_an_open_cup_sizes_are_relative_to_the_lowest(
    tmp_path: Path, drawn_trial: DrawnTrial, graded: tuple[str | Path, ...]
) -> None:
    settings = drawn_trial(tmp_path / "cups", settings=(20, 60), cups=1)
    result = bubblegrade("shrink", *settings, "--out", tmp_path / "R", *graded)
    assert record(tmp_path / "R")["reference"] == "20 psi"
    assert "There is no open cup: sizes are relative to the lowest setting." in result.stdout


def test_in_px_one_set_up_must_be_stated(tmp_path: Path, drawn_trial: DrawnTrial) -> None:
    settings = drawn_trial(tmp_path / "cups", settings=(0, 60), cups=1)
    refused(bubblegrade("shrink", *settings, "--out", tmp_path / "R"), "sizes would be in px", "--same-setup")
    result = bubblegrade("shrink", *settings, "--out", tmp_path / "R", "--same-setup")
    assert result.exit_code == 0, result.output
    held = record(tmp_path / "R")
    assert (held["unit"], held["decision"]) == ("px", None)
    assert "said to be the same" in result.stdout
    assert "gain.svg" not in below(tmp_path / "R")


@pytest.mark.usefixtures("undrawn")
def test_cups_above_the_rating_are_compared_and_get_a_stop(
    tmp_path: Path, drawn_trial: DrawnTrial, graded: tuple[str | Path, ...]
) -> None:
    settings = drawn_trial(tmp_path / "cups", settings=(0, 60), cups=1)
    (tmp_path / "pot.toml").write_text('rated_pressure = "50psi"\n')
    result = bubblegrade("shrink", *settings, "--out", tmp_path / "R", *graded, "--pot", tmp_path / "pot.toml")
    assert result.exit_code == 1, result.output
    assert "Take care:" in result.stdout
    assert "STOP: 60 psi is above the pot's rated working pressure of 50 psi: do not cast at it." in result.stdout
    assert "Advice:" not in result.stdout


@pytest.mark.usefixtures("undrawn")
def test_thin_air_makes_a_gauge_pressure_count_for_more(
    tmp_path: Path, drawn_trial: DrawnTrial, graded: tuple[str | Path, ...]
) -> None:
    settings = drawn_trial(tmp_path / "cups", settings=(0, 60), cups=1)
    bubblegrade("shrink", *settings, "--out", tmp_path / "R", *graded, "--altitude", "1500m")
    held = record(tmp_path / "R")
    assert held["atmosphere"] == {"kpa": pytest.approx(84.56, abs=0.01), "source": "altitude"}
    assert held["settings"][1]["boyle_diameter_ratio"] == pytest.approx(0.554, abs=0.001)  # computed, at 60 psi


# Sheets


@pytest.mark.usefixtures("undrawn")
def test_a_sheet_carries_its_words_into_the_outputs(
    tmp_path: Path, drawn_trial: DrawnTrial, graded: tuple[str | Path, ...]
) -> None:
    drawn_trial(tmp_path / "cups", settings=(0, 60), cups=2)
    sheet = tmp_path / "cups.csv"
    lines = ["\ufeffphoto;pressure;cup;recipe;mix"]
    lines += [
        f"cups/{psig}psi/{number}.png;{psig}psi;no. {number};slow;m{number}" for psig in (0, 60) for number in (0, 1)
    ]
    sheet.write_text("\n".join(lines), "utf-8")
    result = bubblegrade("shrink", "--sheet", sheet, "--out", tmp_path / "R", *graded)
    assert result.exit_code in {0, 3}, result.output
    assert [(row["photo"], row["cup"], row["recipe"], row["mix"]) for row in rows(tmp_path / "R" / "cups.csv")] == [
        ("0psi/0.png", "no. 0", "slow", "m0"),
        ("0psi/1.png", "no. 1", "slow", "m1"),
        ("60psi/0.png", "no. 0", "slow", "m0"),
        ("60psi/1.png", "no. 1", "slow", "m1"),
    ]


@pytest.mark.usefixtures("undrawn")
def test_recipes_are_compared_as_one_only_if_asked(
    tmp_path: Path, drawn_trial: DrawnTrial, graded: tuple[str | Path, ...]
) -> None:
    drawn_trial(tmp_path / "cups", settings=(0, 60), cups=1)
    sheet = tmp_path / "cups.csv"
    sheet.write_text("photo,pressure,recipe\ncups/0psi/0.png,0psi,slow\ncups/60psi/0.png,60psi,fast\n")
    arguments = ("shrink", "--sheet", sheet, "--out", tmp_path / "R", *graded)
    refused(bubblegrade(*arguments), "2 recipes (fast, slow)", "--across-recipes")
    result = bubblegrade(*arguments, "--across-recipes")
    assert result.exit_code == 0, result.output
    assert any("the fit presumes" in warning for warning in record(tmp_path / "R")["warnings"])


# Gradings taken over


def test_an_earlier_trial_is_not_graded_again_and_gives_the_same_bytes(
    boyle: tuple[Path, Result], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    folder, result = boyle
    before = {name: (folder / name).read_bytes() for name in below(folder)}
    monkeypatch.setattr("bubblegrade.runs.one.grade", None)  # to grade would be an error
    settings = [f"{psig}psi={folder.parent}/cups/{psig}psi" for psig in (0, 20, 60)]
    again = bubblegrade("shrink", *settings, "--out", folder, *ASKED, "--replace")
    assert (again.exit_code, again.stdout) == (result.exit_code, result.stdout)
    assert {name: (folder / name).read_bytes() for name in below(folder)} == before
    elsewhere = bubblegrade("shrink", *settings, "--out", tmp_path / "R", *ASKED, "--graded", folder)
    assert (elsewhere.exit_code, elsewhere.stderr) == (result.exit_code, "")
    assert {name: (tmp_path / "R" / name).read_bytes() for name in below(tmp_path / "R")} == before


@pytest.mark.usefixtures("undrawn")
def test_gradings_of_another_request_are_not_taken_over_and_that_is_said(
    tmp_path: Path, drawn_trial: DrawnTrial, graded: tuple[str | Path, ...]
) -> None:
    settings = drawn_trial(tmp_path / "cups", settings=(0, 60), cups=1)
    result = bubblegrade("shrink", *settings, "--out", tmp_path / "R", "--mm-per-px", "0.04", *graded[-2:])
    assert result.exit_code == 0
    assert "holds none of these photographs graded by this version with the same options" in result.stderr


def test_a_folder_without_a_result_cannot_be_taken_over(tmp_path: Path, photograph: Photograph) -> None:
    one, other = photograph(tmp_path / "a.jpg"), photograph(tmp_path / "b.png")
    refused(
        bubblegrade("shrink", f"0psi={one}", f"60psi={other}", "--out", tmp_path / "R", *SCALE, "--graded", tmp_path),
        "holds no run.json",
    )


def test_a_result_is_replaced_only_if_asked(boyle: tuple[Path, Result]) -> None:
    folder, _ = boyle
    settings = [f"{psig}psi={folder.parent}/cups/{psig}psi" for psig in (0, 60)]
    refused(bubblegrade("shrink", *settings, "--out", folder, *SCALE), "holds a result already", "add --replace")


# Photographs that cannot be used


@pytest.mark.usefixtures("undrawn")
def test_the_rest_of_a_trial_is_compared_and_the_status_says_so(
    tmp_path: Path, drawn_trial: DrawnTrial, graded: tuple[str | Path, ...]
) -> None:
    settings = drawn_trial(tmp_path / "cups", settings=(0, 60), cups=1)
    (tmp_path / "cups" / "60psi" / "bad.jpg").touch()
    result = bubblegrade("shrink", *settings, f"20psi={tmp_path}/gone", "--out", tmp_path / "R", *graded)
    assert result.exit_code == 3
    assert len(result.stderr.splitlines()) == 2
    assert record(tmp_path / "R")["verdict"] == "consistent with Boyle"
    run = json.loads((tmp_path / "R" / "run.json").read_text("utf-8"))
    assert len(run["not_graded"]) == 2


def test_too_few_cups_left_leave_nothing_written(tmp_path: Path, photograph: Photograph) -> None:
    (tmp_path / "bad.jpg").touch()
    cup = photograph(tmp_path / "a.jpg")
    result = bubblegrade("shrink", f"0psi={cup}", f"60psi={tmp_path}/bad.jpg", "--out", tmp_path / "R", *SCALE)
    assert result.exit_code == 2
    assert "only cups at 0 psi are left, 1 photograph could not be graded" in result.stderr
    assert not (tmp_path / "R").exists()


def test_several_settings_without_voids_are_one_line(tmp_path: Path, drawn_trial: DrawnTrial) -> None:
    settings = drawn_trial(tmp_path / "cups", settings=(0, 20, 60), cups=1, voids=20)
    (tmp_path / "coarse.toml").write_text("smallest_px = 100\n")
    result = bubblegrade("shrink", *settings, "--out", tmp_path / "R", *SCALE, "--settings", tmp_path / "coarse.toml")
    refused(result, "have cups without a void above the limit", "photograph them from closer")
    assert not (tmp_path / "R").exists()


@pytest.mark.usefixtures("undrawn")
def test_unfit_photographs_are_marked_and_strict_refuses_them(
    tmp_path: Path, drawn_trial: DrawnTrial, graded: tuple[str | Path, ...]
) -> None:
    settings = drawn_trial(tmp_path / "cups", settings=(0, 60), cups=1)
    bright = f"0psi={SAMPLES}/cup-too-bright.jpg"
    result = bubblegrade("shrink", *settings, bright, "--out", tmp_path / "R", *graded)
    assert "cup-too-bright.jpg is UNFIT: " in result.stdout
    strict = ("--strict", "--replace")
    result = bubblegrade("shrink", *settings, bright, "--out", tmp_path / "R", *graded, *strict)
    assert result.exit_code == 3
    assert "cup-too-bright.jpg is unfit and --strict refuses it" in result.stderr


# Requests that cannot be met


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ([], "no cup is named: write 0psi=cups/open 30psi=a.jpg,b.jpg"),
        (["0psi={cup}", "--sheet", "cups.csv"], "cups are named here and in cups.csv"),
        (["--sheet", "gone.csv"], "gone.csv cannot be opened"),
        (["0psi={cup}", "60psi=gone.jpg"], "gone.jpg does not exist: check the name; only 0 psi is left"),
        (["0psi={cup}"], "0 psi is the only pressure: add cups at another one, best open ones at 0psi"),
        (["0={cup}", "60psi={other}"], "pressure 0 has no unit"),
        (["0psi={cup}", "4bar={other}"], "does not say what it counts from"),
        (["0psi={cup}", "-40psi={other}"], "is below 0: write a pressure below the atmosphere as an absolute one"),
        (["0psi={cup}", "0psia={other}"], "is no absolute pressure"),
        (["0psi={cup}", "400psi={other}"], "above 300 psi gauge"),
        (["0psi={cup}", "60psi={cup}"], "is named twice, at 0 psi and at 60 psi"),
        (["0psi={cup}", "60psi={other}", "--tolerate", "none"], "--tolerate none is not a number"),
        (["0psi={cup}", "60psi={other}", "--tolerate", "0"], "--tolerate 0 is out of range"),
        (["0psi={cup}", "60psi={other}", "--cup-spread", "5"], "--cup-spread 5 is out of range"),
        (["0psi={cup}", "60psi={other}", "--visible", "0.1"], "--visible 0.1 has no unit"),
        (["0psi={cup}", "60psi={other}", "--visible", "2cm"], "--visible 2cm is more than 10mm"),
        (["0psi={cup}", "60psi={other}", "--casting-volume", "30"], "--casting-volume 30 has no unit"),
        (["0psi={cup}", "60psi={other}", "--casting-volume", "30cm3"], "--casting-volume needs the cups' own volume"),
        (["0psi={cup}", "60psi={other}", "--rated", "60"], "--rated 60 has no unit"),
        (["0psi={cup}", "60psi={other}", "--altitude", "1500"], "--altitude 1500 has no unit"),
    ],
)
def test_a_request_that_cannot_be_met_is_one_line(
    tmp_path: Path, photograph: Photograph, arguments: list[str], words: str
) -> None:
    cup, other = photograph(tmp_path / "a.jpg"), photograph(tmp_path / "b.png")
    said = [argument.format(cup=cup, other=other) for argument in arguments]
    refused(bubblegrade("shrink", *said, "--out", tmp_path / "R", *SCALE), words)
    assert not (tmp_path / "R").exists()


def test_without_a_folder_nothing_is_done(photograph: Photograph, tmp_path: Path) -> None:
    refused(bubblegrade("shrink", f"0psi={photograph(tmp_path / 'a.jpg')}"), "add --out DIR")


@pytest.mark.usefixtures("undrawn")
@pytest.mark.parametrize("width", ["80", "120"])
def test_a_terminal_gets_a_bar_and_whole_lines(tmp_path: Path, drawn_trial: DrawnTrial, width: str) -> None:
    settings = drawn_trial(tmp_path / "cups", settings=(0, 60), cups=1)
    terminal = {"FORCE_COLOR": "1", "COLUMNS": width}
    result = bubblegrade("shrink", *settings, "--out", tmp_path / "R", *SCALE, **terminal)
    assert "grading" in result.stderr
    assert "Results in" in result.stdout
    assert "\N{HORIZONTAL ELLIPSIS}" not in result.stdout
