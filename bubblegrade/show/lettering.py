"""Words in pictures: how long they are, where a line ends, and their letters, drawn once and laid down again.

Rendering a letter takes as long as laying down hundreds, and the words of one legend come again in the next.
"""

from __future__ import annotations

import re
from functools import cache, lru_cache
from typing import Any, Final

from PIL import Image, ImageDraw, ImageFont

PIECES: Final = re.compile(r"\d|[^\d ]+| ")  # that a text is laid down in: words come again, and digits of any number
TEXT_PX: Final = 18  # letters of a legend
LEAST_WIDTH_PX: Final = 720  # of a legend
LONGEST_PX: Final = 1400  # side of a picture with a legend; a larger photograph is shown smaller
KEPT: Final = 1024  # pieces; in a picture 4000 px wide each takes some 10 kB


@cache
def font_of(size_px: int) -> Any:
    """Return the font, read once for each size."""
    return ImageFont.load_default(size_px)


def text_length(text: str, font: Any) -> float:
    """Return how long a text is in px."""
    return sum(_length(piece, font) for piece in PIECES.findall(text))


def wrapped(text: str, font: Any, width: float) -> list[str]:
    """Return text in lines that fit `width`, a word longer than that on a line of its own."""
    lines, space, end = [""], text_length(" ", font), 0.0
    for word in text.split():
        across = text_length(word, font)
        if lines[-1] and end + space + across > width:
            lines.append(word)
            end = across
        else:
            end += across + space * bool(lines[-1])
            lines[-1] = f"{lines[-1]} {word}".strip()
    return lines


def write_line(pencil: ImageDraw.ImageDraw, x: float, y: float, text: str, font: Any, colour: Any) -> None:
    """Write a line of text that begins at `x`, the middle of its height at `y`."""
    for piece in PIECES.findall(text):
        if piece != " ":
            letters = _letters(piece, font)
            pencil.bitmap((round(x) - 1, int(y) - letters.height // 2), letters, fill=colour)
        x += _length(piece, font)


@lru_cache(maxsize=KEPT)
def _length(piece: str, font: Any) -> float:
    return float(font.getlength(piece))


@lru_cache(maxsize=KEPT)
def _letters(piece: str, font: Any) -> Image.Image:
    """Return the cover of a piece's letters, which begin 1 px from its left, the middle of their height in its own."""
    letters = Image.new("L", (int(_length(piece, font)) + 3, sum(font.getmetrics()) // 2 * 2 + 2))
    ImageDraw.Draw(letters).text((1, letters.height / 2), piece, fill=255, font=font, anchor="lm")
    return letters
