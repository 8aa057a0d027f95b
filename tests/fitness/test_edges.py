"""The width of edges: slanted edges after ISO 12233, of a known Gaussian blur, are as wide as theory says."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.special import ndtr, ndtri

from bubblegrade.fitness.edges import FINE_PX, SLOPE_PX2, Edges, find_edges

SIDE = 400
STEP = 4


def slanted_edge(sigma_px: float, degrees: float = 5.0, side: int = SIDE) -> np.ndarray:
    """Return an ideal edge, 0.2 to 0.6 of full scale, blurred by a Gaussian and averaged over square pixels.

    ISO 12233:2017 judges an edge slanted by about 5 degrees. A pixel's own width adds 1/12 px^2 to the variance.
    """
    turn = math.radians(degrees)
    y, x = np.mgrid[:side, :side] - (side - 1) / 2
    away = x * math.cos(turn) + y * math.sin(turn)
    return np.asarray(0.2 + 0.4 * ndtr(away / math.hypot(sigma_px, math.sqrt(1 / 12))), np.float32)


def edges_of(light: np.ndarray, thin: int = 1) -> Edges:
    squares = len(light) // STEP
    coarse = light.reshape(squares, STEP, squares, STEP).mean(axis=(1, 3))
    return find_edges(light, coarse, np.ones(coarse.shape, bool), thin=thin)


def width_of(light: np.ndarray) -> float:
    return edges_of(light).width_px


def rise(sigma_px: float) -> float:
    """Return the 10 to 90 % rise of such an edge: twice the normal quantile of 0.9, 2.563, times its deviation."""
    return float(2 * ndtri(0.9)) * math.hypot(sigma_px, math.sqrt(1 / 12))


# Sharper than 3 px, an edge has too few pixels across it for this way; the limits of the check are 3.5 and 5 px.
@pytest.mark.parametrize("sigma_px", [1.2, 1.5, 1.8, 2.5, 3.5])
@pytest.mark.parametrize("degrees", [5.0, 40.0, 85.0])
def test_a_slanted_edge_of_known_blur_is_as_wide_as_theory_says_to_six_per_cent(
    sigma_px: float, degrees: float
) -> None:
    assert width_of(slanted_edge(sigma_px, degrees)) == pytest.approx(rise(sigma_px), rel=0.06)


@pytest.mark.parametrize("sigma_px", [0.5, 0.8])
@pytest.mark.parametrize("degrees", [5.0, 40.0, 85.0])
def test_a_sharper_edge_reads_within_half_a_pixel(sigma_px: float, degrees: float) -> None:
    assert width_of(slanted_edge(sigma_px, degrees)) == pytest.approx(rise(sigma_px), abs=0.5)


# Over the same blur's edge: sqrt((b - R f) / (R - 1)) / s, f = 0.8^2 + 1/3 and b = 2^2 + 1/3 px^2 the two blurs,
# q = (s^2 + f) / (s^2 + b) and R = q^-3 exp(q - 1): the slopes are compared where the finer one is steepest.
@pytest.mark.parametrize(("sigma_px", "share"), [(2.0, 0.385), (2.5, 0.511), (3.0, 0.572), (4.0, 0.631)])
def test_a_thin_line_reads_as_much_narrower_than_an_edge_as_theory_says(sigma_px: float, share: float) -> None:
    turn = math.radians(5.0)
    y, x = np.mgrid[:SIDE, :SIDE] - (SIDE - 1) / 2
    away = (x * math.cos(turn) + y * math.sin(turn)) / sigma_px
    line = np.asarray(0.6 - 0.4 * np.exp(-(away**2) / 2), np.float32)
    assert width_of(line) == pytest.approx(share * 2 * ndtri(0.9) * sigma_px, rel=0.08)


def test_noise_of_a_photograph_moves_the_width_by_less_than_ten_per_cent() -> None:
    noise = np.random.default_rng(1).normal(0.0, 0.006, (SIDE, SIDE)).astype(np.float32)
    assert width_of(slanted_edge(1.5) + noise) == pytest.approx(rise(1.5), rel=0.10)


def test_the_width_does_not_depend_on_the_height_of_the_step() -> None:
    light = slanted_edge(1.2)
    assert width_of(0.3 * light) == pytest.approx(width_of(light), rel=0.01)


def test_an_even_picture_has_no_edge() -> None:
    assert math.isnan(width_of(np.full((SIDE, SIDE), 0.5, np.float32)))


@pytest.mark.parametrize(("sigma_px", "thin"), [(3.5, 2), (6.0, 2), (7.0, 4), (9.0, 4)])
def test_a_wide_edge_is_as_wide_in_a_thinned_picture(sigma_px: float, thin: int) -> None:
    edges = edges_of(slanted_edge(sigma_px, 5.0, thin * SIDE), thin)
    assert edges.width_px == pytest.approx(rise(sigma_px), rel=0.06)
    assert edges.y_px.max() > SIDE
    away = (edges.x_px - (thin * SIDE - 1) / 2) + (edges.y_px - (thin * SIDE - 1) / 2) * math.tan(math.radians(5.0))
    assert np.abs(away).max() < 2 * thin


# The steepest slope of a Gaussian edge is its height over sqrt(2 pi) times its deviation, here after a blur of 0.8 px.
def test_the_slope_of_the_steeper_edges_is_that_of_their_blur_over_the_clear_light() -> None:
    edges, sigma = edges_of(slanted_edge(2.0)), math.sqrt(2.0**2 + 1 / 12 + FINE_PX**2 + SLOPE_PX2)
    assert edges.steepest == pytest.approx(0.4 / (math.sqrt(2 * math.pi) * sigma) / 0.4, rel=0.05)
