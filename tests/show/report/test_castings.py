"""The report of castings says what the tables say."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from bubblegrade.grading_run import Casting
from bubblegrade.photo.scale import Scale
from bubblegrade.settings import Settings
from bubblegrade.show.report.castings import WIDEST_PX, castings_page, shown
from bubblegrade.show.report.page import Page, Photograph, Rows, Words, page_html

Maker = Callable[..., Casting]
CODES = np.full((200, 300, 3), 180, np.uint8)


def page_of(*castings: Casting, **left: Any) -> Page:
    """Return the report of castings on an even picture."""
    facts: dict[str, Any] = {"not_graded": (), "settings": Settings(), "version": "0.1.0", **left}
    return castings_page([shown(casting, CODES) for casting in castings], **facts)


def photograph_in(page: Page) -> Photograph:
    """Return the only photograph of a report."""
    (found,) = (block for section in page.sections for block in section.blocks if isinstance(block, Photograph))
    return found


def test_the_verdict_is_one_sentence_with_count_clarity_and_largest(known_casting: Maker) -> None:
    assert page_of(known_casting()).verdict == "3 voids, clarity 45 (31 to 58) bubbly, largest 1.50 mm."


def test_several_castings_are_summed_up_and_the_unfit_named(known_casting: Maker) -> None:
    page = page_of(known_casting(), known_casting(photo="b.jpg", unfit=("too dark: expose longer",)))
    assert page.verdict == "6 voids in 2 castings, clarity 45 to 45. 1 photograph of 2 unfit to measure."
    assert page.sections[0].heading == "All photographs"
    alarms = [b.text for s in page.sections for b in s.blocks if isinstance(b, Words) and b.weight == "alarm"]
    assert alarms == ["Unfit to measure: too dark: expose longer"]


def test_every_find_has_a_mark_that_says_what_it_is(known_casting: Maker) -> None:
    marked = photograph_in(page_of(known_casting()))
    assert len(marked.spots) == 5
    assert [spot.look for spot in marked.spots] == ["size-3", "size-2", "size-1", "unsure", "aside"]
    assert marked.spots[0].says.startswith("void, 1.50 mm, standard uncertainty 0.02")
    assert marked.spots[3].says == "unsure: faint"
    assert marked.spots[4].says == "flake: opaque"
    assert ("unsure", "unsure: 1") in marked.legend
    assert ("aside", "no void: 1") in marked.legend


def test_limits_in_mm_hold_the_uncertainty_of_the_scale(known_casting: Maker) -> None:
    unsure = known_casting(scale=Scale(mm_per_px=0.05, mm_per_px_err=0.005, source="stated"))
    (rows,) = (b for s in page_of(unsure).sections for b in s.blocks if isinstance(b, Rows) and b.caption == "Numbers")
    between = {name: limits for name, _, limits in rows.cells}["largest"]
    # 30 px with 0.3 px and 10 % of the scale: 1.5 mm with hypot(0.015, 0.15) mm, 1.96 of them to each side.
    assert between == "1.20 mm to 1.80 mm"


def test_without_a_scale_sizes_are_in_px(known_casting: Maker) -> None:
    says = photograph_in(page_of(known_casting(scale=None))).spots[0].says
    assert says.startswith("void, 30.0 px, standard uncertainty 0.30 px")


def test_a_large_photograph_is_made_smaller_with_its_marks(known_casting: Maker) -> None:
    large = shown(known_casting(), np.full((1600, 2400, 3), 180, np.uint8))
    assert (large.width, large.zoom) == (WIDEST_PX, 0.5)
    page = castings_page([large], not_graded=(), settings=Settings(), version="0")
    assert photograph_in(page).spots[0].x == pytest.approx(230.0 * 0.5)


def test_what_was_not_graded_is_in_the_report(known_casting: Maker) -> None:
    page = page_of(known_casting(), not_graded=[("bad.jpg", "bad.jpg is empty (0 bytes): copy the photograph again")])
    text = page_html(page)
    assert "Photographs without a result" in text
    assert "bad.jpg is empty (0 bytes)" in text


def test_a_casting_without_voids_is_an_ordinary_report(empty_casting: Maker) -> None:
    page = page_of(empty_casting())
    assert page.verdict.startswith("0 voids")
    assert "No void was counted." in page_html(page)


def test_a_table_lists_every_void_largest_first(known_casting: Maker) -> None:
    page = page_of(known_casting())
    (table,) = (
        b for s in page.sections for b in s.blocks if isinstance(b, Rows) and b.caption.startswith("All 3 voids")
    )
    assert [row[2] for row in table.cells] == ["230.0", "150.0", "60.0"]
    assert table.folded


def test_fifteen_photographs_with_three_thousand_voids_stay_under_eight_megabytes(known_casting: Maker) -> None:
    from bubblegrade.voids.table import Voids  # noqa: PLC0415

    rng = np.random.default_rng(1)
    codes = np.clip(rng.normal(150, 6, (900, 1200, 3)), 0, 255).astype(np.uint8)
    pages = []
    for number in range(15):
        x, y = rng.uniform(0, 1200, 200), rng.uniform(0, 900, 200)
        voids = Voids.of(x_px=x, y_px=y, diameter_px=rng.uniform(6, 40, 200), diameter_err_px=np.full(200, 0.1))
        pages.append(shown(known_casting(photo=f"{number}.jpg", voids=voids), codes))
    text = page_html(castings_page(pages, not_graded=(), settings=Settings(), version="0"))
    assert text.count("data-says") >= 3000
    assert len(text.encode()) < 8_000_000
