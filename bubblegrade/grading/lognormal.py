"""How far the statistics of lognormal sizes scatter from sample to sample, in closed form.

A sample that happens to lack the largest voids cannot tell by resampling that it lacks them; what lognormal sizes of
the same spread would do can. T. Hatch and S. P. Choate, J. Franklin Inst. 207 (1929) 369: each size is the number
median times exp(c s^2 + z s), with s the logarithm of the geometric standard deviation. From n voids the logarithm
of the median is known to s / sqrt(n) and s itself to s / sqrt(2 n).

What a sample lacks: its largest void lies near the quantile n / (n + 1), and by volume as much as half of all may lie
above that. Sizes by volume then come out too small, as those of a population that ends there.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import log_ndtr, ndtr, ndtri, stdtrit

from bubblegrade.grading.counting import CONFIDENCE

_Z90: Final = 1.281552  # 90 % quantile of the standard normal distribution
_EXPONENTS: Final = {  # (c, z) of each size
    "d10_number": (0.0, -_Z90),
    "d50_number": (0.0, 0.0),
    "d90_number": (0.0, _Z90),
    "d10_volume": (3.0, -_Z90),
    "d50_volume": (3.0, 0.0),
    "d90_volume": (3.0, _Z90),
    "d_1_0": (0.5, 0.0),
    "d_3_2": (2.5, 0.0),
    "d_4_3": (3.5, 0.0),
}


def log_half_widths(gsd: float, count: int) -> dict[str, float]:
    """Return half the 95 % interval of each statistic's logarithm from `count` voids, at least 2, by its name.

    The factor is Student's, since the spread is estimated from the same voids.
    """
    spread, half = math.log(gsd), float(stdtrit(count - 1, (1.0 + CONFIDENCE) / 2.0))
    of_spread = half / math.sqrt(2.0 * count)
    steepness = _Z90 * spread / math.tanh(_Z90 * spread) if spread > 0.0 else 1.0  # of ln(2 sinh(z s)) in ln s
    sizes = {
        name: half * spread * math.sqrt((1.0 + (2.0 * c * spread + z) ** 2 / 2.0) / count)
        for name, (c, z) in _EXPONENTS.items()
    }
    spans = dict.fromkeys(("span_number", "span_volume"), of_spread * steepness)
    return {**sizes, **spans, "gsd": of_spread * spread}


def log_unseen(gsd: float, count: int) -> dict[str, float]:
    """Return by how much the logarithm of each statistic may lie above that of `count` voids, by its name; 0 or more.

    By volume the sizes are lognormal about median exp(3 s^2). Ended at z spreads above the median, the share of volume
    that is left is Phi(z - 3 s), and E[d^k] keeps Phi(z - k s) of its whole; A. C. Cohen, Technometrics 1 (1959) 217.

    >>> {name: round(unseen, 2) for name, unseen in log_unseen(1.5, 40).items() if name.startswith("d9")}
    {'d90_volume': 0.31}
    """
    spread = math.log(gsd)
    if spread <= 0.0:
        return {}
    end = _end(count)
    kept = [float(log_ndtr(end - k * spread)) for k in range(5)]
    shares = np.array([0.1, 0.5, 0.9])
    whole, ended = (spread * ndtri(shares * seen) for seen in (1.0, ndtr(end - 3.0 * spread)))
    spans = [float(np.exp(at[2] - at[1]) - np.exp(at[0] - at[1])) for at in (whole, ended)]
    return {
        **dict(zip(("d10_volume", "d50_volume", "d90_volume"), (whole - ended).tolist(), strict=True)),
        "d_1_0": kept[0] - kept[1],
        "d_3_2": kept[2] - kept[3],
        "d_4_3": kept[3] - kept[4],
        "span_volume": math.log(spans[0] / spans[1]),
    }


def unseen_factor(diameters: ArrayLike, power: int) -> float:
    """Return over how many times itself the sum of d^power of a sample, (n,), may lie with what it lacks; 1 or more.

    Of lognormal sizes ended at z spreads above the median, E[d^power] keeps Phi(z - power s) / Phi(z) of its whole. One
    void tells no spread.

    >>> round(unseen_factor([1.0, 2.0, 3.0, 4.0, 5.0], 3), 2), unseen_factor([1.0], 3)
    (4.79, 1.0)
    """
    logs = np.log(np.asarray(diameters, np.float64))
    if logs.size < 2:  # noqa: PLR2004 - a spread takes two
        return 1.0
    end, spread = _end(logs.size), float(np.std(logs, ddof=1))
    return math.exp(float(log_ndtr(end) - log_ndtr(end - power * spread)))


def _end(count: int) -> float:
    """Return how many spreads above the median the largest of `count` voids is taken to lie."""
    return float(ndtri(count / (count + 1.0)))
