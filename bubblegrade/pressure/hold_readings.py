"""A pressure-hold test as it was run: the readings of one dial, the air, the pot, and what is asked."""

from __future__ import annotations

import datetime
import math
from dataclasses import dataclass, field
from functools import cached_property

from bubblegrade.pressure.atmosphere import Atmosphere
from bubblegrade.pressure.pot import Pot
from bubblegrade.units import GaugePressure


@dataclass(frozen=True)
class Reading:
    """What the dial showed at one time."""

    at_s: float  # from any moment on, the same for all
    dial: GaugePressure
    celsius: float = math.nan  # of pot or room; NaN where it was not read
    air_kpa: float = math.nan  # the barometer's; NaN where it was not read
    err_kpa: float = math.nan  # of a photograph's needle; NaN where a person has read the dial
    turn_deg: float = math.nan  # of the needle since the first photograph, clockwise, as err_kpa
    turn_err_deg: float = math.nan
    day: datetime.date | None = None
    source: str = "read"
    remark: str = ""


@dataclass(frozen=True)
class Hold:
    """A hold test as it was run; NaN where nothing was said."""

    readings: tuple[Reading, ...]
    air: Atmosphere
    pot: Pot = field(default_factory=Pot)
    graduation_kpa: float = math.nan  # from one mark of the dial to the next
    temperature_err_k: float = math.nan  # of the change from the first reading to the last
    settled_s: float = math.nan  # from filling to the first reading
    gel_s: float = math.nan  # from the first reading on, as the next
    release_s: float = math.nan
    allowed_kpa: float = math.nan

    @property
    def span_s(self) -> float:
        """From the first reading to the last."""
        return self.readings[-1].at_s - self.readings[0].at_s

    @cached_property
    def air_kpa(self) -> tuple[float, ...]:
        """The air's pressure at each reading."""
        return tuple(self.air.kpa if math.isnan(each.air_kpa) else each.air_kpa for each in self.readings)
