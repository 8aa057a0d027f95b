"""The volume of the voids that an earlier grading counted, from its run.json."""

from __future__ import annotations

import json
import math
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np

from bubblegrade.errors import InputError
from bubblegrade.grading.counting import effective_count, total_interval
from bubblegrade.grading.estimate import Estimate
from bubblegrade.grading.lognormal import unseen_factor
from bubblegrade.results.folder import RUN_FILE

MM3_PER_CM3: Final = 1000.0
SAID: Final = 5  # photographs that a refusal names


@dataclass(frozen=True)
class SeenVolume:
    """The voids that a photograph shows."""

    photo: str
    share: Estimate  # of the judged volume
    judged_cm3: float
    smallest_mm: float  # what is smaller was not counted


def read_seen_volume(place: Path, photo: str | None) -> SeenVolume:
    """Return the void volume of a photograph in a graded folder; `photo` names it where there are several.

    Raises
    ------
    InputError
        There is no such result, no such photograph, or it was graded without a scale and a thickness.
    """
    try:
        castings = json.loads((place / RUN_FILE).read_text("utf-8"))["castings"]
        names = [str(casting["photo"]) for casting in castings]
        if photo is None and len(names) != 1:
            raise InputError(f"{place} holds {len(names)} photographs: say which with --photo, such as {names[0]}")
        wanted = names[0] if photo is None else photo
        if wanted not in names:
            rest = f" or {len(names) - SAID} more" if len(names) > SAID else ""
            raise InputError(f"{place} holds no photograph {wanted}: name one of {', '.join(names[:SAID])}{rest}")
        return _volume(castings[names.index(wanted)])
    except OSError as error:
        raise InputError(f"{place / RUN_FILE} cannot be opened ({error.strerror}): name a folder of grade") from error
    except (ValueError, LookupError, TypeError, AttributeError, RecursionError) as error:
        raise InputError(f"{place / RUN_FILE} is no result of grade: grade the photograph again") from error


def _volume(casting: dict[str, Any]) -> SeenVolume:
    judged = casting["judged"]["volume_cm3"]["value"]
    if judged is None:
        raise InputError(
            f"{casting['photo']} was graded without a scale or a thickness: grade it again with --thickness and a scale"
        )
    across, smallest = np.array(casting["voids"]["diameter_mm"], np.float64), float(casting["smallest_countable_mm"])
    across = across[across >= smallest]
    each = math.pi / 6.0 * across**3
    total = float(each.sum())
    low, high = total_interval(
        total,
        effective=effective_count(each),
        smallest=math.pi / 6.0 * smallest**3,
        unseen=unseen_factor(across, 3),
    )
    whole = judged * MM3_PER_CM3
    return SeenVolume(str(casting["photo"]), Estimate(total / whole, low / whole, high / whole), judged, smallest)
