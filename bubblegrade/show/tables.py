"""The table on the terminal: one line a photograph."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from itertools import zip_longest
from typing import TYPE_CHECKING, Final

from rich import box
from rich.cells import cell_len
from rich.console import Console
from rich.table import Table
from rich.text import Text

from bubblegrade.show.counted_from import counted_from, unlike_counts
from bubblegrade.show.sentences import say
from bubblegrade.show.words import area, left_out_share, length, percent, score
from bubblegrade.units import count_of

if TYPE_CHECKING:
    from bubblegrade.grading_run import Casting

NARROW: Final = 100  # columns of a terminal; in fewer the notes stand below the table
VERY_NARROW: Final = 64  # in fewer the judged area and the median go too
UNBROKEN: Final = 10_000  # columns of what is no terminal
MUCH_LEFT_OUT: Final = 0.05  # share of the casting that is worth a note
MUCH_BENT: Final = 0.2  # of a diameter in mm, one standard uncertainty; a body as deep as it is wide leaves 0.16 open

Cell = Callable[["Casting"], str]

COLUMNS: Final[dict[str, Cell]] = {
    "voids": lambda casting: str(casting.count),
    "largest": lambda casting: length(casting.sizes_px.largest.value, casting),
    "D50": lambda casting: length(casting.sizes_px.d50_number.value, casting),
    "clarity": lambda casting: score(casting.clarity),
    "word": lambda casting: casting.clarity.word,
    "judged": lambda casting: area(casting.judged_area_px, casting),
}
DROPPED_FIRST: Final = ("D50", "judged")


def table_console() -> Console:
    """Return a console for stdout, as wide as its terminal; what is no terminal gets plain text in unbroken lines."""
    console = Console(highlight=False)
    return console if console.is_terminal else Console(highlight=False, width=UNBROKEN, color_system=None)


def show_castings(castings: Sequence[Casting], console: Console) -> None:
    """Print one line a photograph; what does not fit a narrow terminal stands below or is left to castings.csv."""
    width = console.width
    names = [name for name in COLUMNS if width >= VERY_NARROW or name not in DROPPED_FIRST]
    notes_inside = width >= NARROW
    table = Table(box=box.SIMPLE_HEAD if console.is_terminal else None, pad_edge=False, show_edge=False)
    table.add_column("photo", overflow="fold")
    for name in names:
        table.add_column(name, justify="left" if name == "word" else "right", no_wrap=True)
    if notes_inside:
        table.add_column("notes", overflow="fold")
    counted = []
    for casting in castings:
        counted.append(counted_from(casting))
        cells = [casting.photo, *(COLUMNS[name](casting) for name in names)]
        table.add_row(*(Text(cell) for cell in (*cells, notes(casting))[: len(table.columns)]))
    print_table(table, console)
    if not notes_inside:
        _show_notes(castings, console)
    for sentence in unlike_counts(counted):
        say(sentence, console)


def notes(casting: Casting) -> str:
    """Return in short what the reader should know of a casting before trusting its line."""
    from bubblegrade.fitness.outlined import doubts  # noqa: PLC0415  lists and help need no grading
    from bubblegrade.grading.remarks import OPENED, SPAN_CUT, THICKER, UNUSUAL  # noqa: PLC0415  likewise
    from bubblegrade.photo.decoded import ONE_ALONE  # noqa: PLC0415  likewise
    from bubblegrade.photo.on_card import OTHER_LENS  # noqa: PLC0415  likewise
    from bubblegrade.photo.reading import UNTOLD  # noqa: PLC0415  likewise
    from bubblegrade.photo.tone import NOT_UNDERSTOOD  # noqa: PLC0415  likewise

    unfit = [f"UNFIT: {'; '.join(casting.unfit)}"] if casting.unfit else []
    unsure = [f"{casting.unsure_count} unsure"] if casting.unsure_count else []
    below = casting.sizes_px.below
    small = [f"{count_of(below, 'void')} under the smallest countable size"] if below else []
    cut = [f"{count_of(casting.cut_count, 'void')} cut by the frame"] if casting.cut_count else []
    left_out = left_out_share(casting)
    hidden = [f"{percent(left_out)} not judged"] if left_out > MUCH_LEFT_OUT else []
    told = (OPENED, SPAN_CUT, THICKER, UNUSUAL, NOT_UNDERSTOOD, UNTOLD, ONE_ALONE)
    noted = [said for said in told if said in casting.warnings]
    noted += [said for said in casting.warnings if said.startswith(OTHER_LENS)]
    doubted = doubts(casting.fitness)
    return ", ".join([*unfit, *unsure, *small, *cut, *hidden, *_curved(casting), *noted, *doubted])


def _curved(casting: Casting) -> list[str]:
    """Return what a curved body leaves open of sizes in mm, where that is much."""
    curve = casting.magnified
    if casting.scale is None or curve.err == 0.0:
        return []
    rest = percent(curve.err / curve.factor)
    if casting.thickness_mm is None and not curve.by_form:
        return [f"if curved, mm are good to {rest} only: give --thickness"]
    if curve.err / curve.factor <= MUCH_BENT:
        return []
    if curve.by_form:
        return [f"so bent that mm of a single void are good to {rest} only"]
    return [f"so thick for its width that mm are good to {rest} only: check both"]


def print_table(table: Table, console: Console) -> None:
    """Print a table, for what is no terminal without blanks at the ends of lines."""
    if console.is_terminal:
        console.print(table)
    else:
        console.file.writelines(f"{line}\n" for line in _plain_lines(table))


def _plain_lines(table: Table) -> Iterator[str]:
    """Yield the lines of a table with two blanks between columns: rich takes 2 ms a row, too long for a whole log."""
    columns = [[str(cell).splitlines() or [""] for cell in (column.header, *column.cells)] for column in table.columns]
    widths = [max(cell_len(line) for cell in column for line in cell) for column in columns]
    rightward = [column.justify == "right" for column in table.columns]
    for row in zip(*columns, strict=True):
        for lines in zip_longest(*row, fillvalue=""):
            blanks = [" " * (width - cell_len(line)) for line, width in zip(lines, widths, strict=True)]
            cells = zip(lines, blanks, rightward, strict=True)
            yield "  ".join(blank + line if right else line + blank for line, blank, right in cells).rstrip()


def _show_notes(castings: Sequence[Casting], console: Console) -> None:
    """Print the notes, one paragraph a photograph."""
    for casting in castings:
        said = notes(casting)
        if said:
            console.print(Text(f"{casting.photo}: {said}"))
