"""A comparison in plain words: the verdict, what stands beside it, and what the ratio of means would have said."""

from __future__ import annotations

import math
from typing import Final

from bubblegrade.pressure.by_setting import NAIVE_WORDS, SettingRow
from bubblegrade.pressure.comparison import Comparison
from bubblegrade.pressure.verdict import ONE_OF_MANY, SIZES_ALONE, VERDICT_WORDS, Verdict

MISFITS: Final = frozenset({Verdict.SHRANK_LESS, Verdict.SHRANK_MORE, Verdict.NOT_CONSISTENT})
WORTH_SAYING: Final = 0.02  # by which share the ratio of means is off; less is lost in the interval


def verdict_sentence(said: Comparison) -> str:
    """Return the verdict over all settings in plain words."""
    return VERDICT_WORDS[said.verdict].format(spread=said.fit.assumed_spread)


def remarks(said: Comparison) -> tuple[str, ...]:
    """Return what a reader must know to take the verdict rightly."""
    lines = []
    if said.verdict in MISFITS:
        lines.append(SIZES_ALONE)
    off = {*said.setting_verdicts} & MISFITS
    if off and said.verdict not in MISFITS:
        lines.append(ONE_OF_MANY)
    if said.findings.assumed:
        lines.append(_assumed(said))
    return tuple(lines)


def naive_sentence(said: Comparison) -> str | None:
    """Return by how far the ratio of the means seen is off at its worst, and why; None where it hardly is."""
    rows = [row for row in said.rows if not row.is_reference and math.isfinite(row.naive_off)]
    worst: SettingRow | None = max(rows, key=lambda row: abs(row.naive_off), default=None)
    if worst is None or abs(worst.naive_off) < WORTH_SAYING:
        return None
    expected = worst.naive_expected / math.exp(worst.log_ratio.value) - 1.0
    because = f" {NAIVE_WORDS}" if expected > WORTH_SAYING else ""
    off = f"{abs(100.0 * worst.naive_off):.0f} % {'above' if worst.naive_off > 0.0 else 'below'} the measured one"
    return f"The plain ratio of mean diameters is {worst.naive_ratio:.3f} at {worst.name}, {off}.{because}"


def _assumed(said: Comparison) -> str:
    """Return how far cups would have to differ to turn the verdict, where that is assumed."""
    spread, needed = said.fit.assumed_spread, said.spread_to_agree
    text = f"Intervals assume that cups differ by {100.0 * spread:.0f} % in diameter (standard deviation)"
    if said.verdict is Verdict.NOT_CONSISTENT and math.isfinite(needed):
        return f"{text}; if they differ by {100.0 * needed:.0f} % or more, there is no misfit."
    return f"{text}."
