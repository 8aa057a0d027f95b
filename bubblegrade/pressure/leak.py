"""How fast a closed pot loses its air, from readings of one gauge and the temperature beside each.

The air in a closed pot keeps p / T; through a small leak it goes out at the speed of sound and in proportion to its own
absolute pressure, as long as that is above 1.89 atmospheres, so that ln(p / T) falls along a straight line. Below, and
through pores, it goes slower and slower: the line then foretells too much loss, never too little.

Each reading stands for a range: what is written was rounded to the dial's step. So the start and the fall are judged
by the probability of every reading under each of them, from a flat prior, and the limits are those of the posterior:
least squares would take twenty readings of a needle that has not moved for twenty witnesses.

Readings of ONE gauge share its error of calibration: an offset leaves a difference as it is, and an error of slope
changes the fall by a few percent of itself (`gain_share`), never the question whether there is one. What is left to
each reading is rounding and repeatability. Temperature and barometer are taken as drifts over the whole test: more
readings do not lower them.

Air that was pressed together not long ago is warmer than its pot and never colder, so that its heat is no drift: it can
make the first readings too high, and no leak too small. How much of it is left is known by its order at best: each
power of it counts alike, up to the most that may be.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import gammaincinv, ndtr, ndtri

from bubblegrade.pressure.gas import GAS_CONSTANT, GasState

Floats = NDArray[np.floating[Any]]

CHOKED_RATIO: Final = 1.893  # of pot to air, from which air leaves at the speed of sound: 1.2^3.5 with gamma 1.4
DRAWS: Final = 8192  # a power of two, of the posterior; their 95 % limits are good to 1 % of their distance
GRID: Final = 91  # cells on each axis of start and fall
GRID_WARM: Final = 45  # the same for each of several heats
GRID_ERRS: Final = 5.0  # standard errors on each side that the grid spans
LEAST_HEAT_K: Final = 0.1  # of air above its pot: less is none
HEATS_PER_ROOT_K: Final = 10.0  # of heats that are looked at, evenly by their root: near 40 K a psi holds three
LEAST_NOISE_STEPS: Final = 0.1  # of a step: no needle and no eye repeats better
NEGLIGIBLE: Final = 25.0  # below the largest log likelihood: 1e-11 of its chance
AT_ONCE: Final = 50_000  # readings times cells that are worked out at once
SURPRISE: Final = 0.99  # of chances to scatter less, from which the scatter is believed and not what was told


@dataclass(frozen=True, eq=False)
class Series:
    """Readings of one gauge; arrays of shape (n,), n at least 2."""

    at_s: Floats  # rising
    kpa: Floats  # absolute, as read
    kelvin: Floats
    step_kpa: Floats  # to which each was rounded; 0 where it was not
    noise_kpa: Floats  # one standard uncertainty of each by itself, rounding apart; above 0

    @property
    def span_s(self) -> float:
        """From the first reading to the last."""
        return float(self.at_s[-1] - self.at_s[0])

    @property
    def err_kpa(self) -> Floats:
        """One standard uncertainty of each reading by itself, rounding included."""
        return np.asarray(np.hypot(self.noise_kpa, self.step_kpa / np.sqrt(12.0)))


@dataclass(frozen=True)
class Drift:
    """What all readings share, as standard uncertainties."""

    share: float  # of the change of ln(p / T) over the series: temperature and barometer
    gain_share: float  # of the fall itself: the slope of the gauge's error


@dataclass(frozen=True)
class Heat:
    """What the air may be warmer than its pot."""

    most_k: float  # at the first reading
    fades_s: float  # in which it falls to a third

    def courses(self, since_s: Floats) -> tuple[Floats, Floats]:
        """Return heats at the readings' times, (courses, n), and how likely each course is, (courses,).

        >>> courses, likely = Heat(10.0, 180.0).courses(np.array([0.0, 1800.0]))
        >>> float(courses[0, 0]), round(float(courses[-1, 0]), 1), round(float(courses.max(axis=0)[1]), 4)
        (0.0, 9.7, 0.0004)
        """
        if self.most_k <= LEAST_HEAT_K:
            return np.zeros((1, len(since_s))), np.ones(1)
        low, high = np.sqrt([LEAST_HEAT_K, self.most_k])
        edges = np.linspace(low, high, int(np.ceil(HEATS_PER_ROOT_K * (high - low))) + 1)
        first = ((edges[1:] + edges[:-1]) / 2.0) ** 2
        first[0] = 0.0
        return first[:, np.newaxis] * np.exp(-since_s / self.fades_s), np.diff(np.log(edges))


SETTLED: Final = Heat(0.0, 1.0)


@dataclass(frozen=True, eq=False)
class Leak:
    """Equally likely courses of the pressure, each a start and a fall; arrays of shape (DRAWS,)."""

    start_kpa: Floats  # absolute, at the first reading
    fall: Floats  # of ln(p / T) over the series; below 0 where it rises
    span_s: float
    scatter: float  # of the readings about the line over what was told of them; 1 where no more

    @property
    def uneven(self) -> bool:
        """Whether the readings leave an even fall by more than chance makes."""
        return self.scatter > 1.0

    def kpa(self, at_s: float) -> Floats:
        """Return the absolute pressures at a time after the first reading, at its temperature."""
        return np.asarray(self.start_kpa * np.exp(-self.fall * at_s / self.span_s))

    def drop_kpa(self, at_s: float) -> Floats:
        """Return how far the pressure has dropped since the first reading, its temperature unchanged."""
        return np.asarray(-self.start_kpa * np.expm1(-self.fall * at_s / self.span_s))

    def closed_kpa(self, at_s: float, air_kpa: float) -> Floats:
        """Return the absolute pressures as far as a closed pot can show them: it gains no air, and keeps the air's own.

        Limits that are drawn in to what is possible hold the truth as often as before.

        >>> draws = Leak(np.array([500.0, 500.0, 500.0]), np.array([-0.1, 0.1, 5.0]), 60.0, 1.0)
        >>> [round(float(kpa)) for kpa in draws.closed_kpa(60.0, 101.0)]
        [500, 452, 101]
        """
        return np.asarray(np.clip(self.kpa(at_s), np.minimum(air_kpa, self.start_kpa), self.start_kpa))


@dataclass(frozen=True, eq=False)
class _Grid:
    """What one course of heat leaves to try."""

    series: Series  # the readings without the heat
    noise: Floats  # (n,) one standard uncertainty of each, rounding apart
    start: Floats  # kPa
    fall: Floats


def fit_leak(series: Series, drift: Drift, heat: Heat = SETTLED) -> Leak:
    """Return the courses that the readings leave possible.

    >>> one = np.ones(2)
    >>> series = Series(3600.0 * np.array([0.0, 1.0]), np.array([500.0, 495.0]), 298.0 * one, 0.0 * one, 0.5 * one)
    >>> drop_kpa = fit_leak(series, Drift(0.0, 0.0)).drop_kpa(3600.0)
    >>> round(float(np.median(drop_kpa)), 2), round(float(np.std(drop_kpa)), 2)
    (5.0, 0.71)
    """
    from scipy.stats.qmc import Sobol  # noqa: PLC0415 - it takes most of a second, and other questions have no leak

    heats, likely = heat.courses(series.at_s - series.at_s[0])
    cooled = [_cooled(series, each) for each in heats]
    scatter = min(_scatter(each, _line(each)[0]) for each in cooled)
    grids = [_grid(each, scatter, GRID if len(heats) == 1 else GRID_WARM) for each in cooled]
    start, fall = np.stack([grid.start for grid in grids]), np.stack([grid.fall for grid in grids])
    logs = _log_likelihood(grids)
    weight = np.exp(logs - logs.max()) * np.reshape(likely, (-1, 1, 1))
    weight /= weight.sum()
    points = Sobol(3, scramble=False).random(DRAWS) + 0.5 / DRAWS  # fills the cube evenly, without chance
    cells = np.minimum(np.searchsorted(np.cumsum(weight), points[:, 0]), weight.size - 1)
    course, row, column = np.unravel_index(cells, weight.shape)
    shared = drift.share * ndtri(points[:, 1])
    gain = 1.0 + drift.gain_share * ndtri(points[:, 2])
    return Leak(start[course, column], fall[course, row] * gain + shared, series.span_s, scatter)


def molar_flow(free_m3: float, first: GasState, later: GasState, seconds: float) -> float:
    """Return the moles a second that a closed volume gains, below 0 where it leaks: 40 CFR 1065.644.

    >>> round(molar_flow(0.01, GasState(500.0, 300.0), GasState(400.0, 300.0), 1000.0), 6)
    -0.000401
    """
    moles = 1000.0 * free_m3 / GAS_CONSTANT * (later.kpa / later.kelvin - first.kpa / first.kelvin)
    return moles / seconds


def _cooled(series: Series, heat_k: Floats) -> Series:
    """Return the readings as they would be without the heat of filling, (n,)."""
    share = series.kelvin / (series.kelvin + heat_k)
    return replace(series, kpa=series.kpa * share, step_kpa=series.step_kpa * share, noise_kpa=series.noise_kpa * share)


def _grid(series: Series, scatter: float, cells: int) -> _Grid:
    """Return starts and falls around the line of least squares, so many of each."""
    line, err = _line(series)
    noise = np.sqrt(np.maximum((scatter * series.err_kpa) ** 2 - series.step_kpa**2 / 12.0, 0.0))
    noise = np.maximum(noise, LEAST_NOISE_STEPS * series.step_kpa)
    step = float(series.step_kpa.max())
    half = np.maximum(GRID_ERRS * scatter * err, step * np.array([1.0, 1.0 / line[0]]))
    across = np.linspace(-1.0, 1.0, cells)
    return _Grid(series, noise, line[0] + half[0] * across, line[1] + half[1] * across)


def _line(series: Series) -> tuple[Floats, Floats]:
    """Return start and fall by weighted least squares of ln(p / T), each with its standard error."""
    since = (series.at_s - series.at_s[0]) / series.span_s
    level = np.log(series.kpa * series.kelvin[0] / series.kelvin)
    weight = series.kpa / series.err_kpa
    design = np.stack([np.ones_like(since), -since], axis=1) * weight[:, np.newaxis]
    covariance = np.linalg.inv(design.T @ design)
    found = covariance @ design.T @ (level * weight)
    err = np.sqrt(np.diag(covariance))
    start = float(np.exp(found[0]))
    return np.array([start, found[1]]), np.array([start * err[0], err[1]])


def _scatter(series: Series, line: Floats) -> float:
    """Return by how much the readings leave the line beyond what was told of them; 1 where chance could do it."""
    free = len(series.at_s) - 2
    if free == 0:
        return 1.0
    off = (series.kpa - _expected(series, line[0], line[1])) / series.err_kpa
    total = float(off @ off)
    most = 2.0 * float(gammaincinv(free / 2.0, SURPRISE))  # the quantile of chi-square
    return float(np.sqrt(total / free)) if total > most else 1.0


def _expected(series: Series, start_kpa: Any, fall: Any, part: slice = slice(None)) -> Any:
    """Return the pressures at the readings' times and temperatures, of all or a part of them."""
    since = (series.at_s[part] - series.at_s[0]) / series.span_s
    return start_kpa * series.kelvin[part] / series.kelvin[0] * np.exp(-fall * since)


def _log_likelihood(grids: Sequence[_Grid]) -> Floats:
    """Return the log likelihood of each course, fall and start, (courses, falls, starts); -inf where it is negligible.

    It has one hill in each course, which is followed from the line of least squares up and outwards.
    """
    shape = len(grids), len(grids[0].fall), len(grids[0].start)
    found, wanted = np.full(shape, -np.inf), np.zeros(shape, bool)
    wanted[:, shape[1] // 2, shape[2] // 2] = True
    while len(cells := np.flatnonzero(wanted & np.isneginf(found))):
        found.flat[cells] = _totals(grids, np.unravel_index(cells, shape))
        wanted = _with_neighbours((found > found.max() - NEGLIGIBLE) | (found == found.max(axis=(1, 2), keepdims=True)))
    return found


def _with_neighbours(cells: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Return the cells and the eight around each of them, (courses, falls, starts)."""
    rows = cells.copy()
    rows[:, 1:] |= cells[:, :-1]
    rows[:, :-1] |= cells[:, 1:]
    found = rows.copy()
    found[:, :, 1:] |= rows[:, :, :-1]
    found[:, :, :-1] |= rows[:, :, 1:]
    return found


def _totals(grids: Sequence[_Grid], cells: tuple[NDArray[np.intp], ...]) -> Floats:
    """Return the log likelihood of some cells, by course, fall and start, (cells,)."""
    course, row, column = cells
    series, noise = [grid.series for grid in grids], np.stack([grid.noise for grid in grids])
    kpa, step = np.stack([each.kpa for each in series]), np.stack([each.step_kpa for each in series])
    fall = np.stack([grid.fall for grid in grids])[course, row][:, np.newaxis]
    start = np.stack([grid.start for grid in grids])[course, column][:, np.newaxis]
    total = np.zeros(len(course))
    for first in range(0, kpa.shape[1], together := max(1, AT_ONCE // len(course))):
        part = slice(first, first + together)
        off = (kpa[course, part] - _expected(series[0], start, fall, part)) / noise[course, part]
        total += _log_chance(off, step[course, part] / 2.0 / noise[course, part]).sum(axis=1)
    return total


def _log_chance(off: Floats, half: Floats) -> Floats:
    """Return the log of the chance to read what is `off` by so many standard errors, rounded to `half` on each side."""
    away = np.abs(off)
    rounded = np.log(np.maximum(ndtr(half - away) - ndtr(-half - away), np.finfo(float).tiny))
    return np.where(half > 0.0, rounded, -(off**2) / 2.0)
