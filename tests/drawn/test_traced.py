"""Traced photographs, where the renderer is installed: the truth is where the picture shows it."""

import json
import os
from pathlib import Path

import cv2
import numpy as np
import pytest

from bubblegrade.drawn.spec import Spec
from bubblegrade.drawn.traced import develop, render

needs_renderer = pytest.mark.skipif(
    "MI_VARIANT" not in os.environ, reason="set MI_VARIANT where the renderer is installed"
)


def test_developing_brightens_with_exposure_and_keeps_the_shape() -> None:
    linear = np.full((20, 30, 3), 0.5)
    dim, bright = (develop(Spec("a", 1, exposure=e, blur=b), linear) for e, b in ((0.3, 0.0), (0.8, 0.6)))
    assert dim.shape == (20, 30, 3)
    assert dim.mean() < bright.mean()


def test_developing_without_sharpening_keeps_the_mean_to_one_code_value() -> None:
    code = develop(Spec("a", 1, exposure=1.0, sharpen=0.0), np.full((50, 50, 3), 0.2))
    assert code.mean() == pytest.approx(123.6, abs=1.0)


@needs_renderer
def test_a_large_void_is_dark_around_where_the_truth_puts_it(tmp_path: Path) -> None:
    spec = Spec("one", 3, voids=1, median_mm=4.0, gsd=1.01, width_px=200, height_px=200, spp=16, pits=1, specks=1)
    render(spec, tmp_path)
    truth = json.loads((tmp_path / "one.json").read_text())
    picture = cv2.imread(str(tmp_path / "one.jpg"), cv2.IMREAD_GRAYSCALE)
    void = truth["voids"][0]
    y, x = np.indices(picture.shape)
    from_middle = np.hypot(x - void["x"], y - void["y"]) / (void["d_px"] / 2)
    assert picture[(from_middle > 0.5) & (from_middle < 0.9)].mean() < 0.8 * picture[from_middle > 1.2].mean()
    assert {item["kind"] for item in truth["clutter"]} == {"pit", "speck"}
