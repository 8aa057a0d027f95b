"""The picture of a prediction: what pressure leaves of a void."""

from __future__ import annotations

from typing import Final

import numpy as np

from bubblegrade.pressure.expectation import Expectation
from bubblegrade.show.expectation import since
from bubblegrade.show.plots import Left, Picture, left_by_pressure

LEAST_ROWS: Final = 2


def expectation_picture(found: Expectation) -> Picture | None:
    """Return the picture of a prediction; None where there are too few rows for one."""
    if len(found.rows) < LEAST_ROWS:
        return None
    rows = found.rows
    return left_by_pressure(
        Left(
            psig=np.array([row.gauge.psig for row in rows]),
            absolute_kpa=np.array([row.absolute_kpa for row in rows]),
            diameter_share=np.array([row.ratios.diameter for row in rows]),
            area_share=np.array([row.ratios.area for row in rows]),
            volume_share=np.array([row.ratios.volume for row in rows]),
            since=since(found),
            asked_psig=tuple(row.gauge.psig for row in rows if row.asked),
        )
    )
