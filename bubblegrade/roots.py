"""Where a function crosses 0."""

from __future__ import annotations

from collections.abc import Callable


def root(function: Callable[[float], float], low: float, high: float, *, off: float = 2e-12) -> float:
    """Return where `function` crosses 0 between `low` and `high`, good to `off`; its signs there differ.

    >>> round(root(lambda x: x * x - 2.0, 0.0, 2.0), 6)
    1.414214
    """
    from scipy.optimize import brentq  # noqa: PLC0415 - it takes half a second, and many questions do without it

    return float(brentq(function, low, high, xtol=off))
