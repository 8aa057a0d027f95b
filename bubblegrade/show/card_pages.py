"""The scale card drawn on its sheet, to be printed."""

from __future__ import annotations

import io
from typing import Any, Final

from matplotlib import style
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import PathPatch, Rectangle
from matplotlib.path import Path as Outline

from bubblegrade.photo.card import CHECK_MM, PIECE_SHARE, Card
from bubblegrade.photo.card_shapes import Loops, black_shapes
from bubblegrade.units import MM_PER_INCH

FORMATS: Final = ("pdf", "svg")
NAMES: Final = {"a4": "A4", "letter": "Letter", "strip": "strip"}
INK: Final = "black"
GREY: Final = "#808080"  # half of full scale, as a screen or printer codes it
FAINT: Final = "#8a8a8a"
LINE_MM: Final = 0.25
TICK_MM: Final = 3.0  # to either side of the check length's ends
TEXT_PT, TITLE_PT, SMALL_PT = 8.5, 11.0, 7.0
TITLE_MM: Final = 10.0  # from the sheet's edge to the title's top
LINE_STEP_MM: Final = 4.6
MM_PER_PT: Final = MM_PER_INCH / 72.0
STYLE: Final[dict[str, Any]] = {"font.family": ["DejaVu Sans"], "svg.fonttype": "path", "svg.hashsalt": "bubblegrade"}


def card_page(card: Card, kind: str) -> bytes:
    """Return the sheet as a file of the kind `pdf` or `svg`; the same card gives the same bytes."""
    assert kind in FORMATS, kind  # noqa: S101
    left, top, right, bottom = card.page_mm
    file = io.BytesIO()
    nothing = {"pdf": {"CreationDate": None, "Producer": None}, "svg": {"Date": None}}[kind]
    with style.context(["default", STYLE]):
        figure = Figure(figsize=((right - left) / MM_PER_INCH, (bottom - top) / MM_PER_INCH))
        axes = figure.add_axes((0.0, 0.0, 1.0, 1.0), xlim=(left, right), ylim=(bottom, top))
        axes.set_axis_off()
        _draw(axes, card)
        figure.savefig(file, format=kind, metadata={"Title": title(card), "Creator": None, **nothing})
    return file.getvalue()


def title(card: Card) -> str:
    """Return the card's heading.

    >>> from bubblegrade.photo.card import make_card
    >>> title(make_card("letter", window_mm=60.0, film=True))
    'bubblegrade scale card, Letter, window 60 mm, for clear film'
    """
    window = f", window {card.layout.window_mm:g} mm" if card.layout.hole else ""
    return f"bubblegrade scale card, {NAMES[card.paper]}{window}{', for clear film' if card.film else ''}"


def words(card: Card) -> tuple[str, ...]:
    """Return what the sheet tells its reader, line by line."""
    place = "the casting in the window" if card.layout.hole else "close beside the casting"
    if card.film:
        use = (
            "Print on clear film made for your printer, as dark as it can.",
            f"Lay it flat on the light, print side up, {place}.",
        )
    elif card.layout.hole:
        use = ("Cut the window out along the dashed line.", f"Lay the card flat on the light, {place}.")
    else:
        use = ("Cut along the dashed line.", f"Lay it flat on the light, {place}.")
    return (
        "Print at actual size (100 %), never fitted to the page.",
        *use,
        "Photograph from above, the whole pattern in view. Half of it may be hidden.",
    )


def _draw(axes: Axes, card: Card) -> None:
    """Draw the sheet."""
    for shape in black_shapes(card.layout, film=card.film):
        axes.add_patch(PathPatch(_outline(shape), facecolor=INK, linewidth=0))
    left, top, right, bottom = card.patch_mm
    axes.add_patch(Rectangle((left, top), right - left, bottom - top, facecolor=GREY, linewidth=0))
    axes.text(left - 2.0, (top + bottom) / 2, "grey 50 %", fontsize=SMALL_PT, ha="right", va="center", color=INK)
    if not card.film:
        _cut_line(axes, card)
    _check_length(axes, card)
    x = min(-CHECK_MM / 2, -card.layout.half_mm[0])
    axes.text(x, card.page_mm[1] + TITLE_MM, title(card), fontsize=TITLE_PT, fontweight="bold", va="top")
    for number, line in enumerate(words(card)):
        axes.text(x, card.check_mm[2] + 11.0 + number * LINE_STEP_MM, line, fontsize=TEXT_PT, va="top")


def _outline(shape: Loops) -> Outline:
    """Return loops as one outline to fill."""
    return Outline.make_compound_path(*(Outline([*loop, loop[0]], closed=True) for loop in shape))


def _cut_line(axes: Axes, card: Card) -> None:
    """Draw where to cut: the window's edge, or around the strip and its grey patch."""
    half_x, half_y = card.layout.half_mm
    half = card.layout.window_mm / 2
    edge = (PIECE_SHARE + 0.2) * card.layout.square_mm
    box = (-half, -half, half, half)
    if not card.layout.hole:
        box = (-half_x - edge, -half_y - edge, half_x + edge, card.patch_mm[3] + 2.0)
    axes.add_patch(
        Rectangle(
            box[:2], box[2] - box[0], box[3] - box[1], fill=False, edgecolor=FAINT, linewidth=0.6, linestyle=(0, (4, 3))
        )
    )
    if card.layout.hole:
        axes.text(0.0, 0.0, "cut this window out", fontsize=TEXT_PT, color=FAINT, ha="center", va="center")


def _check_length(axes: Axes, card: Card) -> None:
    """Draw the length to measure, from the middle of one tick to the middle of the other."""
    left, right, y = card.check_mm
    axes.plot((left, right), (y, y), color=INK, linewidth=LINE_MM / MM_PER_PT, solid_capstyle="butt")
    for x in (left, right):
        axes.plot((x, x), (y - TICK_MM, y + TICK_MM), color=INK, linewidth=LINE_MM / MM_PER_PT, solid_capstyle="butt")
    axes.text(
        0.0,
        y - 1.5,
        f"{CHECK_MM:g} mm from mark to mark. Measure it with a steel rule.",
        fontsize=TEXT_PT,
        ha="center",
        va="bottom",
    )
    axes.text(
        0.0,
        y + 1.5,
        "Not 100 mm? Grade with what you read, as in --printed 99.2mm",
        fontsize=TEXT_PT,
        ha="center",
        va="top",
    )
