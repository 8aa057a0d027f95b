"""Dark marks get their kinds on traced photographs that nothing was taught on; see make_kinds.py."""

from __future__ import annotations

import csv
import sys
from collections import Counter, defaultdict
from pathlib import Path

import numpy as np
import pytest

from bubblegrade.casting.outline import find_outline
from bubblegrade.grading_run import Casting, Request, grade
from bubblegrade.photo.light import grey_light
from bubblegrade.photo.reading import read_photo
from bubblegrade.settings import Settings
from bubblegrade.voids.table import Voids

KINDS = Path(__file__).parent / "kinds"
LEAST_PX = 8.0  # a smaller mark has no shape to tell it by
ANSWERS = ("flake", "fibre", "pit", "scratch", "hardware", "unsure", "void", "not listed")
TRUE = ("flake", "fibre", "speck", "pit", "scratch", "hardware")
THIN = 0.02  # of its length: a find that is narrower is not the mark, as a flake beside the middle of a wire
ROUND_STRETCH = 1.1  # a void's silhouette is misshapen from this ratio of its axes on

Rows = list[dict[str, str]]


@pytest.fixture(scope="module")
def castings() -> dict[str, Casting]:
    """Return every photograph of the folder, graded."""
    return {path.name: grade(read_photo(path), Request(), Settings()) for path in sorted(KINDS.glob("*.jpg"))}


def rows_of(name: str) -> dict[str, Rows]:
    """Return the rows of a table by photograph."""
    by: dict[str, Rows] = defaultdict(list)
    with (KINDS / name).open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            by[row["photo"]].append(row)
    return by


def nearest(table: Voids, x: float, y: float, reach: float) -> str | None:
    """Return the kind of the find whose middle is nearest to a place and within `reach` px of it."""
    if not len(table):
        return None
    off = np.hypot(table.x_px - x, table.y_px - y) - 0.25 * table.diameter_px
    best = int(off.argmin())
    return str(table.kind[best]) if off[best] <= reach else None


def confusion(castings: dict[str, Casting]) -> Counter[tuple[str, str]]:
    """Return how often each true kind got each answer, among the marks in the judged area that have a shape."""
    counted: Counter[tuple[str, str]] = Counter()
    truth = rows_of("clutter.csv")
    for photo, casting in castings.items():
        outline = find_outline(grey_light(read_photo(KINDS / photo).codes))
        assert outline is not None
        for row in truth[photo]:
            x, y, size = (float(row[name]) for name in ("x", "y", "size_px"))
            if size < LEAST_PX or not outline.holds(outline.judged, np.array([x]), np.array([y]))[0]:
                continue
            reach = max(3.0, 0.35 * size)
            aside = casting.set_aside[casting.set_aside.diameter_px > THIN * size]
            answer = nearest(aside, x, y, reach) or nearest(casting.voids, x, y, 0.2 * size)
            counted[row["kind"], answer or "not listed"] += 1
    return counted


def test_flakes_fibres_and_hardware_are_named_as_such(
    castings: dict[str, Casting], capsys: pytest.CaptureFixture[str]
) -> None:
    counted = confusion(castings)
    total = {kind: sum(counted[kind, answer] for answer in ANSWERS) for kind in TRUE}
    lines = [f"{'true kind':10s}{'count':>6s}" + "".join(f"{answer:>12s}" for answer in ANSWERS)]
    for kind in TRUE:
        shares = "".join(f"{counted[kind, answer] / max(total[kind], 1):12.2f}" for answer in ANSWERS)
        lines.append(f"{kind:10s}{total[kind]:6d}{shares}")
    with capsys.disabled():
        sys.stdout.write("\n" + "\n".join(lines) + "\n")
    for kind in ("flake", "fibre", "hardware"):
        assert counted[kind, kind] >= 0.8 * total[kind], kind


def test_clutter_is_hardly_ever_counted_as_a_void(castings: dict[str, Casting]) -> None:
    counted = confusion(castings)
    assert sum(counted[kind, "void"] for kind in TRUE) <= 0.03 * sum(counted.values())


def test_misshapen_voids_are_counted_too(castings: dict[str, Casting], capsys: pytest.CaptureFixture[str]) -> None:
    found: dict[str, list[bool]] = {"round": [], "misshapen": []}
    for photo, rows in rows_of("voids.csv").items():
        table = castings[photo].voids
        for row in rows:
            x, y, size = (float(row[name]) for name in ("x", "y", "d_px"))
            if size < LEAST_PX or min(float(row["visible"]), float(row["lit"])) < 0.6 or float(row["hidden"]) > 0.4:
                continue
            shape = "misshapen" if float(row["stretch"]) > ROUND_STRETCH else "round"
            found[shape].append(bool(np.any(np.hypot(table.x_px - x, table.y_px - y) < 0.3 * size)))
    said = "; ".join(f"{shape} voids found: {np.mean(hits):.2f} of {len(hits)}" for shape, hits in found.items())
    with capsys.disabled():
        sys.stdout.write(f"\n{said}\n")
    assert np.mean(found["round"]) >= 0.9
    assert np.mean(found["misshapen"]) >= 0.8
