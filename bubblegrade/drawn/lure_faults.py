"""Drawn lures with one planted fault each, or none, in limits that a maker might set; for tests of the whole chain."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Final

import numpy as np

from bubblegrade.drawn.lures import EYE_PLACE, EYE_PX, LENGTH_PX, WIDTH_PX, Lure, Mark

MM_PER_PX: Final = 0.05  # at size 1
LARGEST_PX: Final = {"face": 12.0, "flank": 15.0, "belly": 18.0}  # of the limits below, at size 1
PLACES: Final = {"face": (0.24, 0.28, 0.4, 0.75), "flank": (0.4, 0.8, 0.3, 0.5), "belly": (0.38, 0.62, 0.74, 0.86)}
WIRE: Final = (0.4, 0.56, 0.68, 0.56)
OVER: Final = (1.12, 1.8)  # of the limit: a void that is too large
UNDER: Final = (0.75, 0.85)  # and one that is not; large enough to be counted at half the size
HARDWARE_GAP_PX: Final = (1.5, 5.5)  # of the 8 px that are allowed

Rng = np.random.Generator


def limits_text(mm_per_px: float = MM_PER_PX) -> str:
    """Return what the planted faults break and the clean lures keep, as a file of limits."""

    def mm(length_px: float) -> str:
        return f'"{length_px * mm_per_px:.4g}mm"'

    return f"""
name = "drawn lure"
[zones.face]
shape = "box"
along = [0.0, 0.3]
across = [0.0, 1.0]
largest = {mm(LARGEST_PX["face"])}
unjudged = "50%"
[zones.flank]
shape = "box"
along = [0.3, 0.9]
across = [0.0, 0.6]
largest = {mm(LARGEST_PX["flank"])}
cluster_within = {mm(30.0)}
cluster_over = {mm(10.0)}
unjudged = "50%"
[zones.belly]
shape = "box"
along = [0.3, 0.9]
across = [0.6, 1.0]
largest = {mm(LARGEST_PX["belly"])}
unjudged = "50%"
[zones.hardware]
shape = "hardware"
margin = {mm(20.0)}
from_hardware = {mm(8.0)}
unjudged = "60%"
"""


def clean(rng: Rng) -> Lure:
    """Return a lure with one void in each zone, none over its limit."""
    return Lure(voids=tuple(_void(zone, UNDER, rng) for zone in PLACES))


def glitter(rng: Rng) -> Lure:
    """Return a lure with flakes and no void."""
    return Lure(flakes=int(rng.integers(5, 25)))


def wired(rng: Rng) -> Lure:
    """Return a clean lure with a wire in it."""
    return Lure(voids=(_void("face", UNDER, rng), _void("belly", UNDER, rng)), wire=WIRE)


def beside_eye(rng: Rng) -> Lure:
    """Return a lure with a small void too near to its eye."""
    gap, turn, diameter = rng.uniform(*HARDWARE_GAP_PX), rng.uniform(-0.8, 0.8), rng.uniform(10.0, 11.5)
    away = EYE_PX / 2 + gap + diameter / 2
    along = EYE_PLACE[0] + away * math.cos(turn) / LENGTH_PX
    return Lure(voids=((along, EYE_PLACE[1] + away * math.sin(turn) / WIDTH_PX, diameter),))


def cluster(rng: Rng) -> Lure:
    """Return a lure with three voids on its flank that lie together, none over the limit."""
    along, across, _ = _void("flank", UNDER, rng)
    turns = rng.uniform(0, 2 * math.pi) + 2 * math.pi * np.arange(3) / 3
    away = rng.uniform(9.5, 13.0)
    voids = ((along + away * math.cos(t) / LENGTH_PX, across + away * math.sin(t) / WIDTH_PX, 12.5) for t in turns)
    return Lure(voids=tuple((float(a), float(b), d) for a, b, d in voids))


def _void(zone: str, share: tuple[float, float], rng: Rng) -> Mark:
    """Return a void in a zone, of a share of its limit."""
    from_along, to_along, from_across, to_across = PLACES[zone]
    diameter = LARGEST_PX[zone] * rng.uniform(*share)
    return rng.uniform(from_along, to_along), rng.uniform(from_across, to_across), diameter


def _too_large(zone: str) -> Callable[[Rng], Lure]:
    def lure(rng: Rng) -> Lure:
        return Lure(voids=(_void(zone, OVER, rng),))

    return lure


FAULTLESS: Final[dict[str, Callable[[Rng], Lure]]] = {"clean": clean, "glitter": glitter, "wired": wired}
FAULTS: Final[dict[str, Callable[[Rng], Lure]]] = {
    **{f"large in {zone}": _too_large(zone) for zone in PLACES},
    "beside the eye": beside_eye,
    "cluster": cluster,
}
