"""Silhouettes as they are drawn for cover and marks have the shape values of digital discs.

Values: 4 pi A / P^2 with the Crofton perimeter in 4 directions, mean and standard deviation over discs of random
sub-pixel centres, and the equivalent diameter's standard deviation on the pixel grid; computed with scikit-image, no
published source. Circularity after ISO 9276-6 (from memory) is the root of 4 pi A / P^2; for an ellipse of semi-axes 2
and 1 4 pi A / P^2 is 0.841165 (computed from the exact perimeter 9.688448).
"""

from __future__ import annotations

import numpy as np
import pytest
from skimage.draw import ellipse
from skimage.measure import perimeter_crofton, regionprops

from bubblegrade.voids.lost import discs
from bubblegrade.voids.table import Voids

DRAWN = 60  # discs of each size


def silhouettes(diameter: float) -> list[np.ndarray]:
    rng = np.random.default_rng(5)
    side = int(diameter) + 12
    places = side / 2 + rng.uniform(-0.5, 0.5, (DRAWN, 2))
    return [discs((side, side), Voids.of(x_px=[x], y_px=[y], diameter_px=[diameter]), 1.0) for x, y in places]


@pytest.mark.parametrize(
    ("diameter", "mean", "deviation"), [(10, 1.005, 0.020), (20, 1.001, 0.012), (40, 1.000, 0.006), (80, 1.000, 0.003)]
)
def test_a_silhouette_is_as_round_as_a_digital_disc(diameter: float, mean: float, deviation: float) -> None:
    roundness = [4 * np.pi * mask.sum() / perimeter_crofton(mask, 4) ** 2 for mask in silhouettes(diameter)]
    # OpenCV fills every pixel that the outline touches, which rounds small discs a little.
    assert np.mean(roundness) == pytest.approx(mean, abs=2 * deviation)


@pytest.mark.parametrize(("diameter", "touched"), [(10, 0.08), (20, 0.05), (40, 0.03), (80, 0.015)])
def test_a_silhouette_has_the_area_of_its_disc_but_for_the_pixels_its_edge_touches(
    diameter: float, touched: float
) -> None:
    equivalent = [regionprops(mask.astype(np.uint8))[0].equivalent_diameter_area for mask in silhouettes(diameter)]
    assert np.mean(equivalent) == pytest.approx(diameter, rel=touched)


def test_an_ellipse_twice_as_long_as_wide_has_the_roundness_of_its_exact_perimeter() -> None:
    mask = np.zeros((460, 860), bool)
    mask[ellipse(230, 430, 200, 400)] = True
    assert 4 * np.pi * mask.sum() / perimeter_crofton(mask, 4) ** 2 == pytest.approx(0.841165, abs=0.01)
