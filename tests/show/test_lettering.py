"""Words in pictures, against the same text rendered in one go."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image, ImageDraw

from bubblegrade.show.lettering import font_of, text_length, wrapped, write_line

LINE = "13 look again: flank: unsure find of 1.56 to 3.11 mm, and 32 more; look at 1267,493"


@pytest.mark.parametrize("size", [14, 18, 23])
def test_a_line_stands_where_it_would_if_it_were_rendered_in_one_go(size: int) -> None:
    font = font_of(size)
    laid, whole = (Image.new("L", (1200, 60)) for _ in range(2))
    write_line(ImageDraw.Draw(laid), 10.0, 30.0, LINE, font, 255)
    ImageDraw.Draw(whole).text((10.0, 30.0), LINE, fill=255, font=font, anchor="lm")
    ink, expected = (np.asarray(sheet, np.float64) for sheet in (laid, whole))
    for axis in (0, 1):
        ends, those = (np.flatnonzero(sheet.max(axis=axis) > 128)[[0, -1]] for sheet in (ink, expected))
        assert ends == pytest.approx(those, abs=1)  # each word begins at a whole px
    assert ink.sum() == pytest.approx(expected.sum(), rel=0.02)
    assert text_length(LINE, font) == pytest.approx(font.getlength(LINE), abs=2.0)


def test_lines_end_at_words_and_fit_the_width() -> None:
    font = font_of(18)
    lines = wrapped(LINE, font, 300.0)
    assert " ".join(lines) == LINE
    assert all(text_length(line, font) <= 300.0 for line in lines)


def test_a_word_longer_than_the_width_has_a_line_of_its_own() -> None:
    assert wrapped("a photograph-with-a-very-long-name.jpg b", font_of(18), 60.0) == [
        "a",
        "photograph-with-a-very-long-name.jpg",
        "b",
    ]
