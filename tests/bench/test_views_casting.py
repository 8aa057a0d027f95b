"""A casting's page: what it shows, how it is corrected, and what is refused."""

from __future__ import annotations

import csv
import html
import json
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any
from urllib.parse import quote

import pytest
from starlette.applications import Starlette
from starlette.testclient import TestClient

from bubblegrade.bench.app import bench_app
from bubblegrade.bench.guard import Access, allowed_hosts
from bubblegrade.bench.work import Job, graded_into
from bubblegrade.grading_run import Request
from bubblegrade.results.folder import RUN_FILE
from bubblegrade.results.lock import Lock
from bubblegrade.results.swap import Swap
from bubblegrade.runs.log_folder import results_of
from bubblegrade.settings import Settings
from tests.bench.conftest import TASK, client_of


@pytest.fixture
def name(app: Starlette) -> str:
    """Return the graded photograph."""
    (only,) = app.state.bench.folder.photographs
    assert isinstance(only, str)
    return only


@pytest.fixture
def url(name: str) -> str:
    """Return its path."""
    return f"/casting/{quote(name, safe='')}"


def change(client: TestClient, url: str, seen: int, **words: Any) -> dict[str, Any]:
    answer = client.post(f"{url}/change", json={"seen": seen, **words})
    assert answer.status_code == 200, answer.text
    record: dict[str, Any] = answer.json()
    return record


def test_the_page_escapes_the_name_and_holds_what_the_script_needs(client: TestClient, url: str) -> None:
    page = client.get(url).text
    assert "<b>" not in page
    (held,) = re.findall(r"data-picture='([^']*)'", page)
    picture = json.loads(held)
    assert (picture["width"], picture["height"], picture["sides"][-1]) == (400, 400, [400, 400])
    assert "5 voids" in page


def test_every_find_has_its_place_and_its_uncertainty(client: TestClient, url: str) -> None:
    record = client.get(f"{url}/finds").json()
    voids = [find for find in record["finds"] if find["state"] == "counted"]
    assert sorted(round(find["d"]) for find in voids) == [14, 18, 22, 26, 30]  # as drawn
    assert all("±" in find["says"] for find in voids)
    assert (record["undo"], record["redo"], record["steps"]) == (None, None, 0)


def test_the_steps_say_in_words_what_was_done_and_where(client: TestClient, url: str) -> None:
    (void,) = [find for find in client.get(f"{url}/finds").json()["finds"] if find["name"] == "v0"]
    place = f"void at x {void['x']:.1f}, y {void['y']:.1f}"
    added = {"what": "add", "x_px": 50, "y_px": 60.5, "diameter_px": 12, "kind": "void"}
    corners = [[10, 10], [60, 10], [60, 60]]
    span = {"x_px": 10, "y_px": 10, "other_x_px": 390, "other_y_px": 10, "long_mm": 20}
    did: list[tuple[dict[str, Any], str]] = [
        ({"what": "resize", "find": "v0", "diameter_px": 20}, f"made the {place} 20.0 px"),
        ({"what": "name", "find": "v0", "kind": "flake"}, f"named the {place} flake"),
        ({"what": "remove", "find": "v0"}, f"removed the {place}"),
        (added, "added a void at x 50.0, y 60.5, 12.0 px"),
        ({"what": "remove", "find": "a4"}, "removed the void at x 50.0, y 60.5"),
        ({"what": "leave out", "corners": corners}, "left an area out"),
        ({"what": "zone", "name": "belly", "corners": corners}, "drew the zone belly"),
        ({"what": "scale", "span": span}, "set the scale by two points 20 mm apart"),
        ({"what": "undo", "of": 8}, "undid step 8"),
        ({"what": "redo", "of": 8}, "did step 8 again"),
    ]
    for seen, (words, said) in enumerate(did):
        told = change(client, url, seen, **words)["told"]
        assert said in re.findall(r"<li[^>]*>(.*?)</li>", told)[0]


def test_a_correction_moves_the_numbers_and_undo_brings_them_back(client: TestClient, url: str, folder: Path) -> None:
    before = client.get(f"{url}/finds").json()
    removed = change(client, url, 0, what="remove", find="v0")
    assert len(removed["finds"]) == len(before["finds"]) - 1
    assert "4 voids" in removed["told"]
    undone = change(client, url, 1, what="undo", of=1)
    assert undone["finds"] == before["finds"]
    assert undone["redo"] == 1
    redone = change(client, url, 2, what="redo", of=1)
    assert redone["finds"] == removed["finds"]
    lines = next(folder.glob("bench/*/corrections.jsonl")).read_text().splitlines()
    assert [json.loads(line)["what"] for line in lines[1:]] == ["remove", "undo", "redo"]


def test_limits_in_mm_hold_the_doubt_of_the_scale(client: TestClient, url: str, app: Starlette, name: str) -> None:
    span = {"x_px": 190, "y_px": 200, "other_x_px": 210, "other_y_px": 200, "long_mm": 2}  # short: 5 % of doubt
    told = change(client, url, 0, what="scale", span=span)["told"]
    (value, low, high) = re.findall(r"largest</th><td>[^<]*</td><td>([\d.]+) mm \(([\d.]+) to ([\d.]+)\)", told)[0]
    scale = app.state.bench.castings.of(name).corrected.casting.scale
    doubt = 1.96 * scale.mm_per_px_err / scale.mm_per_px
    assert doubt > 0.09
    assert (float(high) - float(low)) / 2 >= 0.98 * doubt * float(value)


def test_corrections_survive_a_restart(client: TestClient, url: str, folder: Path) -> None:
    shown = change(client, url, 0, what="add", x_px=200.0, y_px=190.0, diameter_px=40.0, kind="void")
    again = bench_app(folder, Access(allowed_hosts(8750), "Max"), version="0.1")
    fresh = TestClient(again, base_url="http://127.0.0.1:8750")
    assert fresh.get(f"{url}/finds").json() == shown
    assert "corrected" in fresh.get("/").text


def test_the_corrected_table_stands_beside_the_automatic_one(client: TestClient, url: str, folder: Path) -> None:
    result = next(folder.glob("bench/*/run.json")).parent
    automatic = (result / "voids.csv").read_bytes()
    change(client, url, 0, what="resize", find="v1", diameter_px=55.0)
    assert (result / "voids.csv").read_bytes() == automatic
    text = (result / "corrected.csv").read_text("utf-8")
    assert client.get(f"{url}/corrected.csv").text == text
    row = next(row for row in csv.DictReader(text.splitlines()) if row["find"] == "v1")
    assert (row["diameter_px"], row["who"], row["source"]) == ("55", "Ann", "by hand")


def test_all_kinds_of_changes_are_taken(client: TestClient, url: str) -> None:
    square = [[10, 10], [200, 10], [200, 390], [10, 390]]
    changes: list[dict[str, Any]] = [
        {"what": "name", "find": "v0", "kind": "flake"},
        {"what": "leave out", "corners": square},
        {"what": "zone", "name": "<i>head</i>", "corners": square},
        {"what": "scale", "span": {"x_px": 10, "y_px": 10, "other_x_px": 310, "other_y_px": 10, "long_mm": 30}},
    ]
    for seen, words in enumerate(changes):
        record = change(client, url, seen, **words)
    assert record["mm_per_px"] == pytest.approx(0.1)
    assert record["zones"][0]["name"] == "<i>head</i>"
    assert "&lt;i&gt;head" in record["told"]
    assert "<i>" not in record["told"]
    assert "left out of the judged area" in json.dumps(record["finds"])
    assert " mm" in record["legend"]
    assert client.get(url).status_code == 200


def test_two_pages_on_one_casting_do_not_overwrite_each_other(client: TestClient, url: str) -> None:
    change(client, url, 0, what="remove", find="v0")
    late = client.post(f"{url}/change", json={"seen": 0, "what": "remove", "find": "v1"})
    assert late.status_code == 409
    assert (
        "was corrected on another page: it is shown as it is now, after 1 step; change it again" in late.json()["fault"]
    )
    assert client.get(f"{url}/finds").json()["steps"] == 1


@pytest.mark.parametrize(
    "words",
    [
        {},
        {"what": "remove"},
        {"what": "burst", "find": "v0"},
        {"what": "resize", "find": "v0", "diameter_px": "wide"},
        {"what": "resize", "find": "v0", "diameter_px": True},
        {"what": "resize", "find": "v0", "diameter_px": 1e300},
        {"what": "remove", "find": "v99"},
        {"what": "remove", "find": "../v0"},
        {"what": "zone", "name": "x\ny", "corners": [[1, 1], [2, 2], [9, 1]]},
        {"what": "leave out", "corners": [[1, 1, 1]]},
        {"what": "leave out", "corners": 7},
        {"what": "scale", "span": {"x_px": 0}},
        {"what": "undo", "of": 1},
        {"what": "redo", "of": 0},
    ],
)
def test_what_is_no_change_is_refused_and_nothing_is_written(
    client: TestClient, url: str, folder: Path, words: dict[str, Any]
) -> None:
    answer = client.post(f"{url}/change", json={"seen": 0, **words})
    assert answer.status_code == 400
    assert "\n" not in answer.json()["fault"]
    assert not list(folder.glob("bench/*/corrections.jsonl"))


def test_the_log_takes_a_casting_as_it_was_corrected(client: TestClient, url: str, folder: Path) -> None:
    place = next(folder.glob("bench/*/run.json")).parent
    (graded,) = results_of(place)
    change(client, url, 0, what="remove", find="v0")
    (corrected,) = results_of(place)
    assert corrected.numbers["voids"] == graded.numbers["voids"] - 1
    assert corrected.file_sha256 != graded.file_sha256
    change(client, url, 1, what="undo", of=1)
    assert results_of(place) == (graded,)


@pytest.mark.parametrize("body", [b"", b"[]", b"nonsense", b'{"seen": "x"}', b"[" * 100_000, b'"' + 300_000 * b"x"])
def test_what_is_no_json_of_a_change_is_refused(client: TestClient, url: str, body: bytes) -> None:
    assert client.post(f"{url}/change", content=body).status_code == 400


def test_newer_corrections_are_told_and_left_as_they_are(client: TestClient, url: str, folder: Path) -> None:
    change(client, url, 0, what="remove", find="v0")
    place = next(folder.glob("bench/*/corrections.jsonl"))
    newer = place.read_bytes().replace(b'"version":1', b'"version":7')
    place.write_bytes(newer)
    for answer in (client.get(f"{url}/finds"), client.post(f"{url}/change", json={"seen": 1, "what": "undo", "of": 1})):
        assert answer.status_code == 400
        assert "newer bubblegrade (version 7" in answer.json()["fault"]
    assert "newer bubblegrade" in client.get(url, headers={"accept": "text/html"}).text
    assert place.read_bytes() == newer


def test_a_step_that_was_cut_short_by_a_kill_is_as_never_taken(client: TestClient, url: str, folder: Path) -> None:
    change(client, url, 0, what="remove", find="v0")
    change(client, url, 1, what="remove", find="v1")
    place = next(folder.glob("bench/*/corrections.jsonl"))
    place.write_bytes(place.read_bytes()[:-5])
    assert client.get(f"{url}/finds").json()["steps"] == 1
    assert change(client, url, 1, what="remove", find="v1")["steps"] == 2


@pytest.mark.parametrize(
    "path",
    ["tile/photograph/k/1/0/0", "tile/transmittance/k/1/1/1", "small.jpg", "sizes.svg"],
)
def test_pictures_are_sent(client: TestClient, url: str, path: str) -> None:
    answer = client.get(f"{url}/{path}")
    assert answer.status_code == 200
    assert answer.headers["content-type"].startswith("image/")


@pytest.mark.parametrize(
    "path",
    [
        "tile/negative/k/1/0/0",
        "tile/photograph/k/9/0/0",
        "tile/photograph/k/1/5/0",
        "tile/photograph/k/x/0/0",
        "run.json",
    ],
)
def test_what_is_no_picture_of_it_is_not_sent(client: TestClient, url: str, path: str) -> None:
    assert client.get(f"{url}/{path}").status_code == 404


@pytest.mark.parametrize(
    "trick", ["%2e%2e%2f", "..%5c..", "..%2f..%2fetc%2fpasswd", "none.png", "bench", "%00", "a%2fb"]
)
@pytest.mark.parametrize("tail", ["", "/finds", "/small.jpg", "/corrected.csv"])
def test_a_name_that_is_not_on_the_tray_leads_nowhere(client: TestClient, trick: str, tail: str) -> None:
    assert client.get(f"/casting/{trick}{tail}").status_code in {404, 405}


def test_what_is_not_graded_can_be_looked_at_but_not_corrected(
    client: TestClient, folder: Path, photograph: Any
) -> None:
    photograph(folder / "new.png")
    page = client.get("/casting/new.png").text
    assert "Not graded yet" in page
    assert client.get("/casting/new.png/finds").status_code == 400
    answer = client.post("/casting/new.png/change", json={"seen": 0, "what": "remove", "find": "v0"})
    assert "is not graded: grade it before you correct it" in answer.json()["fault"]


def test_another_photograph_of_the_same_name_is_not_shown_with_the_finds_of_the_former(
    client: TestClient, url: str, folder: Path, name: str, photograph: Callable[..., Path]
) -> None:
    assert client.get(f"{url}/finds").status_code == 200
    photograph(folder / name, level=0.5)
    answer = client.get(f"{url}/finds")
    assert answer.status_code == 400
    line = f"{name} is another photograph than the one that was graded under this name: grade it again"
    assert answer.json()["fault"] == line
    assert line in html.unescape(client.get("/").text)


def test_the_corrected_table_follows_when_the_photograph_is_graded_with_another_scale(
    client: TestClient, url: str, folder: Path, name: str
) -> None:
    change(client, url, 0, what="remove", find="v0")
    result = folder / "bench" / name
    assert graded_into(Job(folder / name, result, replace(TASK, request=Request(mm_per_px=0.05)))) == ""
    text = (result / "corrected.csv").read_text("utf-8")
    assert client.get(f"{url}/corrected.csv").text == text
    for row in csv.DictReader(text.splitlines()):
        assert float(row["diameter_mm"]) == pytest.approx(0.05 * float(row["diameter_px"]), rel=1e-4)
    assert [row["find"] for row in csv.DictReader(text.splitlines()) if row["state"] == "removed"] == ["v0"]


def test_a_casting_graded_otherwise_is_shown_as_graded_and_its_corrections_come_back_with_its_finds(
    client: TestClient, url: str, folder: Path, name: str
) -> None:
    change(client, url, 0, what="remove", find="v0")
    result, former = folder / "bench" / name, client.get(f"{url}/corrected.csv").text
    coarse = replace(TASK, settings=Settings(smallest_px=20.0))
    assert graded_into(Job(folder / name, result, coarse)) == ""
    assert "is about other finds than grading makes now, and does not count" in client.get(url).text
    assert "corrections of another grading" in client.get("/").text
    assert client.get(f"{url}/finds").json()["steps"] == 0
    assert (result / "corrected.csv").read_text("utf-8") == client.get(f"{url}/corrected.csv").text
    assert change(client, url, 0, what="remove", find="v1")["steps"] == 1
    assert "about other finds" not in client.get(url).text
    assert graded_into(Job(folder / name, result, TASK)) == ""
    assert client.get(f"{url}/corrected.csv").text == former == (result / "corrected.csv").read_text("utf-8")
    assert graded_into(Job(folder / name, result, coarse)) == ""
    assert client.get(f"{url}/finds").json()["undo"] == 1


def test_corrections_of_a_photograph_that_was_replaced_do_not_block_the_new_one(
    client: TestClient, url: str, folder: Path, name: str, photograph: Callable[..., Path]
) -> None:
    change(client, url, 0, what="remove", find="v0")
    photograph(folder / name, level=0.5)
    assert graded_into(Job(folder / name, folder / "bench" / name, TASK)) == ""
    assert client.get(f"{url}/finds").json()["steps"] == 0
    assert change(client, url, 0, what="remove", find="v0")["steps"] == 1


def test_of_two_benches_that_correct_at_once_one_is_told_and_no_step_is_lost(
    client: TestClient, url: str, folder: Path, name: str
) -> None:
    other = client_of(bench_app(folder, Access(allowed_hosts(8750), "Max"), version="0.1"))
    for seen in range(3):
        place = folder / "bench" / name
        lock = Lock.take(Swap(place, RUN_FILE).lock)  # as the other bench has it while it writes
        assert lock is not None
        refused = client.post(f"{url}/change", json={"seen": seen, "what": "remove", "find": f"v{seen}"})
        lock.release()
        assert refused.status_code == 409
        assert refused.json()["fault"].endswith("elsewhere: wait a moment, then change it again")
        change(other, url, seen, what="remove", find=f"v{seen}")
        assert client.get(f"{url}/finds").json()["steps"] == seen + 1
    late = client.post(f"{url}/change", json={"seen": 2, "what": "remove", "find": "v3"})
    assert late.status_code == 409
    lines = (folder / "bench" / name / "corrections.jsonl").read_text().splitlines()
    assert [json.loads(line)["id"] for line in lines[1:]] == [1, 2, 3]
