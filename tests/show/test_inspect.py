"""What people see of an inspection and of a piece that came back."""

from __future__ import annotations

import io
import itertools
import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from rich.console import Console

from bubblegrade.grading.estimate import Estimate
from bubblegrade.grading.regrowth import Regrowth, compare
from bubblegrade.grading_run import Casting
from bubblegrade.inspection.batch import Piece, Side, decide
from bubblegrade.inspection.inspected import Inspected
from bubblegrade.inspection.judging import judge
from bubblegrade.inspection.mould import MouldMark
from bubblegrade.inspection.seen import Seen
from bubblegrade.inspection.verdicts import Verdict
from bubblegrade.quality.sampling import sampling_plan
from bubblegrade.runs.limits_file import read_limits
from bubblegrade.show.inspect_picture import AGAIN, PASSED, TEXT_PX, ZONE_COLOURS, inspect_picture, resized
from bubblegrade.show.inspect_tables import show_batch, show_mould, show_pieces, show_uncompared
from bubblegrade.show.legend import ALARM
from bubblegrade.show.regrowth import growth_words, regrowth_jpeg, show_regrowth

GREY = np.full((200, 300, 3), 200, np.uint8)


def printed(show: Callable[..., None], *args: object) -> str:
    console = Console(file=io.StringIO(), width=160, color_system=None)
    show(*args, console)
    assert isinstance(console.file, io.StringIO)
    return console.file.getvalue()


def has(picture: np.ndarray, colour: tuple[int, int, int]) -> bool:
    return bool((picture == colour[::-1]).all(axis=-1).any())


@pytest.mark.parametrize(("limit", "colour", "other"), [("2mm", PASSED, ALARM), ("0.6mm", ALARM, PASSED)])
def test_the_picture_shows_zone_verdict_and_fault(
    known_casting: Callable[..., Casting], limit: str, colour: tuple[int, int, int], other: tuple[int, int, int]
) -> None:
    inside = np.zeros((200, 300), bool)
    inside[20:181, 20:281] = True
    limits = read_limits(f'unsure = "ignore"\n[zones.a]\nshape = "all"\nlargest = "{limit}"', name="a")
    casting = known_casting()
    judgement = judge(casting, Seen(1, inside, inside, inside & False), limits)
    picture = inspect_picture(GREY, casting, judgement, limits)
    assert has(picture, ZONE_COLOURS[0])
    assert has(picture, colour)
    assert not has(picture, other)
    assert len(picture) > 600  # enlarged threefold, with a legend


def test_numbers_of_faults_at_one_place_and_letters_of_zones_stand_beside_each_other(
    known_casting: Callable[..., Casting], monkeypatch: pytest.MonkeyPatch
) -> None:
    inside = np.zeros((200, 300), bool)
    inside[20:181, 20:281] = True
    zone = '[zones.{}]\nshape = "all"\nlargest = "0.4mm"\n'
    limits = read_limits("".join(zone.format(name) for name in "abcdefgh"), name="a")
    casting = known_casting()
    judgement = judge(casting, Seen(1, inside, inside, inside & False), limits)
    tags: dict[str, tuple[float, float]] = {}
    monkeypatch.setattr("bubblegrade.show.inspect_picture.write", lambda _, text, x, y, __: tags.update({text: (x, y)}))
    inspect_picture(GREY, casting, judgement, limits)
    assert len(judgement.faults) >= 8
    letters = {text for text in tags if text.isalpha()}
    assert letters == set("ABCDEFGH")  # a line's colour alone tells not everybody which zone it is
    assert len(tags) == len(letters) + sum(len(fault.places_px) > 0 for fault in judgement.faults)
    for one, other in itertools.combinations(tags.values(), 2):
        assert max(abs(one[0] - other[0]), abs(one[1] - other[1])) > TEXT_PX


def test_what_shows_in_the_dark_rim_is_an_arc_of_the_outline_and_no_ring(
    known_casting: Callable[..., Casting],
) -> None:
    inside = np.zeros((200, 300), bool)
    inside[20:181, 20:281] = True
    limits = read_limits('[zones.a]\nshape = "all"\nlargest = "3mm"', name="a")
    x, y = np.arange(20.0, 281.0), np.arange(20.0, 181.0)
    sides = ((x, x * 0 + 20), (y * 0 + 280, y), (x[::-1], x * 0 + 180), (y * 0 + 20, y[::-1]))
    casting = known_casting(outline_px=np.concatenate([np.stack(side, axis=1) for side in sides]))
    seen = Seen(1, inside, inside, inside & False, breaks_px=np.array([[150.0, 26.0, 80.0]]))
    picture, zoom = inspect_picture(GREY, casting, judge(casting, seen, limits), limits), 3
    rows, cols = np.nonzero((picture[: 200 * zoom] == AGAIN[::-1]).all(axis=-1))
    left = cols < (150 - 4) * zoom  # the way to the number goes up to the right
    assert cols[left].min() == pytest.approx((150 - 40) * zoom, abs=2 * zoom)
    assert rows[left] == pytest.approx(20 * zoom, abs=2 * zoom)


@pytest.mark.parametrize(("side", "zoom"), [(300, 3.0), (1000, 1.0), (2800, 0.5)])
def test_a_photograph_is_shown_at_the_size_of_a_screen(side: int, zoom: float) -> None:
    picture, shown = resized(np.zeros((10, side), np.uint16))
    assert shown == zoom
    assert picture.shape == (round(10 * zoom), round(side * zoom), 3)


@pytest.mark.parametrize(("surely", "said"), [("0.6mm", ["", "look again: "]), ("2mm", [""])])
def test_a_limit_that_may_not_be_broken_says_so_beside_one_that_is_and_not_by_its_colour_alone(
    known_casting: Callable[..., Casting], surely: str, said: list[str]
) -> None:
    inside = np.zeros((200, 300), bool)
    inside[20:181, 20:281] = True
    zones = f'[zones.a]\nshape = "all"\nlargest = "{surely}"\n[zones.b]\nshape = "all"\nlargest = "1.5mm"'
    limits = read_limits(f'unsure = "ignore"\n{zones}', name="a")
    judgement = judge(known_casting(), Seen(1, inside, inside, inside & False), limits)  # its largest void has 1.5 mm
    lines = [fault.line for fault in judgement.faults]
    assert judgement.lines == tuple(f"{word}{line}" for word, line in zip(said, lines, strict=True))


def test_pieces_are_listed_with_their_reasons() -> None:
    sides = (Side("a-1.jpg", "1", Verdict.FAIL, ("face: void of 1 mm", "belly: cluster")),)
    pieces = (Piece("a", sides), Piece("b", (), ("b.jpg is empty",)))

    text = printed(show_pieces, pieces, ())
    assert "face: void of 1 mm" in text
    assert "b.jpg is empty" in text
    assert "2 inspected: 1 fail, 1 look again" in text
    assert text.count("a-1.jpg") == 2


def test_the_batch_and_the_mould_are_said_in_words() -> None:
    text = printed(show_batch, decide(sampling_plan(120, 1.0), ()))
    assert "batch of 120: undecided (0 inspected, 13 to be drawn: inspect 13 more)" in text
    assert "no promise" in text
    mark = MouldMark("left", 0.25, 0.4, 0.02, ("a", "b", "c"), 4, 2e-4)
    assert "25 % along and 40 % across on 3 of 4 pieces (left), by chance 0.0002" in printed(show_mould, [mark])


def test_where_all_places_repeat_on_the_same_pieces_they_may_be_one_piece_photographed_again() -> None:
    marks = [MouldMark("", 0.2 + 0.1 * i, 0.4, 0.02, ("a-1", "a-2", "a-3"), 4, 2e-4) for i in range(3)]
    said = printed(show_mould, marks)
    assert "3 places repeat on just a-1, a-2, a-3, as voids do where one piece was photographed again" in said
    assert "photographed again" not in printed(show_mould, marks[:2])
    others = MouldMark("", 0.7, 0.4, 0.02, ("a-1", "a-2", "b"), 4, 2e-4)
    assert "photographed again" not in printed(show_mould, [*marks[:2], others])
    assert "photographed again" not in printed(show_mould, [*marks[:2], replace(marks[2], side="left")])
    many = [replace(mark, pieces=("a", "b", "c", "d", "e")) for mark in marks]
    assert "repeat on just a, b, c and 2 more, as" in printed(show_mould, many)


def test_pieces_that_cannot_be_compared_for_marks_of_the_mould_are_said(known_casting: Callable[..., Casting]) -> None:
    inside = np.ones((200, 300), bool)
    seen = Seen(1, inside, inside, inside & False)
    turn = np.linspace(0.0, 2.0 * np.pi, 100, endpoint=False)
    ring_px = 100.0 + 90.0 * np.stack([np.cos(turn), np.sin(turn)], axis=1)

    def pieces(head: str, count: int, **changes: Any) -> list[Inspected]:
        limits = read_limits(
            f'head = ["{head}"]\nbelly = ["down"]\n[zones.a]\nshape = "all"\nlargest = "9mm"', name="a"
        )
        casting = known_casting(**changes)
        judgement = judge(casting, seen, limits)
        return [Inspected(casting, f"{head} {number}", "", judgement) for number in range(count)]

    said = printed(show_uncompared, [*pieces("up", 2), *pieces("left", 1)])
    assert "marks that repeat were not looked for on 2 of 3 photographs, whose head or belly is not told" in said
    said = printed(show_uncompared, pieces("left", 3, outline_px=ring_px))
    assert "not looked for on 3 of 3 photographs, of pieces too round to tell how they lie" in said
    assert "say in the limits" not in said
    assert printed(show_uncompared, pieces("up", 2)) == printed(show_uncompared, pieces("left", 3)) == ""


def test_growth_is_said_with_its_interval() -> None:
    nothing = np.empty(0)
    found = Regrowth("grew", "", Estimate(0.05, 0.03, 0.07), 0.0, 1.0, np.zeros((6, 2), np.intp), nothing, nothing,
                     np.zeros(6, bool), np.empty(0, np.intp), np.empty(0, np.intp))  # fmt: skip
    assert growth_words(found) == "grew: +5.0 % in diameter (+3.0 to +7.0 %) over 6 voids"
    apart = replace(found, stands_out=np.arange(6) < 2)
    assert growth_words(apart).endswith(" over 4 voids, 2 more stand out")
    untold = replace(found, verdict="cannot be told", reason="too few", growth=Estimate(math.nan, math.nan, math.nan))
    assert growth_words(untold) == "cannot be told: too few"


def test_voids_that_stand_out_are_new_or_gone_are_pointed_out(known_casting: Callable[..., Casting]) -> None:
    casting = known_casting()
    found = replace(
        compare(casting, casting), pairs=np.array([[0, 0], [1, 1]]), growths=np.array([0.0, 0.2]),
        growth_errs=np.array([0.01, 0.01]), stands_out=np.array([False, True]), gone=np.array([2]), new=np.array([2]),
    )  # fmt: skip
    text = printed(show_regrowth, casting, known_casting(photo="later.jpg", unfit=("too dark",)), found)
    assert "stands out: +18.0 to +22.0 % at 150,100 of later.jpg" in text
    assert "gone: 30.0 px at 230,130 of cup.jpg" in text
    assert "new: 30.0 px at 230,130 of later.jpg" in text
    assert "later.jpg is UNFIT: too dark" in text
    assert regrowth_jpeg((GREY, GREY), casting, casting, found)[:2] == b"\xff\xd8"


def test_numbers_of_pairs_close_together_lie_neither_over_one_another_nor_over_a_ring(
    known_casting: Callable[..., Casting], monkeypatch: pytest.MonkeyPatch
) -> None:
    casting = known_casting()
    close = replace(casting.voids, x_px=casting.voids.x_px * 0 + 150, y_px=100.0 + 6 * np.arange(len(casting.voids)))
    casting = replace(casting, voids=close)
    pairs = np.repeat(np.arange(3)[:, None], 2, axis=1)
    found = replace(
        compare(casting, casting), pairs=pairs, growths=np.zeros(3), growth_errs=np.full(3, 0.01),
        stands_out=np.zeros(3, bool), gone=np.array([], int), new=np.array([], int),
    )  # fmt: skip
    places: list[tuple[float, float]] = []
    monkeypatch.setattr("bubblegrade.show.inspect_picture.write", lambda _, __, x, y, ___: places.append((x, y)))
    regrowth_jpeg((GREY, GREY), casting, casting, found)
    zoom = resized(GREY)[1]
    rings = [(x * zoom, y * zoom) for x, y in zip(close.x_px[:3], close.y_px[:3], strict=True)]
    assert len(places) == 6
    for page in (places[:3], places[3:]):
        for one, other in itertools.combinations([*page, *rings], 2):
            if not (one in rings and other in rings):
                assert max(abs(one[0] - other[0]), abs(one[1] - other[1])) > TEXT_PX
