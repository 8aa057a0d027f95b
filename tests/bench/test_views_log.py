"""The log on the bench: its list, one casting, its charts, a note, and what is refused."""

from __future__ import annotations

from pathlib import Path

import pytest
from starlette.testclient import TestClient

from bubblegrade.bench.app import bench_app
from bubblegrade.bench.guard import TOKEN_HEADER, Access, allowed_hosts
from tests.bench.conftest import PORT, Shop, client_of


def test_the_list_holds_every_casting_and_is_escaped(keeper: TestClient) -> None:
    page = keeper.get("/log").text
    assert "4 of 4 castings, from castings.sqlite." in page
    assert page.count('href="/log/') == 4
    assert "&lt;b&gt;A&lt;/b&gt;" in page
    assert "<b>" not in page


@pytest.mark.parametrize(
    ("query", "count"),
    [("last=2", 2), ("since=2026-03-03", 2), ("until=2026-03-01", 1), ("recipe=%3Cb%3Ea%3C/b%3E", 4), ("recipe=B", 0)],
)
def test_the_list_is_filtered(keeper: TestClient, query: str, count: int) -> None:
    assert keeper.get(f"/log?{query}").text.count('href="/log/') == count


def test_a_casting_is_shown_in_full_with_its_cautions(keeper: TestClient) -> None:
    page = keeper.get("/log/2").text
    assert "275.79 kPa gauge" in page  # 40 psi, NIST SP 811: 6.894757 kPa each
    assert "valve hissed" in page
    assert "cup-60.png" in page
    assert "Never open a lid" in page


def test_a_note_is_added_by_who_asks(keeper: TestClient) -> None:
    note = {"words": {"text": "<i>warm</i> room", "cause": "yes"}}
    answer = keeper.post("/log/1/note", json=note).json()["answer"]
    assert "&lt;i&gt;warm&lt;/i&gt; room" in answer
    assert "<td>Ann</td>" in answer
    assert "Cause noted at casting 1" in keeper.get("/log/chart?per=casting").text


@pytest.mark.parametrize("measure", ["voids", "clarity"])
def test_charts_are_those_of_the_log(keeper: TestClient, measure: str) -> None:
    page = keeper.get(f"/log/chart?measure={measure}").text
    assert "4 castings: " in page
    assert keeper.get(page.split('tabindex="0"><img src="')[1].split('"')[0]).status_code == 200


@pytest.mark.parametrize(
    ("query", "line"),
    [
        ("measure=weight", "weight per cm2 is not charted"),
        ("per=acre", "voids per acre is not charted"),
        ("measure=shrinkage", "0 of 0 castings"),
        ("measure=clarity&last=3", "castings have no void"),
        ("base=9", "&#39;Limits from the first&#39; 9 is out of range"),
        ("base=x", "the first &#39;x&#39; is no number of castings"),
        ("last=-1", "the newest &#39;-1&#39; is no number of castings"),
        ("last=99999999999999999999", "is no number of castings"),
        ("since=yesterday", "&#39;Cast since&#39; yesterday"),
        ("recipe=%00", "castings"),
    ],
)
def test_what_cannot_be_charted_is_said_in_a_line(keeper: TestClient, query: str, line: str) -> None:
    answer = keeper.get(f"/log/chart?{query}")
    assert answer.status_code == 200
    assert line in answer.text


def test_the_list_says_what_it_cannot_choose(keeper: TestClient) -> None:
    assert "&#39;Cast since&#39; 31.2.2026" in keeper.get("/log?since=31.2.2026").text


@pytest.mark.parametrize("number", ["99", "0", "99999999999999999999999"])
def test_a_casting_that_is_not_there_is_said(keeper: TestClient, number: str) -> None:
    answer = keeper.get(f"/log/{number}", headers={"accept": "text/html"})
    assert answer.status_code == 400
    assert "is not in the log" in answer.text


def test_a_note_without_words_or_a_casting_or_the_token_is_refused(keeper: TestClient) -> None:
    assert keeper.post("/log/1/note", json={"words": {"text": " "}}).status_code == 400
    assert keeper.post("/log/99/note", json={"words": {"text": "x"}}).status_code == 400
    headers = {TOKEN_HEADER: "wrong"}
    assert keeper.post("/log/1/note", json={"words": {"text": "x"}}, headers=headers).status_code == 403


def test_without_a_log_its_place_is_said_and_none_is_made(shop: Shop, tmp_path: Path) -> None:
    place = tmp_path / "none" / "castings.sqlite"
    client = client_of(bench_app(shop.folder, Access(allowed_hosts(PORT), "Ann"), version="0.1", log=place))
    page = client.get("/log").text
    assert 'role="alert"' in page
    assert "castings.sqlite" in page
    assert not place.parent.exists()


def test_the_log_is_that_of_the_environment_where_none_is_named(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("BUBBLEGRADE_LOG", str(shop.log))
    client = client_of(bench_app(shop.folder, Access(allowed_hosts(PORT), "Ann"), version="0.1"))
    assert "4 of 4 castings" in client.get("/log").text
