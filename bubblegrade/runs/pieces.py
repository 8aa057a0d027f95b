"""Which photographs show one piece: by a rule for file names, or by a sheet."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import Final

from bubblegrade.errors import InputError
from bubblegrade.runs.csv_lines import Photographs, check_width, stripped_lines
from bubblegrade.runs.inputs import Source
from bubblegrade.settings import nearest
from bubblegrade.show.printable import printable

NEEDED: Final = ("photo", "piece")
COLUMNS: Final = (*NEEDED, "side")
LEAST_SHOWN: Final = 2  # pieces with a side, or sides of the one piece with it: that is a side that pieces have
PIECE, SIDE = "{piece}", "{side}"


@dataclass(frozen=True)
class Shown:
    """The piece that a photograph shows, and its side."""

    piece: str
    side: str = ""


@dataclass(frozen=True)
class Row:
    """A row of the sheet."""

    path: Path
    shown: Shown


def by_name(source: Source) -> Shown:
    """Return each photograph as a piece of its own."""
    return Shown(str(PurePosixPath(source.name).with_suffix("")))


def by_pattern(pattern: str) -> re.Pattern[str]:
    """Return the pattern that tells piece and side from a file's name without suffix.

    {piece} takes as much as it can, so that with "{piece}-{side}" the piece is all before the last '-'.

    Raises
    ------
    InputError
        The pattern has no {piece}, one of its parts twice, or nothing between them.

    >>> by_pattern("{piece}-{side}").fullmatch("jig-07-left").groupdict()
    {'piece': 'jig-07', 'side': 'left'}
    """
    if pattern.count(PIECE) != 1 or pattern.count(SIDE) > 1:
        raise InputError(f'--pieces {pattern} does not say what the piece is: write "{{piece}}-{{side}}"')
    if PIECE + SIDE in pattern or SIDE + PIECE in pattern:
        raise InputError(f'--pieces {pattern} does not say where the piece ends: write "{{piece}}-{{side}}"')
    text = re.escape(pattern).replace(re.escape(PIECE), "(?P<piece>.+)").replace(re.escape(SIDE), "(?P<side>.+)")
    return re.compile(text)


def shown_by(pattern: re.Pattern[str], source: Source) -> Shown:
    """Return the piece and side in a photograph's name; one that the pattern does not fit is a piece of its own."""
    place = PurePosixPath(source.name)
    found = pattern.fullmatch(place.stem)
    if found is None:
        return by_name(source)
    parts = found.groupdict()
    return Shown(str(place.with_name(parts["piece"])), parts.get("side") or "")


def check_names(pattern: str, sources: Sequence[Source]) -> None:
    """Refuse a pattern that does not tell the pieces of these photographs.

    Raises
    ------
    InputError
        The pattern cannot be used or fits no name at all, or only large and small letters tell two pieces apart.
    """
    told = by_pattern(pattern)
    if sources and not any(told.fullmatch(PurePosixPath(source.name).stem) for source in sources):
        raise InputError(
            f'--pieces {pattern} fits no name, as that of {sources[0].name}: write what stands there, as "-" in '
            '"{piece}-{side}"'
        )
    check_spelling(shown_by(told, source) for source in sources)


def check_spelling(shown: Iterable[Shown]) -> None:
    """Refuse pieces that only large and small letters tell apart: each would be judged by some of its sides.

    Raises
    ------
    InputError
        There are two such pieces.

    >>> check_spelling([Shown("Jig 7", "left"), Shown("Jig 7", "right"), Shown("jig 8")])
    """
    first: dict[str, str] = {}
    for piece in (one.piece for one in shown):
        other = first.setdefault(piece.casefold(), piece)
        if other != piece:
            raise InputError(
                f"{printable(other)} and {printable(piece)} are one piece but for large and small letters: "
                "write it alike in all its names"
            )


def sides_lacking(shown: Iterable[Shown]) -> dict[str, str]:
    """Return what to say of pieces without a side that half of all are shown from.

    Of two pieces each shown from one side, the sides may be any; where one of them is shown from several, the other
    should be.

    >>> both = [Shown(piece, side) for piece in "12" for side in ("left", "right")]
    >>> sides_lacking([*both, Shown("3", "Left")])
    {'3': "no photograph shows its side 'right', as of 2 of 3 pieces: photograph it, or mend its name"}
    """
    sides: dict[str, set[str]] = {}
    for one in shown:
        sides.setdefault(one.piece, set()).add(one.side.casefold())
    often = Counter(side for own in sides.values() for side in own if side)
    beside = {side for own in sides.values() if len(own) >= LEAST_SHOWN for side in own}
    wanted = [
        side for side, count in often.items() if 2 * count >= len(sides) and (count >= LEAST_SHOWN or side in beside)
    ]
    said = {}
    for piece, own in sides.items():
        lacking = sorted(side for side in wanted if side not in own)
        if lacking:
            which = " and ".join(f"'{side}'" for side in lacking)
            count = min(often[side] for side in lacking)
            said[piece] = (
                f"no photograph shows its side{'s' if lacking[1:] else ''} {which}, as of {count} of {len(sides)} "
                "pieces: photograph it, or mend its name"
            )
    return said


def read_pieces(path: Path) -> tuple[Row, ...]:
    """Return the rows of a sheet of photographs and the pieces that they show; paths count from the sheet.

    Raises
    ------
    InputError
        The sheet cannot be read, or a row of it cannot be used; the line is named.
    """
    name = printable(str(path))
    lines = stripped_lines(path, name)
    if len(lines) < 2:  # noqa: PLR2004
        raise InputError(f"{name} has no row below its heading: write photo,piece,side and a row for each photograph")
    heading = _heading([column.lower() for column in lines[0][1]], name)
    photographs = Photographs(path.parent)
    found = tuple(_row(photographs, heading, line, name) for line in lines[1:])
    try:
        check_spelling(row.shown for row in found)
    except InputError as error:
        raise InputError(f"{name}: {error}") from error
    _check_sides(found, [number for number, _ in lines[1:]], name)
    photographs.check(name)
    return found


def _heading(columns: list[str], name: str) -> list[str]:
    """Return the columns, checked."""
    for column in columns:
        if column not in COLUMNS:
            raise InputError(
                f"{name}: {printable(column) or 'a column without a name'} is not known of a piece: "
                f"{nearest(column, list(COLUMNS))}"
            )
        if columns.count(column) > 1:
            raise InputError(f"{name}: {column} stands there twice: keep one of the columns")
    for column in NEEDED:
        if column not in columns:
            raise InputError(f"{name} has no column {column}: write a heading photo,piece,side")
    return columns


def _check_sides(rows: tuple[Row, ...], numbers: list[int], name: str) -> None:
    """Refuse a side of a piece that is named twice; sides that are not named may be any."""
    lines: dict[tuple[str, str], int] = {}
    for number, shown in zip(numbers, (row.shown for row in rows), strict=True):
        first = lines.setdefault((shown.piece, shown.side.casefold()), number)
        if shown.side and first != number:
            twice = f"side {printable(shown.side)} of piece {printable(shown.piece)}"
            raise InputError(
                f"{name} line {number}: {twice} stands on line {first} already: name another side, or keep one of them"
            )


def _row(photographs: Photographs, heading: list[str], line: tuple[int, list[str]], name: str) -> Row:
    number, cells = line
    at = f"{name} line {number}"
    check_width(cells, heading, at)
    row = dict.fromkeys(COLUMNS, "") | dict(zip(heading, cells, strict=False))
    if not row["piece"]:
        raise InputError(f"{at}: piece is empty: fill it in")
    try:
        return Row(photographs.named(row["photo"], number), Shown(row["piece"], row["side"]))
    except InputError as error:
        raise InputError(f"{at}: {error}") from error
