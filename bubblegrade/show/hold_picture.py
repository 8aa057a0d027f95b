"""The picture of a hold test: the readings, the fall with its 95 % band, and what is allowed."""

from __future__ import annotations

from typing import Final

import numpy as np

from bubblegrade.pressure.hold import Held
from bubblegrade.show.hold_tables import duration_words, verdict_words
from bubblegrade.show.plot_hold import Decay, Moment, decay_by_time
from bubblegrade.show.plots import Limit, Picture
from bubblegrade.units import PSI_KPA

POINTS: Final = 80
LIMIT_WORDS: Final = (("rated", "rated working pressure"), ("relief", "relief valve"))


def hold_picture(held: Held) -> Picture:
    """Return the picture of a hold test."""
    series, air = held.series, held.test.air.kpa
    at_s = np.linspace(0.0, max(series.span_s, held.asked.at_s), POINTS)
    dials = [held.at(float(s)).dial_kpa for s in at_s]
    levelled = series.kpa * series.kelvin[0] / series.kelvin
    start = float(np.median(held.leak.start_kpa))
    limits = held.test.pot.limits
    return decay_by_time(
        Decay(
            verdict=verdict_words(held),
            read_s=series.at_s,
            read_psig=(series.kpa - np.array(held.test.air_kpa)) / PSI_KPA,
            levelled_psig=(levelled - air) / PSI_KPA,
            levelled_err_psi=series.err_kpa / PSI_KPA,
            at_s=at_s,
            psig=np.array([dial.value for dial in dials]) / PSI_KPA,
            low_psig=np.array([dial.low for dial in dials]) / PSI_KPA,
            high_psig=np.array([dial.high for dial in dials]) / PSI_KPA,
            allowed_psig=(start - held.allowed_kpa - air) / PSI_KPA,
            moments=tuple(Moment(f"{stage.name}, {duration_words(stage.at_s)}", stage.at_s) for stage in held.stages),
            corrected=bool(np.ptp(series.kelvin) > 0.0),
            limits=tuple(
                Limit(words, limit.psig) for name, words in LIMIT_WORDS if (limit := getattr(limits, name)) is not None
            ),
        )
    )
