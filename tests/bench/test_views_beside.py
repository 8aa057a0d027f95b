"""Two castings side by side: at which scale, with which numbers, and what is refused."""

from __future__ import annotations

import re

import pytest
from starlette.testclient import TestClient


def test_both_have_their_numbers_beside_each_other_in_mm(keeper: TestClient) -> None:
    page = keeper.get("/beside?left=jig-a.png&right=jig-b.png").text
    assert "A millimetre is as long on both sides." in page
    assert page.count('data-unit="0.05"') == 2
    # The faulty lure holds one void of 18 px, drawn at 0.05 mm per px; its thickness is not told, and between flat and
    # curved 1.05 is taken for what its surface enlarges.
    row = page.split(">largest</th>")[1].split("</tr>")[0]
    assert "<td>-</td>" in row
    told = re.search(r"([\d.]+) mm \(([\d.]+) to ([\d.]+)\)", row)
    assert told is not None
    value, low, high = map(float, told.groups())
    assert value == pytest.approx(0.9 / 1.05, rel=0.015)
    assert low < 0.9 < high


def test_without_a_scale_pixels_are_compared_and_it_is_said(client: TestClient) -> None:
    (name,) = client.app.state.bench.folder.photographs  # type: ignore[attr-defined]
    page = client.get("/beside", params={"left": name, "right": name}).text
    assert "has no scale: a pixel of the photograph is as long on both sides" in page
    assert page.count('data-unit="1"') == 2
    assert "<b>" not in page.replace("&lt;b&gt;", "")


def test_one_that_is_not_graded_has_a_picture_and_no_numbers(keeper: TestClient) -> None:
    page = keeper.get("/beside?left=jig-a.png&right=dial-1.png").text
    assert "Grade both on the tray to see their numbers." in page
    assert "dial-1.png has no scale" in page


def test_nothing_chosen_shows_the_choice(keeper: TestClient) -> None:
    for query in ("", "?left=jig-a.png", "?right="):
        page = keeper.get(f"/beside{query}")
        assert page.status_code == 200
        assert "data-picture" not in page.text


@pytest.mark.parametrize("name", ["../castings.sqlite", "castings.sqlite", "none.png", "bench/jig-a.png/run.json"])
def test_what_is_not_on_the_bench_is_not_shown(keeper: TestClient, name: str) -> None:
    answer = keeper.get("/beside", params={"left": "jig-a.png", "right": name})
    assert answer.status_code == 404
    assert "is not on the bench" in answer.text
