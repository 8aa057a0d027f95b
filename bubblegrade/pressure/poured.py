"""A cup of a trial: what the user says of it, and what its photograph shows."""

from __future__ import annotations

import math
from dataclasses import dataclass

from bubblegrade.grading.pattern import Pattern
from bubblegrade.pressure.atmosphere import Atmosphere
from bubblegrade.pressure.cups import Cup, Floats
from bubblegrade.units import GaugePressure


@dataclass(frozen=True)
class Stated:
    """What the user says of one cup; None and empty text where nothing was said."""

    setting: str  # the pressure in the user's words; cups of one name are one setting
    gauge: GaugePressure
    air: Atmosphere
    closed_k: float | None = None  # temperature when the pot was closed
    gelled_k: float | None = None
    gel_s: float | None = None  # times count from the end of mixing
    full_pressure_s: float | None = None
    let_off_s: float | None = None
    mix: str = ""
    recipe: str = ""
    resin: str = ""
    cup: str = ""

    @property
    def gauge_ratio(self) -> float:
        """Gauge pressure over the local atmosphere; 0 for an open cup."""
        return self.gauge.kpa_gauge / self.air.kpa

    @property
    def absolute_kpa(self) -> float:
        """The pressure from vacuum on."""
        return self.air.kpa + self.gauge.kpa_gauge

    @property
    def warmth(self) -> float:
        """Kelvin at gel over kelvin at closing; 1 where temperatures are not known."""
        return self.gelled_k / self.closed_k if self.gelled_k and self.closed_k else 1.0


@dataclass(frozen=True, eq=False)
class Poured:
    """One cup: what was said of it, and what its photograph shows; lengths in the trial's unit."""

    photo: str
    sha256: str
    stated: Stated
    diameters: Floats  # (n,) of its whole voids
    smallest: float  # smallest countable diameter
    mm_per_px: float  # NaN: lengths are in px
    volume_cm3: float  # judged; NaN where not known
    unfit: tuple[str, ...]
    pattern: Pattern | None  # where its voids lie; None where that cannot be told
    casting: float = math.nan  # root of its outline's area; NaN where that says nothing of the scale
    size_err: float = 0.0  # of ln d: what is stated of its countable voids' diameters, their median

    @property
    def countable(self) -> Floats:
        """Diameters that count."""
        return self.diameters[self.diameters >= self.smallest]

    @property
    def cup(self) -> Cup:
        """The cup as it is compared."""
        return Cup(
            setting=self.stated.setting,
            gauge_ratio=self.stated.gauge_ratio,
            diameters=self.diameters,
            smallest=self.smallest,
            mix=self.stated.mix,
            warmth=self.stated.warmth,
            volume_cm3=self.volume_cm3,
            casting=self.casting,
            unfit=bool(self.unfit),
            size_err=self.size_err,
        )
