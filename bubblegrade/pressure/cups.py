"""The cups of a trial: what one photographed cup brings to the comparison, and all of them as arrays."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

from bubblegrade.errors import InputError

OPEN_WITHIN: Final = 0.005  # of the atmosphere, half a kPa: an open cup's pressure written as an absolute one

Floats = NDArray[np.float64]
Indices = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Cup:
    """One cup: the diameters of its voids, in any unit that all cups share, and the pressure it gelled at."""

    setting: str  # what the user calls the pressure, such as 30psi; cups of one name are compared as one
    gauge_ratio: float  # gauge pressure over the local atmosphere; 0 for an open cup
    diameters: Floats  # (n,)
    smallest: float  # the photograph's smallest countable diameter; smaller voids are left out
    mix: str = ""  # which mix the cup was poured from; empty if not known
    warmth: float = 1.0  # kelvin at gel over kelvin at closing
    volume_cm3: float = math.nan  # judged volume; NaN if not known
    casting: float = math.nan  # its size as photographed, in the diameters' unit; NaN where it tells no scale
    unfit: bool = False  # whether its photograph is not fit to measure
    size_err: float = 0.0  # of ln d: standard uncertainty that its photograph gives to sizes, one way for all its voids

    def __post_init__(self) -> None:
        if not (self.gauge_ratio > -1.0 and self.warmth > 0.0 and self.smallest > 0.0):
            raise AssertionError(f"a cup has a pressure, a temperature and a limit: {self}")


@dataclass(frozen=True, eq=False)
class Trial:
    """All cups that hold voids, as arrays of shape (cups,), ordered as given."""

    cups: tuple[Cup, ...]
    raised: float  # factor on each cup's limit

    @cached_property
    def log_diameters(self) -> tuple[Floats, ...]:
        """The ln d of each cup's voids above its limit, rising; of shape (n,) each."""
        return tuple(_log_countable(cup, self.raised) for cup in self.cups)

    @cached_property
    def log_squeeze(self) -> Floats:
        """The u of each cup: ln of the factor by which the gas law divides volumes."""
        return np.array([math.log1p(cup.gauge_ratio) - math.log(cup.warmth) for cup in self.cups])

    @cached_property
    def log_limit(self) -> Floats:
        """Logarithm of each cup's smallest countable diameter."""
        return np.array([math.log(cup.smallest * self.raised) for cup in self.cups])

    @cached_property
    def count(self) -> Floats:
        """Voids above the limit."""
        return np.array([float(each.size) for each in self.log_diameters])

    @cached_property
    def mean(self) -> Floats:
        """Mean ln d of the voids above the limit."""
        return np.array([each.mean() for each in self.log_diameters])

    @cached_property
    def squares(self) -> Floats:
        """Sum of the squared distances of ln d from the cup's mean."""
        each = zip(self.log_diameters, self.mean, strict=True)
        return np.array([float(np.sum((values - mean) ** 2)) for values, mean in each])

    @cached_property
    def volume_cm3(self) -> Floats:
        """Judged volume of each cup; NaN where not known."""
        return np.array([cup.volume_cm3 for cup in self.cups])

    @cached_property
    def size_err(self) -> Floats:
        """What each cup's photograph may have made all its sizes larger or smaller by, in ln d, (cups,)."""
        return np.array([cup.size_err for cup in self.cups])

    @cached_property
    def settings(self) -> tuple[str, ...]:
        """Names of the settings, from the lowest pressure on."""
        squeeze = self.log_squeeze
        names = [cup.setting for cup in self.cups]
        mean = {name: np.mean([u for u, of in zip(squeeze, names, strict=True) if of == name]) for name in names}
        return tuple(sorted(mean, key=lambda name: float(mean[name])))

    @cached_property
    def setting(self) -> Indices:
        """Index of each cup's setting in `settings`."""
        return np.array([self.settings.index(cup.setting) for cup in self.cups])

    @cached_property
    def mix(self) -> Indices:
        """Index of each cup's mix; a cup without a name has a mix of its own."""
        names = [cup.mix or i for i, cup in enumerate(self.cups)]
        order = {name: i for i, name in enumerate(dict.fromkeys(names))}
        return np.array([order[name] for name in names])

    @cached_property
    def open_setting(self) -> int | None:
        """Index of the setting whose cups gelled at open air; None if there is none."""
        for index in range(len(self.settings)):
            if all(abs(self.cups[i].gauge_ratio) <= OPEN_WITHIN for i in np.flatnonzero(self.setting == index)):
                return index
        return None

    @property
    def reference(self) -> int:
        """Index of the setting that the others are compared with: open air, else the lowest."""
        return self.open_setting or 0


def _log_countable(cup: Cup, raised: float) -> Floats:
    """Return the sorted ln d of the voids that the limit lets through."""
    sizes = np.asarray(cup.diameters, np.float64)
    return np.asarray(np.sort(np.log(sizes[np.isfinite(sizes) & (sizes >= cup.smallest * raised)])), np.float64)


def gather(cups: Sequence[Cup], *, raised: float = 1.0) -> Trial:
    """Return the cups that hold voids above `raised` times their limit as one trial.

    Raises
    ------
    InputError
        No cup, empty cups at several settings, or voids at one pressure only.
    """
    held = tuple(cup for cup in cups if _log_countable(cup, raised).size)
    empty = list(dict.fromkeys(cup.setting for cup in cups if cup not in held))
    if not cups:
        raise InputError("no cup was given: cast cups at two pressures at least, one of them open")
    if len(empty) > 1:
        raise InputError(
            f"{', '.join(empty)} have cups without a void above the limit, so that their sizes cannot be told: "
            "photograph them from closer, or cast with more voids"
        )
    trial = Trial(held, raised)
    if not held or np.ptp(trial.log_squeeze) <= 0.0:
        raise InputError(
            f"{', '.join(dict.fromkeys(cup.setting for cup in held or cups))} is the only pressure with voids: "
            "add cups at another one, best at 0psi"
        )
    return trial
