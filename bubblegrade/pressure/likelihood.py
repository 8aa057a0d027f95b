"""The likelihood of cups of truncated log-normal sizes, maximised for many selections of cups at once.

Cup c has the log-median `location[c] @ p` and ln spread `log_spread[c] @ p`; both are linear in the parameters p.
Only count, mean and sum of squares of each cup's ln d are needed. Newton's method with the observed curvature, and
Fisher's where that is no maximum's, goes from the sample's moments to the maximum in about 6 steps, and from all cups
to all but one in about 3.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.special import log_ndtr

from bubblegrade.pressure.cups import Floats, Trial
from bubblegrade.pressure.population import hazard, void_information

# Limits of the spread of ln d. Real mixes lie between 0.2 and 0.8 (geometric deviations 1.2 to 2.2; common practice):
# an estimate at a limit says that the data have none.
NARROWEST_LOG_SPREAD: Final = math.log(0.005)
WIDEST_LOG_SPREAD: Final = math.log(2.0)
MOST_STEPS: Final = 60
_ENOUGH: Final = 1e-10  # largest change of a parameter in the last step
_LARGEST_STEP: Final = 1.0  # in any parameter, so that no step leaves what can be computed
_MOST_HALVINGS: Final = 25
_RIDGE: Final = 1e-12  # share of the largest curvature; holds parameters that no cup informs on where they are


@dataclass(frozen=True, eq=False)
class Layout:
    """How the parameters make each cup's population, and the limits that they are kept within."""

    location: Floats  # (cups, parameters)
    log_spread: Floats  # (cups, parameters)
    lowest: Floats  # (parameters,); -inf where there is no limit
    highest: Floats


class Maximum(NamedTuple):
    """The maxima of several selections of cups."""

    parameters: Floats  # (selections, parameters)
    at_bound: NDArray[np.bool_]  # (selections,): a parameter ran into one of its limits


class _Terms(NamedTuple):
    """Each cup's gradient and curvature on log-median (m) and ln spread (s), (selections, cups)."""

    m: Floats
    s: Floats
    mm: Floats
    ms: Floats
    ss: Floats


def maximise(trial: Trial, layout: Layout, start: Floats, selections: Floats) -> Maximum:
    """Return the maximum of each selection of cups.

    Parameters
    ----------
    trial
        The cups.
    layout
        Which parameters they share.
    start
        (parameters,), near the maximum.
    selections
        (selections, cups): 1 for a cup that is in, 0 for one that is left out.
    """
    at = np.repeat(np.clip(start, layout.lowest, layout.highest)[np.newaxis], len(selections), axis=0)
    likelihood = log_likelihood(trial, layout, at, selections)
    for _ in range(MOST_STEPS):
        step = _newton(trial, layout, at, selections)
        at, likelihood, moved = _climbed(trial, layout, selections, at, likelihood, step)
        if moved < _ENOUGH:
            break
    return Maximum(at, np.any((at <= layout.lowest) | (at >= layout.highest), axis=1))


def log_likelihood(trial: Trial, layout: Layout, at: Floats, selections: Floats) -> Floats:
    """Return the log-likelihood of each selection at its parameters, shape (selections,), but for a constant."""
    middle, log_spread = at @ layout.location.T, at @ layout.log_spread.T
    spread = np.exp(log_spread)
    squares = trial.squares + trial.count * (trial.mean - middle) ** 2
    unseen = trial.count * log_ndtr((middle - trial.log_limit) / spread)
    each = -trial.count * log_spread - squares / (2.0 * spread**2) - unseen
    return np.asarray(np.sum(selections * each, axis=1), np.float64)


def one_spread(location: Floats) -> Layout:
    """Return the layout in which all cups share one spread, whose logarithm is the last parameter, kept in its limits.

    `location` has the shape (cups, parameters) and nothing in its last column.
    """
    log_spread = np.zeros_like(location)
    log_spread[:, -1] = 1.0
    lowest, highest = np.full(location.shape[1], -math.inf), np.full(location.shape[1], math.inf)
    lowest[-1], highest[-1] = NARROWEST_LOG_SPREAD, WIDEST_LOG_SPREAD
    return Layout(location, log_spread, lowest, highest)


def information(trial: Trial, layout: Layout, at: Floats) -> tuple[Floats, Floats]:
    """Return the Fisher information of all cups and, cup by cup, how it answers a shift of the cup's log-median.

    Shapes (parameters, parameters) and (parameters, cups); `at` has the shape (parameters,).
    """
    spread = np.exp(layout.log_spread @ at)
    per_void = void_information((layout.location @ at - trial.log_limit) / spread)
    weights = _Terms(*(np.zeros(0),) * 2, *_scaled(trial.count, spread, per_void))
    shifted = layout.location.T * weights.mm + layout.log_spread.T * weights.ms
    return _curvature(layout, weights), np.asarray(shifted, np.float64)


def _scaled(count: Floats, spread: Floats, per_void: tuple[Floats, Floats, Floats]) -> tuple[Floats, Floats, Floats]:
    """Return the information of whole cups on log-median and ln spread, in units of ln d."""
    of_median, mixed, of_spread = per_void
    return count * of_median / spread**2, count * mixed / spread, count * of_spread


def _newton(trial: Trial, layout: Layout, at: Floats, selections: Floats) -> Floats:
    """Return the step towards each selection's maximum, no longer than what can be computed."""
    observed, expected = _terms(trial, layout, at, selections)
    gradient = observed.m @ layout.location + observed.s @ layout.log_spread
    free = ~(((at <= layout.lowest) & (gradient < 0.0)) | ((at >= layout.highest) & (gradient > 0.0)))
    curvature, safe = (_freed(_curvature(layout, terms), free) for terms in (observed, expected))
    scale = np.max(np.abs(np.diagonal(safe, axis1=1, axis2=2)), axis=1)[:, np.newaxis, np.newaxis]
    ridge = _RIDGE * scale * np.eye(at.shape[1])
    curved = np.linalg.eigvalsh(curvature + ridge)[:, 0] > 0.0
    chosen = np.where(curved[:, np.newaxis, np.newaxis], curvature, safe) + ridge
    step = np.linalg.solve(chosen, (gradient * free)[..., np.newaxis])[..., 0]
    longest = np.max(np.abs(step), axis=1, keepdims=True)
    return np.asarray(step * np.minimum(1.0, _LARGEST_STEP / np.maximum(longest, _LARGEST_STEP)), np.float64)


def _freed(curvature: Floats, free: NDArray[np.bool_]) -> Floats:
    """Return the curvature with the parameters that a limit holds taken out of it."""
    both = free[:, :, np.newaxis] & free[:, np.newaxis, :]
    return np.where(both, curvature, np.eye(curvature.shape[-1]))


def _climbed(
    trial: Trial, layout: Layout, selections: Floats, at: Floats, likelihood: Floats, step: Floats
) -> tuple[Floats, Floats, float]:
    """Return where each selection stands after its step, halved until it does not go down, and the largest move."""
    share = np.ones((len(at), 1))
    slack = 1e-12 * (1.0 + np.abs(likelihood))
    for _ in range(_MOST_HALVINGS):
        reached = np.clip(at + share * step, layout.lowest, layout.highest)
        climbed = log_likelihood(trial, layout, reached, selections)
        down = ~(climbed >= likelihood - slack)
        if not down.any():
            break
        share[down] /= 2.0
    reached[down], climbed[down] = at[down], likelihood[down]
    return reached, climbed, float(np.max(np.abs(reached - at)))


def _terms(trial: Trial, layout: Layout, at: Floats, selections: Floats) -> tuple[_Terms, _Terms]:
    """Return the observed and the expected terms of every cup in every selection."""
    spread = np.exp(at @ layout.log_spread.T)
    middle = at @ layout.location.T
    a = (middle - trial.log_limit) / spread
    h = hazard(a)
    k = h * (a + h)
    n = selections * trial.count
    off = (trial.mean - middle) / spread
    squares = selections * trial.squares / spread**2 + n * off**2
    m, s = n * (off - h) / spread, squares - n * (1.0 - a * h)
    mm, ss = n * (1.0 - k) / spread**2, 2.0 * squares - n * a * (a * k - h)
    ms = n * (2.0 * off - h + a * k) / spread
    return _Terms(m, s, mm, ms, ss), _Terms(m, s, *_scaled(n, spread, void_information(a)))


def _curvature(layout: Layout, terms: _Terms) -> Floats:
    """Return the curvature over the parameters, (..., parameters, parameters), from that of each cup."""
    location, spread = layout.location, layout.log_spread
    mixed = (location.T * terms.ms[..., np.newaxis, :]) @ spread
    of_median = (location.T * terms.mm[..., np.newaxis, :]) @ location
    of_spread = (spread.T * terms.ss[..., np.newaxis, :]) @ spread
    return np.asarray(of_median + mixed + np.swapaxes(mixed, -1, -2) + of_spread, np.float64)
