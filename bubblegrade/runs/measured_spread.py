"""How far cups differed in an earlier trial, from the record that the trial left."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any, Final

from bubblegrade.errors import InputError

KEY: Final = "cup_spread"
WIDEST: Final = 2.0  # of ln d; beyond it the number means something else
_CURE: Final = "name a trial.json, or give --cup-spread"


def read_cup_spread(path: Path) -> float:
    """Return the standard deviation of ln d from cup to cup that a trial measured.

    Raises
    ------
    InputError
        The file cannot be read, is no trial's record, or its cups were too few to measure it.
    """
    try:
        record: Any = json.loads(path.read_text("utf-8"))
    except OSError as error:
        raise InputError(f"{path} cannot be opened ({error.strerror}): check its name") from error
    except (ValueError, RecursionError) as error:
        raise InputError(f"{path} is not JSON: {_CURE}") from error
    if not isinstance(record, dict) or KEY not in record:
        raise InputError(f"{path} holds no {KEY}: {_CURE}")
    spread = record[KEY]
    if spread is None:
        raise InputError(f"{path} has too few cups to know how far they differ: give --cup-spread")
    if isinstance(spread, bool) or not isinstance(spread, int | float) or not 0.0 <= spread <= WIDEST:
        raise InputError(f"{path}: {KEY} = {spread} is no spread of ln d, 0 to {WIDEST:g}: {_CURE}")
    return float(spread)
