"""A fault names the fields that it is about, in their rows, and the page marks them."""

from __future__ import annotations

from typing import Any

import pytest
from starlette.testclient import TestClient

from tests.bench.conftest import NAME
from tests.bench.test_views_hold import SEEN
from tests.bench.test_views_inspection import WHOLE
from tests.bench.test_views_trial import CUPS

READ = [{"time": "0min", "gauge": "60psi"}, {}, {"time": "2h", "gauge": "59psi"}]


def span_to(other_x_px: float, long_mm: float = 20.0) -> dict[str, float]:
    return {"x_px": 1.0, "y_px": 1.0, "other_x_px": other_x_px, "other_y_px": 1.0, "long_mm": long_mm}


def about(answer: dict[str, Any]) -> tuple[set[str], str]:
    return set(answer["fields"]), answer["row"]


@pytest.mark.parametrize(
    ("asked", "fields"),
    [
        ({"scale": "width"}, {"length"}),
        ({"scale": "width", "length": "wide"}, {"length"}),
        ({"scale": "disc", "length": "24mm", "height": "tall"}, {"height"}),
        ({"scale": "mm-per-px", "length": "fine"}, {"length"}),
        ({"thickness": "14mm"}, {"scale", "thickness"}),
        ({"scale": "width", "length": "36mm", "thickness": "thick"}, {"thickness"}),
        ({"length": "36mm"}, {"scale", "length"}),
        ({"scale": "width", "length": "36mm", "whole": "yes"}, {"scale", "whole"}),
        ({"scale": "card", "printed": "99"}, {"printed"}),
        ({"scale": "card", "length": "36mm"}, {"length"}),
        ({"printed": "99.2mm"}, {"scale", "printed"}),
        ({"height": "400mm"}, {"height"}),
        ({"index": "9"}, {"index"}),
        ({"blank": NAME, "again": NAME}, {"blank", "again"}),
        ({"again": NAME}, {"again"}),
    ],
)
def test_the_tray_says_which_field_is_meant(client: TestClient, asked: dict[str, str], fields: set[str]) -> None:
    answer = client.post("/tray/grade", json={**asked, "names": [NAME]})
    assert answer.status_code == 400
    assert about(answer.json()) == (fields, "")


@pytest.mark.parametrize(
    ("words", "fields"),
    [
        ({"altitude": "high"}, {"altitude"}),
        ({"barometer": "low"}, {"barometer"}),
        ({"altitude": "90m", "barometer": "1013 hPa"}, {"altitude", "barometer"}),
        ({"visible": "small"}, {"visible"}),
        ({"tolerated": "few"}, {"tolerated"}),
        ({"mould_pressure": "5x", "rated_pressure": "70psi"}, {"mould_pressure"}),
        ({"rated_pressure": "50psi", "relief_setting": "90psi"}, {"rated_pressure", "relief_setting"}),
    ],
)
def test_what_is_asked_of_a_trial_and_a_hold_test_says_which_field_is_meant(
    keeper: TestClient, words: dict[str, str], fields: set[str]
) -> None:
    assert about(keeper.post("/trial/answer", json={"words": words, "rows": CUPS}).json()) == (fields, "")
    if not fields & {"visible", "tolerated"}:
        assert about(keeper.post("/hold/answer", json={"words": words, "rows": READ}).json()) == (fields, "")


def test_a_pressure_of_a_trial_is_found_by_its_photograph(keeper: TestClient) -> None:
    rows = [CUPS[0], {**CUPS[1], "pressure": "60xx"}]
    answer = keeper.post("/trial/answer", json={"words": {}, "rows": rows}).json()
    assert about(answer) == ({"pressure"}, CUPS[1]["photo"])


@pytest.mark.parametrize(
    ("last", "fields"),
    [
        ({"time": "", "gauge": "59psi"}, {"time"}),
        ({"time": "soon", "gauge": "59psi"}, {"time"}),
        ({"time": "2h", "gauge": "59x"}, {"gauge"}),
        ({"time": "2h"}, {"gauge", "photo"}),
        ({"time": "2h", "gauge": "59psi", "temperature": "warm"}, {"temperature"}),
    ],
)
def test_a_reading_is_found_by_its_place_in_the_form(
    keeper: TestClient, last: dict[str, str], fields: set[str]
) -> None:
    answer = keeper.post("/hold/answer", json={"words": {}, "rows": [*READ[:2], last, {}]}).json()
    assert answer["fault"].startswith("reading 3")
    assert about(answer) == (fields, "2")


@pytest.mark.parametrize(
    ("last", "words", "field"),
    [
        ({"gauge": "2.7barg"}, {}, "gauge"),
        ({"time": "08:15"}, {}, "time"),
        ({"time": "0min"}, {}, "time"),
        ({"temperature": ""}, {}, "temperature"),
        ({"temperature": "75F"}, {}, "temperature"),
        ({"temperature": "200C"}, {}, "temperature"),
        ({"gauge": "59psi"}, {"range": "0-50 psi"}, "gauge"),
        ({"gauge": "59psi", "photo": "dial-2.png"}, {"range": "0-100 psi"}, "gauge"),
        ({"gauge": "59psi"}, {"range": "0-100 psi"}, "photo"),
    ],
)
def test_what_does_not_go_with_the_readings_before_is_found_by_its_place_in_the_form(
    keeper: TestClient, last: dict[str, str], words: dict[str, str], field: str
) -> None:
    seen = SEEN[0] if field == "photo" or "photo" in last else {**SEEN[0], "photo": ""}
    rows = [{}, {**seen, "gauge": "40psi"}, {"time": "2h", "gauge": "39psi", "temperature": "24C", **last}]
    assert about(keeper.post("/hold/answer", json={"words": words, "rows": rows}).json()) == ({field}, "2")


def test_a_needle_off_the_dial_is_found_by_its_photograph(keeper: TestClient) -> None:
    words = {"range": "58-100 psi", "sweep": "270deg"}
    assert about(keeper.post("/hold/answer", json={"words": words, "rows": SEEN}).json()) == ({"photo"}, "1")


def test_what_the_dial_shows_in_the_first_photograph_is_asked_for_beside_it(keeper: TestClient) -> None:
    rows = [{}, {**SEEN[0], "gauge": ""}, SEEN[1]]
    answer = keeper.post("/hold/answer", json={"words": {"range": "0-100 psi"}, "rows": rows}).json()
    assert about(answer) == ({"gauge"}, "1")


@pytest.mark.parametrize(
    ("words", "fields"),
    [
        ({"what": "add", "x_px": 9e3, "y_px": 9.0, "diameter_px": 9.0, "kind": "void"}, {"x", "y"}),
        ({"what": "add", "x_px": 9.0, "y_px": 9.0, "diameter_px": 0.1, "kind": "void"}, {"diameter"}),
        ({"what": "resize", "find": "v0", "diameter_px": 9e3}, {"diameter"}),
        ({"what": "name", "find": "v0", "kind": "pearl"}, {"kind"}),
        ({"what": "leave out", "corners": [[1, 1], [2, 2]]}, {"corners"}),
        ({"what": "zone", "name": "\n", "corners": [[1, 1], [2, 1], [2, 2]]}, {"name"}),
        ({"what": "zone", "name": "head", "corners": [[1, 1], [2, 1], [9e3, 2]]}, {"corners"}),
        ({"what": "scale", "span": span_to(9e3)}, {"corners"}),
        ({"what": "scale", "span": span_to(200.0, 0.0)}, {"distance"}),
        ({"what": "scale", "span": span_to(2.0)}, {"corners", "distance"}),
        ({"what": "remove", "find": "v99"}, set()),
    ],
)
def test_a_correction_says_which_field_is_meant(client: TestClient, words: dict[str, Any], fields: set[str]) -> None:
    answer = client.post(f"/casting/{NAME}/change", json={"seen": 0, **words})
    assert answer.status_code == 400
    assert about(answer.json()) == (fields, "")


@pytest.mark.parametrize(
    "name", ["free_volume", "range", "sweep", "graduation", "allowed", "settled", "gel", "release"]
)
def test_what_is_known_of_dial_and_pot_says_which_field_is_meant(keeper: TestClient, name: str) -> None:
    rows = SEEN if name == "sweep" else READ
    words = {"range": "0-100 psi", name: "much"}
    assert about(keeper.post("/hold/answer", json={"words": words, "rows": rows}).json()) == ({name}, "")


def test_a_class_without_a_range_asks_for_the_range(keeper: TestClient) -> None:
    for words, fields in (({"class": "B"}, {"range"}), ({"class": "Z", "range": "0-100 psi"}, {"class"})):
        assert about(keeper.post("/hold/answer", json={"words": words, "rows": READ}).json()) == (fields, "")
    assert about(keeper.post("/hold/answer", json={"words": {}, "rows": SEEN}).json()) == ({"range"}, "")


@pytest.mark.parametrize(
    ("words", "fields"),
    [
        ({"limits": "x"}, {"limits"}),
        ({"limits": WHOLE, "batch": "120"}, {"quality"}),
        ({"limits": WHOLE, "quality": "1.0"}, {"batch"}),
        ({"limits": WHOLE, "batch": "many", "quality": "1.0"}, {"batch", "quality"}),
        ({"limits": WHOLE, "batch": "120", "quality": "1.234"}, {"batch", "quality"}),
        ({"limits": WHOLE, "batch": "2", "quality": "1.0"}, {"batch"}),
        ({"limits": WHOLE, "pieces": "piece"}, {"pieces"}),
    ],
)
def test_an_inspection_says_which_field_is_meant(keeper: TestClient, words: dict[str, str], fields: set[str]) -> None:
    assert about(keeper.post("/inspection/answer", json={"words": words, "rows": []}).json()) == (fields, "")


@pytest.mark.parametrize(
    ("address", "name"),
    [
        ("/log?last=all", "last"),
        ("/log?since=2026-13-01", "since"),
        ("/log?since=2026-03-02&until=2026-03-01", "until"),
        ("/log/chart?base=some", "base"),
        ("/log/chart?until=soon", "until"),
    ],
)
def test_the_log_marks_the_field_that_is_meant_and_no_other(keeper: TestClient, address: str, name: str) -> None:
    page = keeper.get(address, headers={"accept": "text/html"}).text
    marked = page.split(' aria-invalid="true" aria-describedby="fault" autofocus')
    assert len(marked) == 2
    assert f'<input name="{name}"' in marked[0].rsplit("<label>", 1)[1]
    assert '<p class="alarm" id="fault" role="alert">' in marked[1]


def test_the_door_marks_the_code_or_the_name(client: TestClient) -> None:
    for words, name in (({"code": "no", "who": "Bea"}, "code"), ({"code": "no", "who": "  "}, "who")):
        page = client.post("/join", data=words).text
        (marked, _) = page.split(' aria-invalid="true" aria-describedby="fault" autofocus')
        assert f'<input name="{name}"' in marked.rsplit("<label>", 1)[1]
