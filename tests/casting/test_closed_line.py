"""Castings whose edge is weaker, point by point, than the ripple of the backlight."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from bubblegrade.casting.closed_line import find_closed_line
from bubblegrade.casting.outline import find_outline

SIDE = 400
MIDDLE = (215.0, 190.0)


def rippled(waves_px: float, ripple: float, *, turn: float = 0.3, tilt: float = 0.0, seed: int = 0) -> np.ndarray:
    """Return the light of a bare, poorly diffused panel, with the noise of a photograph."""
    y, x = np.mgrid[:SIDE, :SIDE].astype(np.float32) - SIDE / 2
    x, y = (
        (np.cos(turn) * x - np.sin(turn) * y) / (1 + tilt * x),
        (np.sin(turn) * x + np.cos(turn) * y) / (1 + tilt * x),
    )
    light = 0.5 * (1 + ripple * np.cos(2 * np.pi * x / waves_px) * np.cos(2 * np.pi * y / waves_px))
    noise = np.random.default_rng(seed).normal(0.0, 0.002, light.shape)
    return np.asarray(light + noise, np.float32)


def disc(width: float, height: float, turn: float = 0.0) -> np.ndarray:
    """Return where an ellipse lies, from 0 to 1, its edge as soft as in a photograph."""
    y, x = np.mgrid[:SIDE, :SIDE] - np.array(MIDDLE)[::-1, None, None]
    along, across = np.cos(turn) * x + np.sin(turn) * y, np.cos(turn) * y - np.sin(turn) * x
    inside = (np.hypot(along / width, across / height) <= 0.5).astype(np.float32)
    return cv2.GaussianBlur(inside, (0, 0), 0.8)


@pytest.mark.parametrize(
    ("width", "height", "passes"),
    [(220.0, 220.0, 0.93), (230.0, 200.0, 0.93), (260.0, 55.0, 0.88)],
    ids=["puck", "tilted puck", "lens"],
)
def test_a_pale_casting_on_a_rippled_light_is_found_with_its_area_to_three_per_cent(
    width: float, height: float, passes: float
) -> None:
    light = rippled(26.0, 0.06) * (1 - (1 - passes) * disc(width, height, 0.6))
    outline = find_outline(light)
    assert outline is not None
    assert outline.area_px == pytest.approx(np.pi / 4 * width * height, rel=0.03)
    rows, cols = np.nonzero(outline.casting)
    assert (cols.mean(), rows.mean()) == pytest.approx(MIDDLE, abs=3.0)


def test_voids_do_not_draw_the_line() -> None:
    light = rippled(26.0, 0.06) * (1 - 0.07 * disc(220.0, 220.0))
    rng = np.random.default_rng(5)
    for turn, away in zip(rng.uniform(0, 2 * np.pi, 60), 95 * np.sqrt(rng.random(60)), strict=True):
        at = round(MIDDLE[0] + away * np.cos(turn)), round(MIDDLE[1] + away * np.sin(turn))
        cv2.circle(light, at, int(rng.integers(1, 5)), 0.15, 1, cv2.LINE_AA)
    line = find_closed_line(light, np.ones(light.shape, bool))
    assert line is not None
    area = cv2.contourArea(line.astype(np.float32))
    assert area == pytest.approx(np.pi * 110.0**2, rel=0.05)  # a void at the edge may dent it


def test_the_first_way_alone_does_not_find_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("bubblegrade.casting.outline.find_closed_line", lambda *_: None)
    assert find_outline(rippled(26.0, 0.06) * (1 - 0.07 * disc(220.0, 220.0))) is None


@pytest.mark.parametrize(
    ("waves_px", "ripple", "tilt"), [(19.0, 0.12, 0.0), (24.0, 0.05, 3e-4), (24.0, 0.12, 0.0), (40.0, 0.08, 3e-4)]
)
def test_a_bare_rippled_light_has_no_outline(waves_px: float, ripple: float, tilt: float) -> None:
    assert find_outline(rippled(waves_px, ripple, tilt=tilt)) is None


def test_no_light_has_no_line() -> None:
    assert find_closed_line(np.zeros((60, 60), np.float32), np.zeros((60, 60), bool)) is None
