"""Drawn castings swept over light, blur, contrast, noise and overlap: bias and spread by diameter in the output."""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from bubblegrade.drawn.pictures import Scene, draw, grid

SIZES = np.array([6.0, 9.0, 14.0, 24.0, 40.0])
PLACES = np.linspace(250, 750, 9)
PLAIN = Scene(width_px=1000, height_px=1000, casting_px=430.0, theta=0.6, wall=0.2, seed=5)
SWEEPS: dict[str, list[tuple[str, dict[str, Any]]]] = {
    "light angle in the resin": [(f"{deg} degrees", {"theta": np.radians(deg)}) for deg in (22, 28, 34, 40)],
    "blur": [(f"{px} px", {"blur_px": px}) for px in (0.5, 1.0, 1.8, 2.6)],
    "contrast (side light)": [(f"wall {w}", {"wall": w}) for w in (0.0, 0.3, 0.6)],
    "noise": [(f"{e} electrons", {"electrons": float(e)}) for e in (8000, 2500, 900)],
}
MOST_BIAS = 0.02  # of the diameter from 9 px on, whatever the light
OVERLAPS = (1.2, 0.9, 0.7, 0.5)  # distance of two middles over the diameter


def scene(**change: Any) -> Scene:
    """Return a casting with 81 voids of five sizes on a grid, slightly off the pixels."""
    x, y = grid(PLACES, PLACES)
    rng = np.random.default_rng(8)
    x, y = x + rng.uniform(-0.5, 0.5, len(x)), y + rng.uniform(-0.5, 0.5, len(y))
    return replace(PLAIN, x_px=x, y_px=y, diameter_px=np.resize(SIZES, len(x)), **change)


def by_size(found: Any, drawn: Scene) -> list[tuple[float, float, float]]:
    """Return for each of SIZES the share found, the bias and the spread of the diameter."""
    rows = []
    x, y, d = (np.asarray(a, np.float64) for a in (drawn.x_px, drawn.y_px, drawn.diameter_px))
    for size in SIZES:
        mine = d == size
        off = np.hypot(found.x_px[:, None] - x[mine], found.y_px[:, None] - y[mine])
        hit = (off < max(2.0, 0.3 * size)).any(axis=0) if len(found) else np.zeros(mine.sum(), bool)
        ratio = found.diameter_px[off.argmin(axis=0)][hit] / size if hit.any() else np.array([np.nan])
        rows.append((float(hit.mean()), float(np.median(ratio)) - 1, float(np.std(ratio))))
    return rows


@pytest.mark.parametrize("sweep", list(SWEEPS))
def test_sizes_are_true_over(sweep: str, graded: Callable, capsys: pytest.CaptureFixture[str]) -> None:
    lines = [f"{sweep:26s}" + "".join(f"{size:>22.0f} px" for size in SIZES)]
    for name, change in SWEEPS[sweep]:
        drawn = scene(**change)
        rows = by_size(graded(draw(drawn).picture).voids, drawn)
        cells = "".join(f"  {share:5.2f} {100 * bias:+6.1f} % ± {100 * spread:4.1f}" for share, bias, spread in rows)
        lines.append(f"{name:26s}{cells}")
        assert all(abs(bias) <= MOST_BIAS for _, bias, _ in rows[1:]), name
        assert all(share >= 0.9 for share, _, _ in rows[1:]), name
    with capsys.disabled():
        sys.stdout.write("\n" + "\n".join(lines) + "\n")


def test_overlapping_voids_are_found_both(graded: Callable, capsys: pytest.CaptureFixture[str]) -> None:
    lines = ["two voids of 24 px, apart   found   bias"]
    for apart in OVERLAPS:
        x, y = grid(np.linspace(260, 740, 6), np.linspace(260, 740, 6))
        both = np.concatenate([x, x + 24 * apart]), np.concatenate([y, y])
        drawn = replace(PLAIN, x_px=both[0], y_px=both[1], diameter_px=np.full(2 * len(x), 24.0))
        found = graded(draw(drawn).picture).voids
        off = np.hypot(found.x_px[:, None] - both[0], found.y_px[:, None] - both[1])
        hit = (off < 5).any(axis=0)
        bias = np.median(found.diameter_px[off.argmin(axis=0)][hit]) / 24 - 1
        lines.append(f"{apart:14.1f} diameters   {hit.mean():6.2f} {100 * bias:+6.1f} %")
        assert hit.mean() >= (0.95 if apart >= 0.7 else 0.8)
        assert abs(bias) < MOST_BIAS
    with capsys.disabled():
        sys.stdout.write("\n" + "\n".join(lines) + "\n")
