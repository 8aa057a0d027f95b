"""What a ring looks like to a camera, against a drawn disc blurred by scipy."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter
from scipy.signal import fftconvolve

from bubblegrade.optics import darkness
from bubblegrade.voids.rings import BLURS, REACH, Spread, ring_table

RADIUS_PX = 60.0  # of the discs that scipy blurs
LIGHTS = [(0.2, 0.0), (0.45, 0.0), (0.68, 0.5)]


def at(theta: float, wall: float, blur: float, rho: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return one ring's darkness, its slope, and its change with ln(blur)."""
    rows = ring_table(theta, wall).at(np.array([blur], np.float32), rho[None, :].astype(np.float32))
    return rows[0][0], rows[1][0], rows[2][0]


@pytest.mark.parametrize(("theta", "wall"), LIGHTS)
@pytest.mark.parametrize("blur", [0.05, 0.2, 0.6])
def test_a_blurred_ring_is_the_disc_that_scipy_blurs_to_a_fiftieth(theta: float, wall: float, blur: float) -> None:
    half = int(RADIUS_PX * (1 + 4 * blur)) + 8
    fine = 4
    y, x = (np.mgrid[: fine * (2 * half + 1), : fine * (2 * half + 1)] - (fine * (2 * half + 1) - 1) / 2) / fine
    sharp = darkness(np.hypot(x, y) / RADIUS_PX, theta, wall=wall)
    sharp = sharp.reshape(2 * half + 1, fine, 2 * half + 1, fine).mean(axis=(1, 3))
    blurred = gaussian_filter(sharp, blur * RADIUS_PX, truncate=6)[half, half:]
    rho = np.arange(half + 1) / RADIUS_PX
    seen = rho < min(REACH - 0.05, rho[-1] - blur)
    np.testing.assert_allclose(at(theta, wall, blur, rho)[0][seen], blurred[seen], atol=0.02)


@pytest.mark.parametrize(("theta", "wall"), LIGHTS)
@pytest.mark.parametrize("row", [9, 13])
def test_a_ring_out_of_focus_is_the_disc_that_scipy_spreads_over_a_soft_disc(
    theta: float, wall: float, row: int
) -> None:
    radius = 2.0 * BLURS[row] * RADIUS_PX
    half = int(RADIUS_PX + 1.35 * radius) + 8
    y, x = np.mgrid[: 2 * half + 1, : 2 * half + 1] - half
    away = np.hypot(x, y)
    # Even discs of 0.7 to 1.3 of the radius, each with the same light: together 1/r^2 summed from away on.
    soft = np.mean([(away <= r) / r**2 for r in np.linspace(0.7, 1.3, 61) * radius], axis=0)
    spread = fftconvolve(darkness(away / RADIUS_PX, theta, wall=wall), soft / soft.sum(), mode="same")[half, half:]
    rho = np.arange(half + 1) / RADIUS_PX
    table = ring_table(theta, wall, spread=Spread.DISC)
    seen = table.at(np.array([BLURS[row]], np.float32), rho[None, :].astype(np.float32))[0][0]
    within = rho < REACH - 0.05
    np.testing.assert_allclose(seen[within], spread[within], atol=0.02)


@pytest.mark.parametrize(("theta", "wall"), LIGHTS)
def test_blur_spreads_the_darkness_and_keeps_its_sum_to_one_per_cent(theta: float, wall: float) -> None:
    rho = np.linspace(0, REACH, 2000)
    sums = [float(np.trapezoid(at(theta, wall, blur, rho)[0] * rho, rho)) for blur in (0.03, 0.1, 0.2, 0.35)]
    np.testing.assert_allclose(sums, sums[0], rtol=0.01)
    assert 2 * sums[0] == pytest.approx(ring_table(theta, wall).mean_darkness, rel=0.01)


def test_mean_darkness_is_that_of_core_ring_and_rim_by_hand() -> None:
    # theta 20 degrees, n 1.5: ring from 0.3194 to 0.9848, all dark; in the core 1 - 0.9216 is lost, or a little more
    by_hand = (0.9848**2 - 0.3194**2) + 0.08 * 0.3194**2
    assert ring_table(np.radians(20.0), 0.0).mean_darkness == pytest.approx(by_hand, abs=0.01)


@pytest.mark.parametrize("blur", [0.05, 0.15, 0.5])
def test_the_slope_is_the_difference_of_neighbours(blur: float) -> None:
    # within one cell of the table, where the curve is straight
    rho = np.arange(0.105, 2.0, 0.01)
    low, slope, _ = at(0.4, 0.0, blur, rho - 0.001)
    high, _, _ = at(0.4, 0.0, blur, rho + 0.001)
    np.testing.assert_allclose(slope, (high - low) / 0.002, atol=0.02)


def test_the_change_with_blur_is_the_difference_of_two_blurs() -> None:
    rho = np.linspace(0.1, 1.5, 50)
    _, _, by_blur = at(0.4, 0.0, 0.1, rho)
    low, high = (at(0.4, 0.0, 0.1 * factor, rho)[0] for factor in (np.exp(-0.02), np.exp(0.02)))
    np.testing.assert_allclose(by_blur, (high - low) / 0.04, atol=0.03)


def test_beyond_its_reach_a_ring_is_not_dark() -> None:
    assert np.abs(at(0.4, 0.0, 0.1, np.array([1.8, 2.5, 9.0]))[0]).max() < 1e-6


def test_blurs_beyond_the_table_are_held_at_its_ends() -> None:
    rho = np.linspace(0.0, 1.5, 40)
    np.testing.assert_allclose(at(0.4, 0.0, 5.0, rho)[0], at(0.4, 0.0, 1.3, rho)[0], atol=2e-3)
    np.testing.assert_allclose(at(0.4, 0.0, 0.001, rho)[0], at(0.4, 0.0, 0.02, rho)[0], atol=2e-3)
