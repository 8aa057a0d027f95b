"""The hold test on the bench: typed readings, photographs of the dial, and what is refused."""

from __future__ import annotations

from typing import Any

import pytest
from starlette.testclient import TestClient

from tests.bench.conftest import Shop

TIGHT = [
    {"time": "0min", "gauge": "60psi", "photo": "", "temperature": "24C"},
    {"time": "12h", "gauge": "60psi", "photo": "", "temperature": "24C"},
]
LOOSE = [{**TIGHT[0]}, {**TIGHT[1], "gauge": "40psi"}]
SEEN = [
    {"time": "0min", "gauge": "60psi", "photo": "dial-1.png", "temperature": "24C"},
    {"time": "2h", "gauge": "", "photo": "dial-2.png", "temperature": "24C"},
]


def ask(client: TestClient, rows: list[dict[str, str]], **words: str) -> Any:
    return client.post("/hold/answer", json={"words": words, "rows": rows})


def test_a_tight_pot_holds_and_the_cautions_stand_beside_it(keeper: TestClient) -> None:
    answer = ask(keeper, TIGHT, allowed="3psi").json()["answer"]
    assert "The pot holds." in answer
    assert "Never open a lid" in answer
    assert "safe to open" not in answer
    assert "--" not in answer
    assert "Settled before the first reading" in answer  # the page's own label, where the command names its option


def test_a_loose_one_leaks_and_the_test_stays(keeper: TestClient) -> None:
    answer = ask(keeper, LOOSE, range="0-100 psi").json()["answer"]
    assert "The pot leaks." in answer
    assert keeper.get("/hold/answer").json()["answer"] == answer
    page = keeper.get("/hold").text
    assert 'value="40psi"' in page
    assert 'value="0-100 psi"' in page


def test_the_needle_is_followed_between_two_photographs(keeper: TestClient) -> None:
    # Drawn 27 degrees back on a scale of 100 psi over 270 degrees: 10 psi.
    answer = ask(keeper, SEEN, range="0-100 psi", sweep="270deg").json()["answer"]
    assert "The pot leaks." in answer
    turned = float(answer.split("needle turned</th><td>")[1].split("<")[0])
    assert turned == pytest.approx(-27.0, abs=0.5)


@pytest.mark.parametrize(
    ("rows", "words", "line"),
    [
        ([TIGHT[0]], {}, "a hold test takes two readings"),
        ([TIGHT[0], {"time": "", "gauge": "60psi"}], {}, "reading 2 has no time"),
        ([TIGHT[0], {"time": "2h", "temperature": "20C"}], {}, "reading 2 has neither gauge nor photograph"),
        ([TIGHT[0], {"time": "soon", "gauge": "60psi"}], {}, "reading 2: time soon"),
        ([{**TIGHT[0], "gauge": "60psia"}, {**TIGHT[1], "gauge": "60psia"}], {}, "counts from vacuum"),
        (SEEN, {}, "a dial in photographs needs its range"),
        ([{**SEEN[0], "gauge": ""}, SEEN[1]], {"range": "0-100 psi"}, "needs what the dial shows in it"),
        (SEEN, {"range": "0-100 psi", "sweep": "350deg"}, "sweep 350deg is no scale of a dial"),
        ([{**SEEN[0], "photo": "../x.png"}, SEEN[1]], {"range": "0-100 psi"}, "is not on the bench"),
        ([SEEN[0], {**SEEN[1], "photo": "jig-a.png"}], {"range": "0-100 psi"}, "jig-a.png shows no"),
        (TIGHT, {"class": "B"}, "a class is a share of the dial's span"),
        (TIGHT, {"allowed": "0psi"}, "allowed 0psi is not above zero"),
        (TIGHT, {"gel": "soon"}, "gel soon"),
        (TIGHT, {"free_volume": "big"}, "air in the pot"),
        (TIGHT, {"rated_pressure": "9000psi"}, "rated_pressure"),
    ],
)
def test_what_cannot_be_judged_is_said_in_a_line(
    keeper: TestClient, shop: Shop, rows: list[dict[str, str]], words: dict[str, str], line: str
) -> None:
    answer = ask(keeper, rows, **words)
    assert (answer.status_code, answer.json()["answer"]) == (200, "")
    assert line in answer.json()["fault"]
    assert str(shop.folder) not in answer.json()["fault"]  # phones see it too
    assert (shop.folder / "bench" / "hold.json").exists()


def test_nothing_written_yet_says_what_to_do(keeper: TestClient) -> None:
    assert "Close the pot" in keeper.get("/hold/answer").json()["answer"]
    assert keeper.get("/hold").text.count("data-row") == 2
