"""A comparison in plain words: the verdict, what stands beside it, and what the ratio of means would have said."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Final

from bubblegrade.pressure.by_setting import NAIVE_WORDS, SettingRow
from bubblegrade.pressure.comparison import Comparison
from bubblegrade.pressure.effective import HALF_PRESSURE
from bubblegrade.pressure.findings import Flag, Verdict

VERDICT_WORDS: Final[Mapping[Verdict, str]] = {
    Verdict.AGREES: "The voids shrank as Boyle's law says, as far as these cups can tell.",
    Verdict.SHRANK_LESS: "The voids shrank less than Boyle's law says for these pressures.",
    Verdict.SHRANK_MORE: "The voids shrank more than Boyle's law says for these pressures.",
    Verdict.CANNOT_TELL: "These cups cannot tell whether the voids shrank as Boyle's law says.",
    Verdict.CONSISTENT: "The voids are consistent with Boyle's law; so few cups cannot show more.",
    Verdict.NOT_CONSISTENT: "If cups differ by no more than {spread} in diameter, the voids are not consistent with"
    " Boyle's law; from {needed} on they are.",
    Verdict.REFERENCE: "The other settings are compared with this one.",
}
FLAG_WORDS: Final[Mapping[Flag, str]] = {
    Flag.NO_OPEN_CUP: "There is no open cup: sizes are relative to the lowest setting.",
    Flag.EMPTY_CUPS: "Cups without a void above the limit were left out, which makes their setting look larger.",
    Flag.FEW_CUPS: "Too few cups to leave one out: how far cups differ is assumed, not measured.",
    Flag.SPREAD_AT_BOUND: "The voids thin out so slowly above the limit that their sizes cannot be told:"
    " closer photographs.",
    Flag.UNEVEN: "The settings contradict each other: no one law fits all of them. Look for what differed at some, such"
    " as a pot that leaked, a pressure written down wrong or cups that changed places.",
    Flag.WIDE: "The exponent's interval is wider than Boyle's exponent itself: more cups, or more voids in them.",
    Flag.BORDERLINE: "Boyle's exponent lies at the edge: one of the two ways to judge the cups' spread leaves it out.",
    Flag.CASTINGS_UNLIKE: "Castings look larger at one pressure than at another: if one mould made them, camera or zoom"
    " changed, and their voids look larger by as much.",
    Flag.HANGS_ON_UNFIT: "The photographs that are fit to measure do not bear this out alone: the others are to be"
    " taken again.",
    Flag.SMALL_GONE: "Sizes spread less under pressure, which no leak does: small voids are missing there, dissolved or"
    " not found, or new ones came out at low pressure. Their ratios say nothing of the others: closer photographs.",
    Flag.CHECK_OPEN: "The check without a distribution sets no limit: closer photographs.",
    Flag.UNCONFIRMED: "The misfit hangs on voids too small to be seen, and the check does not find it:"
    " closer photographs.",
    Flag.EXTRAPOLATED: "At some setting most of the voids are too small to be seen: its size is extrapolated.",
    Flag.CHECKS_DIFFER: "The fit and the check without a distribution differ by more than one standard error.",
    Flag.CUT_DRIFT: "The exponent drifts as the cut is raised: small voids were missed, or sizes are not log-normal.",
    Flag.SPREAD_GROWS: "Sizes spread more under pressure: some voids do not shrink with the others.",
    Flag.SPREAD_FALLS: "Sizes spread less under pressure: the smallest dissolve, or more of them are missed.",
    Flag.VOIDS_FEWER: "There are fewer voids under pressure than shrinking out of sight explains.",
    Flag.VOIDS_MORE: "There are more voids under pressure than at open air.",
}
SIZES_ALONE: Final = (
    "Sizes alone cannot tell too little pressure from another law: log the pressure from closing to gel."
)
ALL_TOGETHER: Final = (
    "No setting by itself shows the misfit surely enough to be called one; all together do: go by the whole."
)
ONE_OF_MANY: Final = "One setting of four that obey the law is off by chance in one trial of ten: go by the whole."
MORE_THAN_CHANCE: Final = (
    "More than one setting is off by itself, which chance does in one trial of thirty: cast more cups before you rely"
    " on the whole."
)
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
    uneven = Flag.UNEVEN in said.flags  # whose sentence says what the verdict goes by, and that it is no chance
    if Flag.BORDERLINE in said.flags and said.verdict in MISFITS and not uneven:
        lines.append(_by_one_spread(said))
    if said.verdict in MISFITS:
        lines.append(SIZES_ALONE)
    if said.verdict not in {*MISFITS, Verdict.CANNOT_TELL} and said.effective_share.low <= HALF_PRESSURE:
        lines.append(f"Half the gauge pressure would agree as well, down to a share of {said.effective_share.low:.2f}.")
    off = [verdict for verdict in said.setting_verdicts if verdict in MISFITS]
    if off and said.verdict not in MISFITS and not uneven:
        lines.append(ONE_OF_MANY if len(off) == 1 else MORE_THAN_CHANCE)
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
