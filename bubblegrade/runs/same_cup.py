"""One cup photographed twice and given for two: its voids stand in the same pattern, however it was turned."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from bubblegrade.voids.again import shows_again
from bubblegrade.voids.table import Voids

Floats = NDArray[np.float64]


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


def shown_before(cups: Iterable[Shown]) -> dict[str, str]:
    """Return the photographs that show a cup of an earlier one of their setting again, each with that one."""
    first: list[Shown] = []
    again: dict[str, str] = {}
    for cup in cups:
        same = (other for other in first if other.setting == cup.setting and _same(other, cup))
        other = next(same, None)
        if other is None:
            first.append(cup)
        else:
            again[cup.photo] = other.photo
    return again


def words(again: dict[str, str]) -> tuple[str, ...]:
    """Return what to say of photographs that show a cup again."""
    return tuple(
        f"{photo} shows the cup of {other} again and is left out: a cup counts once, however often it is photographed."
        for photo, other in again.items()
    )


def _same(one: Shown, other: Shown) -> bool:
    """Say whether two photographs show one cup."""
    return shows_again(one.voids, other.voids, (one.edge_px, other.edge_px), (one.shape_px, other.shape_px))
