"""Light with round castings in it, drawn for the tests of what lies beside one."""

from __future__ import annotations

import cv2
import numpy as np

BARE = 0.6  # linear light


def disc_light(rows: int, cols: int, *discs: tuple[float, float, float, float], noise: float = 0.004) -> np.ndarray:
    """Return bare light, (rows, cols), with discs: x, y, radius in px and the share of light they pass."""
    y, x = np.mgrid[:rows, :cols].astype(np.float32)
    light = np.full((rows, cols), BARE, np.float32)
    for middle_x, middle_y, radius, clear in discs:
        light[np.hypot(x - middle_x, y - middle_y) < radius] *= clear
    soft = cv2.GaussianBlur(light, (0, 0), 1.0)
    return np.asarray(soft + np.random.default_rng(5).normal(0.0, noise, soft.shape), np.float32)
