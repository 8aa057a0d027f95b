"""Inspection on the bench: limits kept, every piece's verdict, drawn zones, and what is refused."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from starlette.testclient import TestClient

from bubblegrade.commands import main
from bubblegrade.runs.limit_presets import PRESETS
from bubblegrade.runs.limits_file import read_limits_file
from tests.bench.conftest import Shop

WHOLE = 'name = "all over"\n[zones.piece]\nshape = "all"\nlargest = "0.5mm"\nunjudged = "60%"\n'


def ask(client: TestClient, limits: str = WHOLE, **words: str) -> Any:
    return client.post("/inspection/answer", json={"words": {"limits": limits, **words}})


def verdicts(answer: str) -> dict[str, str]:
    table = answer.split("<caption>Pieces</caption>")[1].split("</table>", maxsplit=1)[0]
    rows = [row.split(">")[1:] for row in table.split("<tr><th scope=row")[1:]]
    return {row[0].split("<")[0]: row[2].split("<")[0] for row in rows}


def test_a_large_void_fails_with_its_reason_and_place(keeper: TestClient, shop: Shop) -> None:
    answer = ask(keeper).json()["answer"]
    found = verdicts(answer)
    assert found["jig-b"] == "fail"  # a void of 18 px at 0.05 mm per px
    assert found["jig-a"] != "fail"
    assert "piece: void of 0.8" in answer
    assert "largest allowed 0.5 mm; look at " in answer
    assert "Not graded, and not inspected: dial-1.png, dial-2.png" in answer
    assert read_limits_file(shop.folder / "bench" / "limits.toml").name == "all over"
    assert keeper.get("/inspection/answer").json()["answer"] == answer
    picture = keeper.get(answer.split('<img src="')[1].split('"')[0])
    assert picture.headers["content-type"] == "image/jpeg"


def test_a_correction_moves_the_verdict(keeper: TestClient) -> None:
    assert verdicts(ask(keeper).json()["answer"])["jig-b"] == "fail"
    assert keeper.post("/casting/jig-b.png/change", json={"what": "remove", "find": "v0", "seen": 0}).status_code == 200
    assert verdicts(keeper.get("/inspection/answer").json()["answer"])["jig-b"] != "fail"


def inspected(shop: Shop, out: Path, *options: str) -> dict[str, Any]:
    asked = ["inspect", *(str(shop.folder / name) for name in ("jig-a.png", "jig-b.png")), "--limits"]
    asked += [str(shop.folder / "bench" / "limits.toml"), "--mm-per-px", "0.05", "--out", str(out), "--json", *options]
    told = CliRunner().invoke(main, asked)
    assert told.stdout, told.output
    record: dict[str, Any] = json.loads(told.stdout)
    return {"verdicts": {one["piece"]: one["verdict"] for one in record["pieces"]}, **record}


def test_the_command_judges_a_photograph_as_it_was_corrected_and_says_so(
    keeper: TestClient, shop: Shop, tmp_path: Path
) -> None:
    ask(keeper)
    before = inspected(shop, tmp_path / "before")
    assert before["verdicts"]["jig-b"] == "fail"
    assert keeper.post("/casting/jig-b.png/change", json={"what": "remove", "find": "v0", "seen": 0}).status_code == 200
    after = inspected(shop, tmp_path / "after")
    page = verdicts(keeper.get("/inspection/answer").json()["answer"])
    assert after["verdicts"] == {piece: page[piece] for piece in ("jig-a", "jig-b")}
    assert after["verdicts"]["jig-b"] != "fail"
    remarks = {one["photo"]: one["remarks"] for one in after["photographs"]}
    assert remarks["jig-b.png"][0] == "as corrected on the page, 1 change"
    assert "as corrected on the page, 1 change" not in remarks["jig-a.png"]
    pictures = [(tmp_path / run / "jig-b-inspected.jpg").read_bytes() for run in ("before", "after")]
    assert pictures[0] != pictures[1]


def test_the_command_says_so_where_corrections_do_not_fit_what_it_finds(
    keeper: TestClient, shop: Shop, tmp_path: Path
) -> None:
    ask(keeper)
    change = {"what": "remove", "find": "v0", "seen": 0}
    assert keeper.post("/casting/jig-b.png/change", json=change).status_code == 200
    (tmp_path / "coarse.toml").write_text("smallest_px = 40.0\n", "utf-8")
    other = inspected(shop, tmp_path / "other", "--settings", str(tmp_path / "coarse.toml"))
    (missing,) = next(one["missing"] for one in other["pieces"] if one["piece"] == "jig-b")
    assert missing.startswith("jig-b.png: corrections on the page do not count here: ")
    assert other["verdicts"]["jig-b"] == "look again"


def test_zones_drawn_on_a_casting_become_zones_of_the_limits(keeper: TestClient, shop: Shop) -> None:
    change = {"what": "zone", "name": 'fore "part"', "corners": [[100, 100], [220, 100], [220, 200], [100, 200]]}
    assert keeper.post("/casting/jig-a.png/change", json={**change, "seen": 0}).status_code == 200
    assert "jig-a.png</option>" in keeper.get("/inspection").text
    words = keeper.get("/inspection/zones?of=jig-a.png").json()
    limits = f'{words["top"]}\nhead = "left"\nbelly = "down"\n{words["below"]}'
    answer = ask(keeper, limits).json()
    assert "fault" not in answer, answer
    found = verdicts(answer["answer"])
    assert found["jig-b"] == "fail"
    assert "fore &#34;part&#34;: void of" in answer["answer"]
    assert (shop.folder / "bench" / read_limits_file(shop.folder / "bench" / "limits.toml").reference).is_file()


def test_sides_are_joined_and_a_batch_is_decided(keeper: TestClient) -> None:
    answer = ask(keeper, pieces="{piece}-{side}", batch="120", quality="1.0").json()["answer"]
    assert set(verdicts(answer)) == {"cup", "jig"}
    assert verdicts(answer)["jig"] == "fail"
    assert "Batch of 120: refuse" in answer


def test_every_preset_can_be_kept(keeper: TestClient) -> None:
    for text in PRESETS.values():
        assert ask(keeper, text).status_code == 200
    assert keeper.get("/inspection").text.count("data-preset=") == len(PRESETS)


@pytest.mark.parametrize(
    ("limits", "words", "line"),
    [
        ("", {}, "no zone is given"),
        ("zones = 3", {}, "no zone is given"),
        ("[zones", {}, "is not TOML"),
        ("[zones.a]\nshape = 'all'\nlargest = 0.5", {}, "has no unit"),
        (WHOLE, {"pieces": "{side}"}, "does not say what the piece is"),
        (WHOLE, {"batch": "120"}, "a batch needs both"),
        (WHOLE, {"batch": "many", "quality": "1"}, "are not both numbers"),
        (WHOLE, {"batch": "120", "quality": "-1"}, "-1"),
    ],
)
def test_limits_that_cannot_be_used_are_said_and_not_kept(
    keeper: TestClient, shop: Shop, limits: str, words: dict[str, str], line: str
) -> None:
    answer = ask(keeper, limits, **words)
    assert answer.status_code == 400
    assert line in answer.json()["fault"]
    assert not (shop.folder / "bench" / "limits.toml").exists()


@pytest.mark.parametrize("reference", ["../../secret.png", "none.png", "/etc/passwd", "dial-1.png"])
def test_a_reference_is_a_graded_photograph_of_the_folder(keeper: TestClient, reference: str) -> None:
    zone = '[zones.a]\nshape = "polygon"\ncorners_px = [[1, 1], [9, 1], [9, 9]]\nlargest = "1mm"\n'
    answer = ask(keeper, f'reference = "{reference}"\n{zone}')
    said = answer.json()["fault"]
    assert "is not on the bench" in said or "the reference is not graded yet" in said


def test_a_casting_without_a_scale_is_not_held_to_millimetres(client: TestClient) -> None:
    answer = ask(client).json()["answer"]
    assert "the limits are in mm and it has no scale" in answer


def test_more_pieces_than_their_batch_are_refused(keeper: TestClient) -> None:
    assert "4 pieces are more than the batch of 2" in ask(keeper, batch="2", quality="1").json()["fault"]


@pytest.mark.parametrize(
    ("name", "status", "line"),
    [
        ("jig-a.png", 400, "no zone is drawn on jig-a.png"),
        ("dial-1.png", 400, "is not graded yet"),
        ("x", 404, "bench"),
    ],
)
def test_zones_of_what_has_none_are_refused(keeper: TestClient, name: str, status: int, line: str) -> None:
    answer = keeper.get("/inspection/zones", params={"of": name})
    assert answer.status_code == status
    assert line in answer.json()["fault"]


def test_limits_that_are_no_text_are_said_and_left(keeper: TestClient, shop: Shop) -> None:
    place = shop.folder / "bench" / "limits.toml"
    place.write_bytes(b"\xff\xfe")
    assert "limits.toml cannot be read" in keeper.get("/inspection").text
    assert "limits.toml cannot be read" in keeper.get("/inspection/answer").json()["fault"]
    assert place.read_bytes() == b"\xff\xfe"
