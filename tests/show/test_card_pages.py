"""The printed sheet has the size, the marks and the check length that it says."""

from __future__ import annotations

import functools
import io
import re

import numpy as np
import pypdf
import pytest

from bubblegrade.photo.card import PAPERS_MM, Card, make_card
from bubblegrade.photo.card_shapes import black_shapes
from bubblegrade.show.card_pages import card_page, title, words

MM = 72.0 / 25.4  # points in a mm
CARDS = [
    make_card(paper, window_mm=window, film=film)
    for paper, window, film in (("a4", 60.0, False), ("letter", 140.0, True), ("strip", 60.0, False))
]


@functools.cache
def pdf_of(name: str) -> bytes:
    """Return the page of one of the cards, drawn once."""
    return card_page(next(card for card in CARDS if title(card) == name), "pdf")


def page_of(card: Card) -> pypdf.PageObject:
    return pypdf.PdfReader(io.BytesIO(pdf_of(title(card)))).pages[0]


def straight_lines(page: pypdf.PageObject) -> list[tuple[np.ndarray, np.ndarray]]:
    """Return both ends, in points, of every path of one straight line on the page."""
    lines, path = [], []
    for operands, operator in page.get_contents().operations:  # type: ignore[union-attr]
        if operator in (b"m", b"l"):
            path.append(np.array([float(number) for number in operands]))
        elif operator == b"S":
            lines += [tuple(path)] if len(path) == 2 else []
            path = []
        elif operator not in (b"h", b"c"):
            path = []
    return lines


@pytest.mark.parametrize("card", CARDS, ids=title)
def test_a_pdf_has_one_page_of_the_papers_size(card: Card) -> None:
    reader = pypdf.PdfReader(io.BytesIO(pdf_of(title(card))))
    assert len(reader.pages) == 1
    box = reader.pages[0].mediabox
    assert (float(box.width) / MM, float(box.height) / MM) == pytest.approx(PAPERS_MM[card.paper], abs=0.01)
    assert reader.pages[0].user_unit == 1


@pytest.mark.parametrize("card", CARDS, ids=title)
def test_the_check_length_read_back_from_the_pdf_is_100_mm_and_where_the_card_has_it(card: Card) -> None:
    level = [line for line in straight_lines(page_of(card)) if line[0][1] == pytest.approx(line[1][1], abs=1e-3)]
    ((begin, end),) = [line for line in level if abs(line[1][0] - line[0][0]) == pytest.approx(100 * MM, abs=1)]
    assert abs(end[0] - begin[0]) / MM == pytest.approx(100.0, abs=0.001)
    left, _, _, bottom = card.page_mm
    assert (begin[0] / MM + left, bottom - begin[1] / MM) == pytest.approx(
        (card.check_mm[0], card.check_mm[2]), abs=0.01
    )


@pytest.mark.parametrize("card", CARDS, ids=title)
def test_the_board_read_back_from_the_pdf_is_as_wide_as_it_should_be(card: Card) -> None:
    drawn = np.concatenate([loop for shape in black_shapes(card.layout, film=card.film) for loop in shape])
    data = page_of(card).get_contents().get_data().decode("latin-1")  # type: ignore[union-attr]
    filled = re.findall(r"((?:[-\d.]+ [-\d.]+ [ml]\s+)+h)", data)
    points = np.array([pair for path in filled for pair in re.findall(r"([-\d.]+) ([-\d.]+) [ml]", path)], float) / MM
    places = points * (1, -1) + (card.page_mm[0], card.page_mm[3])
    ours = {tuple(place) for place in drawn.round(2).tolist()}
    theirs = {tuple(place) for place in places.round(2).tolist()}
    near = {(x + dx / 100, y + dy / 100) for x, y in theirs for dx in (-1, 0, 1) for dy in (-1, 0, 1)}
    assert ours <= {(round(x, 2), round(y, 2)) for x, y in near}


@pytest.mark.parametrize("kind", ["pdf", "svg"])
def test_the_same_card_gives_the_same_bytes(kind: str) -> None:
    assert card_page(CARDS[0], kind) == card_page(CARDS[0], kind)


def test_no_date_stands_in_the_files() -> None:
    assert b"Date" not in pdf_of(title(CARDS[0]))
    assert b"dc:date" not in card_page(CARDS[0], "svg")


def test_an_svg_has_the_papers_size() -> None:
    head = card_page(CARDS[0], "svg").decode()[:900]
    (width,), (height,) = (re.findall(rf'{side}="([\d.]+)pt"', head) for side in ("width", "height"))
    assert (float(width) / MM, float(height) / MM) == pytest.approx((210.0, 297.0), abs=0.01)


def test_the_sheet_says_how_to_print_measure_and_use_it() -> None:
    text = page_of(CARDS[0]).extract_text()
    for said in ("--printed 99.2mm", "Measure it with a steel rule", "actual size", "Cut the window out"):
        assert said in text
    assert any("print side up" in line for line in words(CARDS[1]))
    assert any("beside the casting" in line for line in words(CARDS[2]))
