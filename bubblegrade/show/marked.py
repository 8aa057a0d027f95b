"""The marked photograph: what was found, outlined on the photograph at its full size, and a legend below it."""

from __future__ import annotations

from typing import Final

import cv2
import numpy as np

from bubblegrade.errors import PhotoError
from bubblegrade.grading_run import Casting
from bubblegrade.photo.light import Codes
from bubblegrade.show.legend import ALARM, GROUND, legend
from bubblegrade.show.marks import Pen, Picture, line_px
from bubblegrade.show.size_classes import size_classes

LEAST_WIDTH_PX: Final = 560  # of the legend; a narrower photograph gets a margin on its right
JPEG_QUALITY: Final = 90
LONGEST_SIDE_PX: Final = 65_500  # that a JPEG can have


def marked_jpeg(codes: Codes, casting: Casting) -> bytes:
    """Return the marked photograph as JPEG.

    Raises
    ------
    PhotoError
        A side is longer than a JPEG can be.
    """
    picture = marked(codes, casting)
    if max(picture.shape) > LONGEST_SIDE_PX:
        rows, cols = picture.shape[:2]
        raise PhotoError(
            f"{casting.photo}: its marked picture has {cols} x {rows} px, more than the {LONGEST_SIDE_PX} of a JPEG: "
            "send a smaller picture"
        )
    _, data = cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, JPEG_QUALITY])
    return data.tobytes()


def marked(codes: Codes, casting: Casting) -> Picture:
    """Return the photograph `codes` with all marks, (rows, cols, 3) blue, green, red.

    The photograph stands at the top left, pixel for pixel, so that positions in the tables hold in the marked picture.
    """
    rows, cols = casting.shape_px
    width, side = max(cols, LEAST_WIDTH_PX), max(rows, cols)
    strip = legend(casting, width=width, line_px=line_px(width))
    sheet = stacked_with(in_colour(codes), strip)
    _draw(Pen(sheet[:rows, :cols], line_px(side)), casting)
    return sheet


def stacked_with(picture: Picture, strip: Picture) -> Picture:
    """Return a picture with a strip below it, on a ground as wide as the wider one."""
    sheet = np.empty((len(picture) + len(strip), max(picture.shape[1], strip.shape[1]), 3), np.uint8)
    top = 0
    for part in (picture, strip):
        rows, cols = part.shape[:2]
        sheet[top : top + rows, :cols] = part
        sheet[top : top + rows, cols:] = GROUND
        top += rows
    return sheet


def in_colour(codes: Codes) -> Picture:
    """Return the picture in 8 bits and three colours; as it is where it has them."""
    eight = codes if codes.dtype == np.uint8 else np.asarray(codes >> 8, np.uint8)
    coloured = cv2.cvtColor(eight, cv2.COLOR_GRAY2BGR) if eight.ndim == 2 else eight  # noqa: PLR2004
    return np.ascontiguousarray(coloured, np.uint8)


def _draw(pen: Pen, casting: Casting) -> None:
    """Draw every mark, what was counted last."""
    for border in casting.judged_px:
        pen.border(border)
    if casting.span_px:
        one, other = np.array(casting.span_px, np.float64)
        pen.span(one, other)
    aside = casting.set_aside
    unsure = aside.kind == "unsure"
    for finds, mark in ((aside[~unsure], pen.set_aside), (aside[unsure], pen.unsure)):
        for x, y, diameter in zip(finds.x_px, finds.y_px, finds.diameter_px, strict=True):
            mark(x, y, diameter)
    for one_class in size_classes(casting):
        voids = casting.voids[one_class.members]
        for x, y, diameter in zip(voids.x_px, voids.y_px, voids.diameter_px, strict=True):
            pen.void(x, y, diameter, one_class.style)
    if casting.unfit:
        rows, cols = casting.shape_px
        frame = 3 * pen.line_px
        cv2.rectangle(pen.picture, (frame // 2, frame // 2), (cols - 1 - frame // 2, rows - 1 - frame // 2),
                      ALARM[::-1], frame)  # fmt: skip
