"""What lies on the light is covered as if it had never lain there."""

from __future__ import annotations

import numpy as np
import pytest

from bubblegrade.photo.covering import covered


def sloping(dtype: type, full: int) -> np.ndarray:
    """Return a light that slopes in both directions, another slope in each colour, (80, 120, 3)."""
    y, x = np.mgrid[0:80, 0:120]
    light = np.stack([0.5 + 0.001 * x, 0.6 + 0.002 * y, 0.7 - 0.001 * (x + y)], axis=-1)
    return (light * full).astype(dtype)


@pytest.mark.parametrize(("dtype", "full"), [(np.uint8, 255), (np.uint16, 65535)])
def test_a_slope_goes_on_under_what_covered_it(dtype: type, full: int) -> None:
    light = sloping(dtype, full)
    region = np.zeros(light.shape[:2], bool)
    region[30:50, 40:80] = True
    spoiled = light.copy()
    spoiled[region] = 3
    found = covered(spoiled, region)
    assert np.abs(found.astype(int) - light).max() <= 1 + full // 255 // 8
    np.testing.assert_array_equal(found[~region], light[~region])
    assert spoiled[40, 60, 0] == 3  # the picture given is left alone


def test_a_grey_picture_is_covered_in_its_one_layer() -> None:
    light = sloping(np.uint8, 255)[..., 0]
    region = np.zeros(light.shape, bool)
    region[30:50, 40:80] = True
    assert np.abs(covered(np.where(region, 0, light).astype(np.uint8), region).astype(int) - light).max() <= 1


def test_a_region_at_the_frames_edge_is_covered_from_what_is_left() -> None:
    light = sloping(np.uint8, 255)
    region = np.zeros(light.shape[:2], bool)
    region[:20, :30] = True
    assert (
        np.abs(covered(np.where(region[..., None], 0, light).astype(np.uint8), region).astype(int) - light).max() <= 1
    )


def test_a_region_that_fills_the_picture_changes_nothing() -> None:
    light = sloping(np.uint8, 255)
    assert covered(light, np.ones(light.shape[:2], bool)) is light
