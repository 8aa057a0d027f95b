"""Forms that two pages share, and answers that are cancelled: nothing lost in silence, nothing half-written."""

from __future__ import annotations

from typing import Any

import pytest
from starlette.testclient import TestClient

from bubblegrade.bench.app import bench_app
from bubblegrade.bench.guard import Access, allowed_hosts
from bubblegrade.bench.turns import CANCELLED, HELD, NotWantedError, Turn, Turns
from tests.bench.conftest import PORT, Shop, client_of
from tests.bench.test_views_hold import SEEN
from tests.bench.test_views_inspection import WHOLE, verdicts
from tests.bench.test_views_trial import CUPS

Words = dict[str, Any]
TRIAL: Words = {"words": {"altitude": "90m"}, "rows": CUPS}
INSPECTION: Words = {"words": {"limits": WHOLE}, "rows": [{"photo": "jig-a.png"}, {"photo": "jig-b.png"}]}
HOLD: Words = {"words": {"range": "0-100 psi"}, "rows": SEEN}
# A form, how another page keeps it, and what is said to the one that is behind.
FORMS = pytest.mark.parametrize(
    ("page", "form", "other", "said"),
    [
        ("trial", TRIAL, {**TRIAL, "words": {"altitude": "1500m"}}, "altitude 1500m (here 90m)"),
        (
            "trial", TRIAL, {**TRIAL, "rows": [CUPS[0], {**CUPS[1], "pressure": "55psi"}]},
            "pressure of cup-60.png 55psi (here 60psi)",
        ),
        (
            "inspection", INSPECTION, {**INSPECTION, "words": {"limits": WHOLE.replace("0.5mm", "0.4mm")}},
            'limits line 4 largest = "0.4mm" (here largest = "0.5mm")',
        ),
        (
            "inspection", INSPECTION, {**INSPECTION, "rows": [{"photo": "jig-a.png", "left_out": "yes"}]},
            "left out of jig-a.png yes (here nothing)",
        ),
        ("hold", HOLD, {**HOLD, "rows": [SEEN[0], {**SEEN[1], "time": "3h"}]}, "time of reading 2 3h (here 2h)"),
    ],
)  # fmt: skip


def seen_by(client: TestClient, page: str) -> str:
    """Return the version that a page has loaded."""
    return str(client.get(f"/{page}").text.split('data-seen="')[1].split('"')[0])


def kept_files(shop: Shop) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in (shop.folder / "bench").iterdir() if path.is_file()}


@FORMS
def test_a_page_that_is_behind_is_told_and_writes_over_the_newer_only_when_asked(
    keeper: TestClient, shop: Shop, page: str, form: Words, other: Words, said: str
) -> None:
    def send(words: Words, seen: str) -> Any:
        return keeper.post(f"/{page}/answer?turn=stopped", json={**words, "seen": seen})

    keeper.post("/turn/stopped/cancel")  # only what is kept matters here
    both = seen_by(keeper, page)
    theirs = send(other, both).json()["seen"]
    assert theirs == seen_by(keeper, page)
    before = kept_files(shop)
    refused = send(form, both)
    assert refused.status_code == 409
    assert said in refused.json()["fault"]
    assert refused.json()["newer"] == theirs
    assert kept_files(shop) == before
    ours = send(form, refused.json()["newer"])
    assert ours.status_code == 200
    assert kept_files(shop) != before
    assert send(form, both).json()["seen"] == ours.json()["seen"]  # nothing of it would be lost


def test_what_another_program_wrote_counts_as_well_and_columns_of_its_own_do_not(
    keeper: TestClient, shop: Shop
) -> None:
    sheet = shop.folder / "bench" / "trial.csv"
    keeper.post("/turn/stopped/cancel")
    seen = keeper.post("/trial/answer?turn=stopped", json=TRIAL).json()["seen"]
    sheet.write_text("photo,pressure,mix,recipe\n../cup-0.png,0psi,a,x\n../cup-60.png,60psi,a,x\n", "utf-8")
    assert keeper.post("/trial/answer?turn=stopped", json={**TRIAL, "seen": seen}).status_code == 200
    assert "recipe" in sheet.read_text("utf-8")
    sheet.write_text("photo,pressure\n../cup-0.png,0psi\n../jig-a.png,30psi\n", "utf-8")
    refused = keeper.post("/trial/answer?turn=stopped", json={**TRIAL, "seen": seen}).json()["fault"]
    assert "pressure of jig-a.png 30psi (here nothing)" in refused


@pytest.mark.parametrize(("page", "form"), [("trial", TRIAL), ("inspection", INSPECTION), ("hold", HOLD)])
def test_an_answer_that_is_cancelled_stops_and_its_form_is_kept(keeper: TestClient, page: str, form: Words) -> None:
    keeper.post("/turn/mine/cancel")
    answer = keeper.post(f"/{page}/answer?turn=mine", json=form).json()
    assert (answer["answer"], answer["fault"]) == ("", CANCELLED)
    assert keeper.get("/turn/mine").json() == {"doing": "", "done": 0, "of": 0}
    assert seen_by(keeper, page) == answer["seen"]
    whole = keeper.get(f"/{page}/answer?turn=other").json()["answer"]
    assert "<h2>" in whole
    told = keeper.get("/turn/other").json()
    assert told["of"] >= 2
    assert told["doing"] in {"cups", "drawn", "photographs"}


def test_work_is_left_between_two_steps() -> None:
    turn, done = Turn(), []
    with pytest.raises(NotWantedError, match="cancelled"):  # noqa: PT012 - the loop is what raises
        for each in turn.over("cups", ["a", "b", "c"]):
            done.append(each)
            turn.cancel()
    assert done == ["a"]
    assert turn.progress == ("cups", 0, 3)


def test_only_the_latest_turns_are_held() -> None:
    turns = Turns()
    first = turns.of("0")
    assert turns.of("0") is first
    assert turns.of("") is not turns.of("")
    for name in range(1, HELD + 1):
        turns.of(str(name))
    assert turns.of("0") is not first


def test_photographs_that_are_left_out_stay_so_and_new_ones_are_in(keeper: TestClient, shop: Shop) -> None:
    rows = [{"photo": "jig-b.png", "left_out": "yes"}, {"photo": "cup-0.png", "left_out": "yes"}]
    answer = keeper.post("/inspection/answer", json={"words": {"limits": WHOLE}, "rows": rows}).json()["answer"]
    assert set(verdicts(answer)) == {"jig-a", "cup-60"}
    again = bench_app(shop.folder, Access(allowed_hosts(PORT), "Ann"), version="0.1", log=shop.log)
    later = client_of(again)
    assert later.get("/inspection/answer").json()["answer"] == answer
    page = later.get("/inspection").text
    assert "2 of 4" in page
    assert page.count("data-unticked checked") == 2
    rows += [{"photo": name, "left_out": "yes"} for name in ("jig-a.png", "cup-60.png")]
    none = later.post("/inspection/answer", json={"words": {"limits": WHOLE}, "rows": rows}).json()
    assert "no graded casting is among those to inspect: choose some" in none["fault"]
