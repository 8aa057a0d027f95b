"""Drawn photographs of scale cards that several tests of this room look at."""

from __future__ import annotations

import functools
import struct
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pytest
from numpy.typing import NDArray

from bubblegrade.drawn.cards import Sheet, Shot, paint, photograph
from bubblegrade.photo.card import Card, Layout, make_card
from bubblegrade.photo.card_shapes import black_shapes

Box = tuple[float, float, float, float]
READING_MM = 0.1  # how well a steel rule is read

D50 = (0.9642, 1.0, 0.8249)
# Colorants adapted to D50 as the profiles in circulation have them (from memory); they sum to D50.
COLORANTS = {
    "sRGB": ((0.4361, 0.2225, 0.0139), (0.3851, 0.7169, 0.0971), (0.1431, 0.0606, 0.7141)),
    "P3": ((0.5151, 0.2412, -0.0011), (0.2920, 0.6922, 0.0419), (0.1571, 0.0666, 0.7841)),
    "Adobe": ((0.6097, 0.3111, 0.0195), (0.2053, 0.6257, 0.0609), (0.1492, 0.0632, 0.7446)),
}


def _sheet_of(card: Card, hidden: tuple[Box, ...] = ()) -> Sheet:
    """Return a card as it lets light through: film everywhere but in the ink, paper in its window alone."""
    half_x, half_y = card.layout.half_mm
    return paint(
        black_shapes(card.layout, film=card.film),
        half_mm=(half_x + 6.0, half_y + 14.0),
        window_mm=0.0 if card.film else card.layout.window_mm,
        white=0.95 if card.film else 0.45,
        hidden=hidden,
    )


@functools.cache
def _frame_sheet() -> Sheet:
    """Return the usual card: A4, on paper, window 60 mm."""
    return _sheet_of(make_card())


@functools.cache
def _frame_shot(shot: Shot) -> NDArray[np.uint8]:
    """Return a photograph of the usual card."""
    return photograph(_frame_sheet(), shot)


@dataclass(frozen=True)
class Scene:
    """A drawn photograph of a card and what is true of it."""

    card: Card
    shot: Shot
    codes: NDArray[np.uint8]
    read_mm: float  # the check length as someone with a rule reads it


def _random_scene(seed: int) -> Scene:
    """Return a photograph of any card: 20 to 60 px a marker, tilted to 25 degrees, up to half of its markers hidden."""
    draws = np.random.default_rng(seed)
    card = make_card(
        str(draws.choice(["a4", "letter", "strip"])),
        window_mm=float(draws.choice([40.0, 60.0, 80.0, 100.0])),
        film=bool(draws.integers(2)),
    )
    hidden = _hidden(card.layout, draws)
    mm_per_px = 0.7 * card.layout.square_mm / draws.uniform(20.0, 60.0)
    cols = int(np.clip(2 * max(card.layout.half_mm) / mm_per_px * draws.uniform(1.15, 1.6), 500, 2400))
    rows = int(0.75 * cols)
    shot = Shot(
        shape_px=(rows, cols),
        focal_px=cols * draws.uniform(0.65, 1.3),
        mm_per_px=mm_per_px,
        tilt_degrees=draws.uniform(0.0, 25.0),
        tilt_towards_degrees=draws.uniform(0.0, 360.0),
        turn_degrees=draws.uniform(0.0, 360.0),
        aside_mm=tuple(draws.uniform(-0.1, 0.1, 2) * rows * mm_per_px),
        print_factor=draws.uniform(0.97, 1.03),
        k1=draws.uniform(-0.15, 0.15),
        uneven=draws.uniform(0.0, 0.6),
        blur_px=draws.uniform(0.5, 1.2),
        noise=draws.uniform(0.5, 3.0),
        jpeg=int(draws.integers(80, 97)),
        seed=seed,
    )
    codes = photograph(_sheet_of(card, hidden), shot)
    return Scene(card, shot, codes, read_mm=100.0 * shot.print_factor + draws.normal(0.0, READING_MM))


def _hidden(layout: Layout, draws: np.random.Generator) -> tuple[Box, ...]:
    """Return what hides markers: nothing, one half of the board, or a patch on every second one."""
    x, y = (half + 5.0 for half in layout.half_mm)
    halves: list[Box] = [(-x, -y, x, 0.0), (-x, 0.0, x, y), (-x, -y, 0.0, y), (0.0, -y, x, y)]
    how = int(draws.integers(3))
    if how < 2:
        return (halves[int(draws.integers(4))],) if how else ()
    places = [corners.mean(axis=0) for corners in layout.markers.values()]
    boxes = []
    for number in draws.choice(len(places), len(places) // 2, replace=False):
        (px, py), size = places[number] + draws.normal(0.0, 1.0, 2), layout.square_mm * draws.uniform(0.4, 0.7)
        boxes.append((px - size, py - size, px + size, py + size))
    return tuple(boxes)


@pytest.fixture(scope="session")
def sheet_of() -> Callable[..., Sheet]:
    """Return a function that paints a card."""
    return _sheet_of


@pytest.fixture(scope="session")
def frame_shot() -> Callable[[Shot], NDArray[np.uint8]]:
    """Return a function that photographs the usual card."""
    return _frame_shot


@pytest.fixture(scope="session")
def random_scene() -> Callable[[int], Scene]:
    """Return a function that draws a photograph of any card."""
    return _random_scene


def fixed(*numbers: float) -> bytes:
    """Return numbers as s15Fixed16."""
    return struct.pack(f">{len(numbers)}i", *(round(number * 65536) for number in numbers))


def curve_tag(gamma: float | None, table: tuple[int, ...], parameters: tuple[int, tuple[float, ...]] | None) -> bytes:
    """Return the tag of a tone curve: one power, a table, or a parametric curve with its kind."""
    if parameters is not None:
        return b"para\0\0\0\0" + struct.pack(">HH", parameters[0], 0) + fixed(*parameters[1])
    values = table if gamma is None else (round(gamma * 256),)
    return b"curv\0\0\0\0" + struct.pack(f">I{len(values)}H", len(values), *values)


@pytest.fixture
def icc_profile() -> Callable[..., bytes]:
    """Return a maker of ICC profiles: version 4, a matrix and one curve for all colours."""

    def made(
        gamma: float | None = None,
        table: tuple[int, ...] = (),
        parameters: tuple[int, tuple[float, ...]] | None = None,
        primaries: str = "sRGB",
        space: bytes = b"RGB ",
    ) -> bytes:
        curve = curve_tag(gamma, table, parameters)
        text = "example".encode("utf-16-be")
        words = b"mluc\0\0\0\0" + struct.pack(">II", 1, 12) + b"enUS" + struct.pack(">II", len(text), 28) + text
        tags = {b"desc": words, b"cprt": words, b"wtpt": b"XYZ \0\0\0\0" + fixed(*D50)}
        if space == b"GRAY":
            tags |= {b"kTRC": curve}
        else:
            colorants = zip((b"rXYZ", b"gXYZ", b"bXYZ"), COLORANTS[primaries], strict=True)
            tags |= {name: b"XYZ \0\0\0\0" + fixed(*xyz) for name, xyz in colorants}
            tags |= dict.fromkeys((b"rTRC", b"gTRC", b"bTRC"), curve)
        places, content = b"", b""
        start = 128 + 4 + 12 * len(tags)
        for name, tag in tags.items():
            places += name + struct.pack(">II", start + len(content), len(tag))
            content += tag + b"\0" * (-len(tag) % 4)
        body = struct.pack(">I", len(tags)) + places + content
        header = bytearray(128)
        struct.pack_into(">I4sI4s4s4s", header, 0, 128 + len(body), b"test", 0x04200000, b"mntr", space, b"XYZ ")
        struct.pack_into(">6H4s", header, 24, 2026, 1, 1, 0, 0, 0, b"acsp")
        header[68:80] = fixed(*D50)
        return bytes(header) + body

    return made
