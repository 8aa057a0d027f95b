"""Whether the castings of a trial look alike: cups of one mould that look larger at one pressure belie the scale.

A camera that stood nearer, or zoomed, makes voids and casting larger by one factor. Under a scale that was stated for
all photographs, or with none, only the castings tell that from voids that are larger. Cups that were counted from
unlike sizes on are named too.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Final

import numpy as np

from bubblegrade.grading.compared import counts_compare
from bubblegrade.pressure.cups import Floats
from bubblegrade.pressure.shrinkage import Shrinkage

# Of ln size: tapered cups of one mould that were filled to unlike heights differ by 0.02 (judgement).
ALIKE: Final = 0.04


def log_castings(fit: Shrinkage) -> Floats:
    """Return ln of the casting's size at each setting over that at the reference, (settings,); 0 where not known.

    The size is the median over a setting's cups. All are 0 where the settings look alike.
    """
    trial = fit.trial
    known: list[float] = []
    for index in range(len(trial.settings)):
        sizes = np.array([trial.cups[i].casting for i in np.flatnonzero(trial.setting == index)])
        seen = sizes[np.isfinite(sizes)]
        known.append(math.log(float(np.median(seen))) if len(seen) else math.nan)
    logs = np.array(known) - known[trial.reference]
    logs[np.isnan(logs)] = 0.0
    return np.asarray(logs if np.ptp(logs) > ALIKE else np.zeros(len(logs)), np.float64)


def exponent_by_castings(fit: Shrinkage, logs: Floats) -> float:
    """Return by how much the exponent would move if all castings were of one size; `logs` as of `log_castings`.

    >>> from bubblegrade.pressure.cups import Cup, gather
    >>> from bubblegrade.pressure.shrinkage import fit_shrinkage
    >>> sizes = np.exp(np.linspace(-1.0, 1.0, 50))
    >>> cups = [Cup(f"{ratio}", ratio, sizes, 0.01, casting=1.0 + ratio) for ratio in (0.0, 0.0, 7.0, 7.0)]
    >>> fit = fit_shrinkage(gather(cups))
    >>> round(exponent_by_castings(fit, log_castings(fit)), 6)
    1.0
    """
    return float(-fit.influence @ logs[fit.trial.setting])


def counted_unlike(smallest: Mapping[str, float], unit: str) -> list[str]:
    """Return a remark where cups were not counted from the same size on: smallest diameters by photograph, in `unit`.

    >>> counted_unlike({"a.jpg": 0.15, "b.jpg": 0.16}, "mm")
    []
    """
    least, most = (pick(smallest, key=smallest.__getitem__) for pick in (min, max))
    if counts_compare(smallest[least], smallest[most]):
        return []
    return [
        f"Voids were counted from {smallest[least]:.3g} {unit} on in {least}, from {smallest[most]:.3g} {unit} on in "
        f"{most}: their numbers do not compare; the ratios allow for it."
    ]
