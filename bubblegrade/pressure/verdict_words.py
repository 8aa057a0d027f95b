"""A comparison in plain words: the verdict, what stands beside it, and what the ratio of means would have said."""

from __future__ import annotations

import math
from typing import Final

from bubblegrade.pressure.by_setting import NAIVE_WORDS, SettingRow
from bubblegrade.pressure.comparison import Comparison
from bubblegrade.pressure.effective import HALF_PRESSURE
from bubblegrade.pressure.verdict import ALL_TOGETHER, ONE_OF_MANY, SIZES_ALONE, VERDICT_WORDS, Flag, Verdict

MISFITS: Final = frozenset({Verdict.SHRANK_LESS, Verdict.SHRANK_MORE, Verdict.NOT_CONSISTENT})
WORTH_SAYING: Final = 0.02  # by which share the ratio of means is off; less is lost in the interval
MOST_OFF: Final = 2.0  # of the measured ratio: beyond it that one is drawn from hardly a void


def verdict_sentence(said: Comparison) -> str:
    """Return the verdict over all settings in plain words."""
    spread, needed = said.fit.assumed_spread, said.spread_to_agree
    if said.verdict is not Verdict.NOT_CONSISTENT:
        return VERDICT_WORDS[said.verdict]
    return VERDICT_WORDS[said.verdict].format(spread=_percent(spread), needed=_percent(needed))


def remarks(said: Comparison) -> tuple[str, ...]:
    """Return what a reader must know to take the verdict rightly."""
    lines = []
    if Flag.BORDERLINE in said.flags and said.verdict in MISFITS:
        lines.append(_by_one_spread(said))
    if said.verdict in MISFITS:
        lines.append(SIZES_ALONE)
    if said.verdict not in {*MISFITS, Verdict.CANNOT_TELL} and said.effective_share.low <= HALF_PRESSURE:
        lines.append(f"Half the gauge pressure would agree as well, down to a share of {said.effective_share.low:.2f}.")
    off = {*said.setting_verdicts} & MISFITS
    if off and said.verdict not in MISFITS:
        lines.append(ONE_OF_MANY)
    if said.verdict in MISFITS and not off:
        lines.append(ALL_TOGETHER)
    if said.findings.assumed:
        lines.append(_assumed(said))
    return tuple(lines)


def naive_sentence(said: Comparison) -> str | None:
    """Return by how far the ratio of the means seen is off at its worst, and why; None where it hardly is."""
    rows = [row for row in said.rows if not row.is_reference and abs(row.naive_off) < MOST_OFF]
    worst: SettingRow | None = max(rows, key=lambda row: abs(row.naive_off), default=None)
    if worst is None or abs(worst.naive_off) < WORTH_SAYING:
        return None
    expected = worst.naive_expected / math.exp(worst.log_ratio.value) - 1.0
    because = f" {NAIVE_WORDS}" if expected > WORTH_SAYING else ""
    off = f"{abs(100.0 * worst.naive_off):.0f} % {'above' if worst.naive_off > 0.0 else 'below'} the measured one"
    return f"The plain ratio of mean diameters is {worst.naive_ratio:.3f} at {worst.name}, {off}.{because}"


def _by_one_spread(said: Comparison) -> str:
    """Return the interval that calls a misfit where the exponent's own still holds Boyle's 1/3."""
    low, high = said.findings.pooled.low, said.findings.pooled.high
    return (
        f"The verdict goes by the exponent's interval of {low:.3f} to {high:.3f}, from one spread between all cups; "
        "the one from leaving out each cup in turn still holds Boyle's exponent, so cast more cups to be sure."
    )


def _assumed(said: Comparison) -> str:
    """Return how far cups are assumed to differ."""
    return f"Intervals assume that cups differ by {_percent(said.fit.assumed_spread)} in diameter (standard deviation)."


def _percent(share: float) -> str:
    """Return a share in percent, rounded up to a tenth.

    >>> _percent(0.05), _percent(0.0771)
    ('5 %', '7.8 %')
    """
    return f"{math.ceil(round(1000.0 * share, 6)) / 10.0:g} %"
