"""A trial on the terminal: the verdict in plain words, a row a setting, what stands beside it, and what to do."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from typing import Final

from rich import box
from rich.console import Console
from rich.table import Table
from rich.text import Text

from bubblegrade.grading.estimate import Estimate
from bubblegrade.grading.pattern_casting import alarms, speaks_for
from bubblegrade.grading.pattern_causes import SENTENCES
from bubblegrade.pressure.by_setting import SettingRow
from bubblegrade.pressure.effective import MOST_SHARE
from bubblegrade.pressure.findings import Flag
from bubblegrade.pressure.situation import Advice, Level
from bubblegrade.pressure.suspects import AGAINST, SUSPECT_WORDS, Ranked
from bubblegrade.pressure.trial import Told, Trial
from bubblegrade.pressure.verdict_words import FLAG_WORDS, naive_sentence, remarks, verdict_sentence
from bubblegrade.show.cautions import show_cautions
from bubblegrade.show.sentences import say
from bubblegrade.show.tables import print_table
from bubblegrade.show.words import percent, rounded
from bubblegrade.units import count_of

NARROW: Final = 118  # columns of a terminal; in fewer the verdicts stand in a table of their own
LEVEL_WORDS: Final[Mapping[Level, str]] = {Level.STOP: "STOP", Level.ADVICE: "Advice", Level.CAUTION: "Caution"}
NOTHING: Final = "-"

Cell = Callable[[Told], str]

SIZES: Final[dict[str, Cell]] = {
    "pressure": lambda told: told.name,
    "cups": lambda told: str(len(told.cups)),
    "voids": lambda told: str(told.voids),
    "diameter left": lambda told: _ratio(told, lambda row: interval(row.diameter_ratio, _left)),
    "Boyle": lambda told: _ratio(told, lambda row: rounded(row.boyle_diameter_ratio)),
    "naive": lambda told: _ratio(told, lambda row: rounded(row.naive_ratio)),
    "seen": lambda told: percent(told.row.seen_share) if told.row else NOTHING,
}
VERDICTS: Final[dict[str, Cell]] = {
    "effective psi": lambda told: interval(_bounded(told.effective_psig), _psi),
    "verdict": lambda told: told.verdict.value if told.row else "no void to tell by",
}
TO_THE_LEFT: Final = ("pressure", "verdict")
MOST_PSIG: Final = 1000.0  # of an effective pressure; beyond it the voids set no limit
ONE_SHARE: Final = (
    "No one share of the gauge pressure explains all settings: each setting's effective psi is what its voids report."
)
LEAST_LEFT: Final = 0.01  # of a diameter: by Boyle's law it takes a million atmospheres


def show_trial(trial: Trial, console: Console) -> None:
    """Print a trial; everything reads without colour."""
    say(verdict_sentence(trial.comparison), console, style="bold")
    console.print()
    for table in _tables(trial, console):
        print_table(table, console)
        console.print()
    for paragraph in paragraphs(trial):
        for line in paragraph:
            say(line, console)
        console.print()
    show_cautions(console)


def interval(estimate: Estimate, shown: Callable[[float], str] = rounded) -> str:
    """Return an estimate with its limits; an open end is said.

    >>> interval(Estimate(0.58, 0.54, math.inf))
    '0.580 (0.540 to no limit)'
    """
    if not math.isfinite(estimate.value):
        return NOTHING
    if math.isnan(estimate.low) or math.isnan(estimate.high):
        return shown(estimate.value)
    low, high = (shown(end) if math.isfinite(end) else "no limit" for end in (estimate.low, estimate.high))
    return f"{shown(estimate.value)} ({low} to {high})"


def _bounded(effective_psig: Estimate) -> Estimate:
    """Return an effective pressure without an upper limit that no vessel of a caster's could hold."""
    high = effective_psig.high
    return replace(effective_psig, high=math.inf) if high > MOST_PSIG else effective_psig


def _psi(psig: float) -> str:
    """Return an effective pressure to a whole psi; a little below 0 is 0."""
    return f"{round(psig)}" if psig <= MOST_PSIG else f"over {MOST_PSIG:.0f}"


def _left(ratio: float) -> str:
    """Return what is left of a diameter; no pressure leaves less than LEAST_LEFT."""
    return rounded(ratio) if ratio >= LEAST_LEFT else f"under {LEAST_LEFT:g}"


def _ratio(told: Told, shown: Callable[[SettingRow], str]) -> str:
    """Return a ratio to the reference, which is 1 to itself."""
    if told.row is None:
        return NOTHING
    return "1" if told.row.is_reference else shown(told.row)


def _tables(trial: Trial, console: Console) -> Iterator[Table]:
    """Return one table, or two where the terminal is narrow."""
    if console.width >= NARROW:
        yield setting_table(trial, console, {**SIZES, **VERDICTS})
        return
    yield setting_table(trial, console, SIZES)
    yield setting_table(trial, console, {"pressure": SIZES["pressure"], **VERDICTS})


def setting_table(trial: Trial, console: Console, columns: Mapping[str, Cell]) -> Table:
    """Return a row a setting."""
    table = Table(box=box.SIMPLE_HEAD if console.is_terminal else None, pad_edge=False, show_edge=False)
    for name in columns:
        table.add_column(name, justify="left" if name in TO_THE_LEFT else "right", no_wrap=name != "verdict")
    for told in trial.settings:
        table.add_row(*(Text(cell(told)) for cell in columns.values()))
    return table


def paragraphs(trial: Trial) -> Iterator[list[str]]:
    """Return what stands below the table, group by group."""
    yield _evidence(trial)
    notes = [*remarks(trial.comparison), *(FLAG_WORDS[flag] for flag in trial.comparison.flags), *trial.warnings]
    if notes:
        yield [f"Note: {note}" for note in notes]
    if trial.comparison.suspects:
        yield ["Suspects, the likeliest first:", *_suspects(trial.comparison.suspects)]
    yield [_places(trial)]
    if trial.advice:
        yield [_advice(each) for each in trial.advice]


def _evidence(trial: Trial) -> list[str]:
    """Return the exponent beside Boyle's, the check beside it, and the effective pressure."""
    said = trial.comparison
    check = said.findings.check.exponent
    free = interval(check) if check.known else "cannot be told"
    lines = [
        f"Exponent of diameters on pressure: {interval(said.exponent)}; Boyle's law says 0.333. "
        f"Without a distribution: {free}.",
        ONE_SHARE if Flag.UNEVEN in said.flags else _arrived(said.effective_share),
        f"Ratios are to {said.reference}; 'seen' is the share of the voids large enough to count; limits are of 95 %.",
    ]
    naive = naive_sentence(said)
    return lines if naive is None else [*lines, naive]


def _arrived(share: Estimate) -> str:
    """Return the share of the gauge pressure that explains the exponent."""
    if math.isinf(share.value):
        return f"By Boyle's law it would take more than {MOST_SHARE:g} times the gauge pressure."
    return f"If Boyle's law holds, {interval(share)} of the gauge pressure stood at gel."


def _suspects(suspects: tuple[Ranked, ...]) -> Iterator[str]:
    for number, each in enumerate(suspects, 1):
        told = "; ".join(f"but {clue}" if clue in AGAINST else clue for clue in each.clues)
        clues = f" ({told})" if told else ""
        yield f"{number}. {SUSPECT_WORDS[each.suspect]}{clues}"


def _places(trial: Trial) -> str:
    """Return where the voids lie, over all cups."""
    known = [cup.pattern for cup in trial.cups if cup.pattern is not None and cup.pattern.known]
    if not known:
        return "Where the voids lie cannot be told: too few in each cup, or too much of it is hidden."
    of = count_of(len(known), "cup")
    causes = [
        f"{SENTENCES[cause]} (In {alarms(cause, known)} of {of}; chance alone raises such an alarm in 5 of 100.)"
        for cause in SENTENCES
        if speaks_for(cause, known)
    ]
    single = sum(bool(pattern.suspects) for pattern in known)
    if causes:
        return " ".join(causes)
    return f"Where the voids lie speaks for no cause: {single} of {of} would raise an alarm alone, as chance may."


def weight_of(line: str) -> str:
    """Return how a report sets a line of `paragraphs`: a STOP as an alarm."""
    return "alarm" if line.startswith(LEVEL_WORDS[Level.STOP]) else "plain"


def _advice(each: Advice) -> str:
    ground = f" {each.ground}" if each.level is Level.STOP else ""
    return f"{LEVEL_WORDS[each.level]}: {each.text}{ground}"
