"""One cup photographed twice and given for two: its voids stand in the same pattern, however it was turned."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from bubblegrade.voids.again import PATTERN, area_of, shows_again
from bubblegrade.voids.table import Voids

Floats = NDArray[np.float64]

SIZES_ALIKE: Final = 0.1  # of ln size, median over the largest voids: of one cup they differ by 0.02, and by more where
# one of them is missed


@dataclass(frozen=True, eq=False)
class Shown:
    """What a photograph shows of its cup."""

    photo: str
    setting: str
    voids: Voids
    edge_px: Floats  # (N, 2) x, y
    shape_px: tuple[int, int]


def shown(record: dict[str, Any], setting: str) -> Shown:
    """Return what run.json's `record` of a casting shows of a cup of a setting."""
    line = record["outline"]
    return Shown(
        photo=record["photo"],
        setting=setting,
        voids=Voids.of(**{name: record["voids"][name] for name in ("x_px", "y_px", "diameter_px")}),
        edge_px=np.column_stack([line["x_px"], line["y_px"]]),
        shape_px=(record["height_px"], record["width_px"]),
    )


def left_out(cups: Iterable[Shown]) -> dict[str, str]:
    """Return the photographs that count for no cup since they show one that another shows, each with what to say.

    Of one setting the first counts. Of two settings none does: a cup gelled at one pressure, and nobody can see which.
    """
    first: list[Shown] = []
    left: dict[str, str] = {}
    for cup in cups:
        other = next((other for other in first if _same(other, cup)), None)
        if other is None:
            first.append(cup)
        elif other.setting == cup.setting:
            left[cup.photo] = (
                f"{cup.photo} shows the cup of {other.photo} again and is left out: a cup counts once, however often "
                "it is photographed."
            )
        else:
            left[cup.photo] = left[other.photo] = (
                f"{cup.photo} at {cup.setting} shows the cup of {other.photo} at {other.setting}, and both are left "
                "out: a cup gelled at one pressure, keep the right one."
            )
    return left


def _same(one: Shown, other: Shown) -> bool:
    """Say whether two photographs show one cup."""
    edges, shapes = (one.edge_px, other.edge_px), (one.shape_px, other.shape_px)
    return _as_large(one, other) and shows_again(one.voids, other.voids, edges, shapes)


def _as_large(one: Shown, other: Shown) -> bool:
    """Say whether the largest voids of two are as large beside their castings: one look spares most comparisons."""
    if min(map(len, (one.voids, other.voids))) < PATTERN or min(map(len, (one.edge_px, other.edge_px))) == 0:
        return False
    largest = (-np.sort(-cup.voids.diameter_px)[:PATTERN] / math.sqrt(area_of(cup.edge_px)) for cup in (one, other))
    return bool(np.median(np.abs(np.subtract(*map(np.log, largest)))) < SIZES_ALIKE)
