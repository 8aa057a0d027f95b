"""Reports of a trial of pressures, of a hold test and of the resin's window."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import accumulate
from typing import Final

from rich.console import Console
from rich.table import Table

from bubblegrade.pressure.cautions import PRESSURE, RESIN
from bubblegrade.pressure.hold import Held
from bubblegrade.pressure.hold_advice import advise_on_hold
from bubblegrade.pressure.trial import Trial
from bubblegrade.pressure.verdict_words import verdict_sentence
from bubblegrade.pressure.window import Window
from bubblegrade.show import hold_tables, trial_tables, window_tables
from bubblegrade.show.hold_picture import hold_picture
from bubblegrade.show.plot_window import sizes_by_pressure
from bubblegrade.show.report.page import Block, Page, Plot, Rows, Section, Words
from bubblegrade.show.trial_pictures import trial_pictures

PAPER: Final = Console(width=10_000, color_system=None, force_terminal=False)
PICTURE_WORDS: Final = {
    "sizes-by-pressure": "Diameters by absolute pressure, with the fitted line, its band and Boyle's law.",
    "sizes-at-each-setting": "The sizes of the voids at each setting, above the smallest countable size.",
    "gain": "The expected number of visible voids by pressure, and what each further step brings.",
}


def trial_page(trial: Trial, *, not_graded: Iterable[tuple[str, str]], version: str) -> Page:
    """Return the report of a trial of pressures; `not_graded` are photographs without a result, and why."""
    columns = {**trial_tables.SIZES, **trial_tables.VERDICTS}
    settings = rows_of(trial_tables.setting_table(trial, PAPER, columns), "Settings")
    pictures = tuple(Plot(picture.svg, PICTURE_WORDS[name]) for name, picture in trial_pictures(trial).items())
    words = tuple(
        Words(line, trial_tables.weight_of(line)) for group in trial_tables.paragraphs(trial) for line in group
    )
    cups = Rows(
        "Cups",
        ("photograph", "setting", "voids", "unfit"),
        tuple((cup.photo, cup.stated.setting, str(len(cup.countable)), "; ".join(cup.unfit)) for cup in trial.cups),
        folded=True,
    )
    left = tuple(not_graded)
    missing = (Rows("Not graded", ("photograph", "why"), left),) if left else ()
    return Page(
        "Cups cast at several pressures",
        verdict_sentence(trial.comparison),
        (
            Section("Comparison with Boyle's law", (settings, *pictures)),
            Section("What it says", (*words, cups, *missing)),
        ),
        cautions=tuple(each.text for each in PRESSURE),
        version=version,
    )


def hold_page(held: Held, *, version: str) -> Page:
    """Return the report of a hold test."""
    numbers = rows_of(hold_tables.number_table(held, PAPER), "Numbers")
    words = (*hold_tables.ground_lines(held), *(each.text for each in advise_on_hold(held)))
    picture = Plot(
        hold_picture(held).svg, "The pressure by time: readings, the fall with its 95 % band, what is allowed."
    )
    return Page(
        "Does the pot hold?",
        hold_tables.verdict_words(held),
        (Section("The test", (picture, numbers)), Section("What it rests on", tuple(map(Words, words)))),
        cautions=tuple(each.text for each in PRESSURE),
        version=version,
    )


def window_page(found: Window, *, version: str) -> Page:
    """Return the report of the resin's window."""
    picture = Plot(
        sizes_by_pressure(found).svg,
        "Above, the steps against the time to gel; below, for each pressure, which sizes of void rise out, are left to "
        "see, or are below sight.",
    )
    blocks: tuple[Block, ...] = (
        picture,
        rows_of(window_tables.timeline_table(found, PAPER), "Timeline"),
        rows_of(window_tables.sizes_table(found, PAPER), "Sizes in open air"),
    )
    return Page(
        "How long the resin gives",
        window_tables.verdict_words(found),
        (
            Section("The window", blocks),
            Section("What it rests on", tuple(map(Words, window_tables.ground_lines(found)))),
        ),
        cautions=tuple(each.text for each in (*PRESSURE, *RESIN)),
        version=version,
    )


def rows_of(table: Table, caption: str) -> Rows:
    """Return a terminal's table as one of the report."""
    first, *columns = [[str(cell) for cell in column.cells] for column in table.columns]
    headings = tuple(str(column.header) for column in table.columns)
    return Rows(caption, headings, tuple(zip(accumulate(first, _named), *columns, strict=True)))


def _named(above: str, name: str) -> str:
    """Return a row's name: an eye sees which line one without goes on with, a listener is told each row's."""
    return name or above
