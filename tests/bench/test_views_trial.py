"""The trial of pressures: what is kept, what comes of it, and what is refused."""

from __future__ import annotations

import csv
import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from starlette.testclient import TestClient

from bubblegrade.bench.forms import Asked
from bubblegrade.bench.state import Bench
from bubblegrade.bench.trial import keep_trial, sheet_rows, trial_of
from bubblegrade.bench.turns import Turn
from bubblegrade.bench.work import Job, graded_into
from bubblegrade.commands import main
from bubblegrade.grading_run import Request
from bubblegrade.pressure.atmosphere import SEA_LEVEL
from bubblegrade.runs.log_folder import photo_of
from bubblegrade.runs.sheet import read_sheet
from bubblegrade.settings import Settings
from tests.bench.conftest import TASK, Shop

CUPS = [
    {"photo": "cup-0.png", "pressure": "0psi", "mix": "a"},
    {"photo": "cup-60.png", "pressure": "60psi", "mix": "a"},
]


def ask(client: TestClient, rows: list[dict[str, str]], **words: str) -> Any:
    return client.post("/trial/answer", json={"words": words, "rows": rows})


def bench_under(client: TestClient) -> Bench:
    bench = client.app.state.bench  # type: ignore[attr-defined]
    assert isinstance(bench, Bench)
    return bench


def kept(shop: Shop) -> list[dict[str, str]]:
    with (shop.folder / "bench" / "trial.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_the_page_and_the_command_say_the_same_of_the_sheet_that_is_kept(
    keeper: TestClient, shop: Shop, tmp_path: Path
) -> None:
    answer = ask(keeper, CUPS, rated_pressure="70psi").json()["answer"]
    sheet = shop.folder / "bench" / "trial.csv"
    told = CliRunner().invoke(
        main,
        ["shrink", "--sheet", str(sheet), "--mm-per-px", "0.05", "--rated", "70psi", "--out", str(tmp_path / "T"),
         "--json"],
    )  # fmt: skip
    said = json.loads(told.stdout)
    assert said["verdict_words"] in answer.replace("&#39;", "'")
    assert said["settings"][1]["verdict"] in answer
    assert "rated working pressure" in answer or "70 psi" in answer
    assert "Never open a lid" in answer
    addresses = [part.split('"')[0] for part in answer.split('src="')[1:]]
    assert addresses
    for address in addresses:
        plot = keeper.get(address)
        assert plot.headers["content-type"] == "image/svg+xml"
        assert plot.headers["content-security-policy"].startswith("default-src 'none'")
    assert keeper.get("/drawing/none").status_code == 404


def test_a_correction_moves_the_comparison(keeper: TestClient) -> None:
    bench = bench_under(keeper)
    keep_trial(bench, Asked({}, tuple(CUPS)))
    before = trial_of(bench, Turn())
    for seen, find in enumerate(("v0", "v1", "v2")):
        change = {"what": "remove", "find": find, "seen": seen}
        assert keeper.post("/casting/cup-60.png/change", json=change).status_code == 200
    after = trial_of(bench, Turn())
    assert sum(cup.diameters.size for cup in after.cups) == sum(cup.diameters.size for cup in before.cups) - 3


def test_the_command_compares_cups_as_they_were_corrected_and_says_so(
    keeper: TestClient, shop: Shop, tmp_path: Path
) -> None:
    bench = bench_under(keeper)
    keep_trial(bench, Asked({}, tuple(CUPS)))
    for seen, find in enumerate(("v0", "v1", "v2")):
        change = {"what": "remove", "find": find, "seen": seen}
        assert keeper.post("/casting/cup-60.png/change", json=change).status_code == 200
    page = trial_of(bench, Turn())
    sheet = shop.folder / "bench" / "trial.csv"
    told = CliRunner().invoke(
        main, ["shrink", "--sheet", str(sheet), "--mm-per-px", "0.05", "--out", str(tmp_path / "T"), "--json"]
    )
    said = json.loads(told.stdout)
    assert "cup-60.png counts as corrected on the page, 3 changes." in told.stdout
    assert [cup["voids"] for cup in said["cups"]] == [cup.countable.size for cup in page.cups]


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"settings": Settings(index=1.56)}, "a refractive index of 1.56, the others with a refractive index of 1.5: "),
        (
            {"settings": Settings(accept=0.9)},
            "accept = 0.9 in the settings, the others with accept = 0.5 in the settings",
        ),
        ({"request": Request(mm_per_px=0.05, whole=True)}, "the whole lit frame, the others with an outline: "),
        ({"request": Request(width_mm=40.0)}, "a scale from the widest span, the others with a stated scale: "),
        ({"version": "0.0"}, "bubblegrade 0.0, the others with bubblegrade 0.1: "),
    ],
)
def test_cups_that_were_graded_unlike_are_told(
    keeper: TestClient, shop: Shop, changed: dict[str, Any], said: str
) -> None:
    three = [*CUPS, {"photo": "jig-b.png", "pressure": "0psi", "mix": "a"}]
    assert "the others with" not in ask(keeper, three).json()["answer"]
    task = replace(TASK, **{"request": Request(mm_per_px=0.05), **changed})
    assert graded_into(Job(shop.folder / "cup-60.png", shop.folder / "bench" / "cup-60.png", task)) == ""
    answer = ask(keeper, three).json()["answer"]
    assert f"cup-60.png was graded with {said}" in answer
    assert answer.count("the others with") == 1


def test_a_scale_set_by_two_points_on_one_cup_is_told(keeper: TestClient) -> None:
    span = {"x_px": 10, "y_px": 10, "other_x_px": 210, "other_y_px": 10, "long_mm": 10}
    change = {"what": "scale", "span": span, "seen": 0}
    assert keeper.post("/casting/cup-60.png/change", json=change).status_code == 200
    assert "with a scale from two points" in ask(keeper, CUPS).json()["answer"]


def test_height_and_target_are_those_that_are_asked_and_stay(keeper: TestClient) -> None:
    bench = bench_under(keeper)
    words = {"altitude": "2500m", "visible": "0.3mm", "tolerated": "2", "mould_pressure": "60psi"}
    keep_trial(bench, Asked(words, tuple(CUPS)))
    asked = trial_of(bench, Turn()).question
    assert asked.air.kpa == pytest.approx(74.692, abs=0.005)  # US Standard Atmosphere 1976, from memory
    assert (asked.visible_mm, asked.tolerated) == (0.3, 2.0)
    assert asked.limits.mould is not None
    page = keeper.get("/trial").text
    assert 'name="altitude" value="2500m"' in page
    assert 'value="60psi"' in page


def test_columns_that_the_page_does_not_know_stay_in_the_sheet(keeper: TestClient, shop: Shop) -> None:
    sheet = shop.folder / "bench" / "trial.csv"
    sheet.write_text("photo;pressure;recipe\n../cup-0.png;0psi;clear\n../cup-60.png;55psi;clear\n", "utf-8")
    keep_trial(bench_under(keeper), Asked({}, tuple(CUPS)))
    assert [(row["pressure"], row["recipe"]) for row in kept(shop)] == [("0psi", "clear"), ("60psi", "clear")]


def test_what_is_typed_beside_a_cup_runs_in_no_spreadsheet_and_comes_back_as_typed(
    keeper: TestClient, shop: Shop
) -> None:
    formula = "=1+1"
    keep_trial(bench_under(keeper), Asked({}, tuple({**cup, "mix": formula} for cup in CUPS)))
    cells = (shop.folder / "bench" / "trial.csv").read_text("utf-8").replace("\n", ",").split(",")
    assert formula not in cells
    assert cells.count(f"'{formula}") == len(CUPS)
    assert {row["mix"] for row in sheet_rows(bench_under(keeper)).values()} == {formula}
    cups = read_sheet(shop.folder / "bench" / "trial.csv", SEA_LEVEL)
    assert {cup.stated.mix for cup in cups} == {formula}


def test_a_photograph_without_a_pressure_takes_no_part(keeper: TestClient, shop: Shop) -> None:
    left = {"photo": "jig-a.png", "pressure": " ", "mix": ""}
    keep_trial(bench_under(keeper), Asked({}, (*CUPS, left)))
    assert [row["photo"] for row in kept(shop)] == ["../cup-0.png", "../cup-60.png"]
    assert "at least two settings" in ask(keeper, [CUPS[0], left]).json()["answer"]


@pytest.mark.parametrize(
    ("words", "line"),
    [
        ({"altitude": "high"}, "altitude high"),
        ({"altitude": "100m", "barometer": "1013hPa"}, "barometer"),
        ({"visible": "5cm"}, "visible from 5cm is over 10 mm"),
        ({"tolerated": "few"}, "'few' is not a number of voids"),
        ({"tolerated": "-1"}, "out of range"),
        ({"rated_pressure": '70psi"\nx=1'}, "pot and mould"),
        ({"rated_pressure": "70psi", "relief_setting": "120psi"}, "contradicts rated_pressure"),
    ],
)
def test_what_cannot_be_asked_is_said_and_nothing_is_kept(
    keeper: TestClient, shop: Shop, words: dict[str, str], line: str
) -> None:
    answer = ask(keeper, CUPS, **words)
    assert answer.status_code == 400
    assert line in answer.json()["fault"]
    assert not (shop.folder / "bench" / "trial.csv").exists()


@pytest.mark.parametrize(
    ("rows", "line"),
    [
        ([CUPS[0], {"photo": "dial-1.png", "pressure": "30psi"}], "dial-1.png is not graded yet"),
        (
            [CUPS[0], {"photo": "cup-60.png", "pressure": "sixty"}],
            "cup-60.png: pressure sixty does not begin with a number",
        ),
        ([CUPS[0], {"photo": "cup-60.png", "pressure": "600psi"}], "cup-60.png: pressure 600 psi gauge is above 300"),
        ([CUPS[0], {"photo": "cup-60.png", "pressure": "0 psi"}], "0 psi is the only pressure"),
    ],
)
def test_what_cannot_be_compared_is_said_and_kept_all_the_same(
    keeper: TestClient, shop: Shop, rows: list[dict[str, str]], line: str
) -> None:
    answer = ask(keeper, rows)
    assert (answer.status_code, answer.json()["answer"]) == (200, "")
    assert line in answer.json()["fault"]
    assert "line " not in answer.json()["fault"]  # of a sheet that the user has never seen
    assert len(kept(shop)) == 2


def test_cups_without_a_scale_are_compared_only_within_one_set_up(client: TestClient, folder: Path) -> None:
    (name,) = client.app.state.bench.folder.photographs  # type: ignore[attr-defined]
    other = folder / "other.png"
    other.write_bytes((folder / name).read_bytes() + b"\0")  # the same cup, another file
    (folder / "bench" / "other.png").mkdir()
    run = (folder / "bench" / name / "run.json").read_text("utf-8").replace(json.dumps(name)[1:-1], "other.png")
    run = run.replace(*(photo_of(folder / each).sha256 for each in (name, "other.png")))
    (folder / "bench" / "other.png" / "run.json").write_text(run, "utf-8")
    rows = [{"photo": name, "pressure": "0psi"}, {"photo": "other.png", "pressure": "60psi"}]
    assert "compare only within one set-up" in ask(client, rows).json()["fault"]
    assert "Settings" in ask(client, rows, same_setup="yes").json()["answer"]


@pytest.mark.parametrize("photo", ["../castings.sqlite", "", "none.png", "<b>.png"])
def test_a_name_that_is_not_in_the_folder_is_refused(keeper: TestClient, shop: Shop, photo: str) -> None:
    answer = ask(keeper, [{"photo": photo, "pressure": "0psi"}])
    assert answer.status_code == 400
    assert "is not on the bench" in answer.json()["fault"]
    assert not (shop.folder / "bench" / "trial.csv").exists()


def test_a_sheet_that_leads_out_of_the_folder_is_not_followed(keeper: TestClient, shop: Shop) -> None:
    away = shop.folder.parent / "cup-60.png"
    away.write_bytes((shop.folder / "cup-60.png").read_bytes() + b"\0")
    (shop.folder / "bench" / "trial.csv").write_text("photo,pressure\n../cup-0.png,0psi\n../../cup-60.png,60psi\n")
    assert "is not in the folder on the bench" in keeper.get("/trial/answer").json()["fault"]


NO_FORMS = (
    b"", b"[]", b"{}", b'{"words": 1}', b'{"words": {"a": 1}}', b'{"words": {}, "rows": {}}', b"\xff",
    b'{"words": {}, "rows": [1]}', b'{"words":{}, "rows": [' + b"{}," * 3000 + b"{}]}", b"[" * 100_000,
    b'{"words": {"a": "' + b"a" * 200_000 + b'"}}',
)  # fmt: skip


@pytest.mark.parametrize("page", ["trial", "inspection", "hold"])
def test_what_is_no_form_is_refused(keeper: TestClient, page: str) -> None:
    for body in NO_FORMS:
        answer = keeper.post(f"/{page}/answer", content=body)
        assert answer.status_code == 400, body[:40]
        assert "is no form of this page" in answer.json()["fault"]


@pytest.mark.parametrize(("page", "file"), [("trial", "trial.json"), ("hold", "hold.json")])
@pytest.mark.parametrize("text", ["{", "[]", '{"format": 99, "words": {}}'])
def test_a_kept_file_that_cannot_be_used_is_said_and_left(
    keeper: TestClient, shop: Shop, page: str, file: str, text: str
) -> None:
    place = shop.folder / "bench" / file
    place.write_text(text)
    (shop.folder / "bench" / "trial.csv").write_text("photo,pressure\n../cup-0.png,0psi\n../cup-60.png,60psi\n")
    shown = keeper.get(f"/{page}")
    assert shown.status_code == 200
    assert file in shown.text
    answer = keeper.get(f"/{page}/answer")
    assert file in answer.json()["fault"]
    assert place.read_text() == text
