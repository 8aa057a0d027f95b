"""Tables as CSV: fixed columns, one line end, six significant digits, and nothing that a spreadsheet would run."""

from __future__ import annotations

import csv
import io
import math
import numbers
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

Column = NDArray[Any] | Sequence[str | None]  # numbers or texts

PIECE: Final = 2**16  # characters that a piece of a table has at least, but for the last
GUARD: Final = "'"
FORMULA_SIGN: Final = r"[-+=@\uff0b\uff0d\uff1d\uff20]"  # begins a formula, in some languages also in full width
_RUNS_IN_SPREADSHEETS: Final = re.compile(rf"{FORMULA_SIGN}|[\t\r\n]")
# Spreadsheets of some countries begin a cell behind every semicolon.
INNER_FORMULA: Final = re.compile(rf";(?={FORMULA_SIGN})")
_GUARDED: Final = re.compile(rf";{GUARD}(?={FORMULA_SIGN})")


def csv_text(columns: Sequence[str], rows: Iterable[Mapping[str, object]]) -> str:
    """Return the table as CSV with a heading line; a column that a row does not have is left empty.

    Numbers have six significant digits, NaN and None are empty, truth values `true` or `false`. Text that a
    spreadsheet would take for a formula gets an apostrophe before it, unless it is a number; line ends become spaces.

    >>> print(csv_text(["kind", "d_mm"], [{"kind": "void", "d_mm": 0.25}, {"kind": "=1+1"}]), end="")
    kind,d_mm
    void,0.25
    '=1+1,

    Raises
    ------
    AssertionError
        If a row has a column that is not among `columns`, or a cell is not text, a number or a truth value.
    """
    return "".join(csv_pieces(columns, rows))


def csv_pieces(columns: Sequence[str], rows: Iterable[Mapping[str, object]]) -> Iterator[str]:
    """Yield the text of `csv_text` in pieces of whole lines; `rows` are taken one by one.

    Raises
    ------
    AssertionError
        As `csv_text`.
    """
    lines = io.StringIO()
    table = csv.writer(lines, lineterminator="\n")
    table.writerow(columns)
    known = frozenset(columns)
    for row in rows:
        if not known.issuperset(row):
            raise AssertionError(f"columns without a place in the table: {sorted(set(row) - known)}")
        table.writerow([cell_text(row.get(column)) for column in columns])
        if lines.tell() >= PIECE:
            yield lines.getvalue()
            lines.seek(0)
            lines.truncate()
    yield lines.getvalue()


def csv_of_columns(columns: Mapping[str, Column]) -> str:
    """Return the same table as `csv_text` of columns, by name: a long one takes a quarter of the time.

    >>> print(csv_of_columns({"d_mm": np.array([0.25, np.nan]), "kind": ["void", None]}), end="")
    d_mm,kind
    0.25,void
    ,
    """
    heading = ",".join(map(_quoted, columns))
    cells = [_number_texts(column) if isinstance(column, np.ndarray) else _texts(column) for column in columns.values()]
    return "\n".join([heading, *map(",".join, zip(*cells, strict=True)), ""])


def _number_texts(numbers: NDArray[Any]) -> list[str]:
    """Return the cells of a column of numbers, whole ones or not."""
    if numbers.dtype.kind != "f":
        return list(map(str, numbers.tolist()))
    texts = ("%.6g\n" * len(numbers) % tuple((numbers + 0.0).tolist())).splitlines()
    return ["" if text == "nan" else text for text in texts] if np.isnan(numbers).any() else texts


def _texts(texts: Sequence[str | None]) -> list[str]:
    """Return the cells of a column of texts; many of them are the same."""
    made = {text: _quoted(cell_text(text)) for text in set(texts)}
    return [made[text] for text in texts]


def _quoted(text: str) -> str:
    """Return a cell as it stands between commas."""
    line = io.StringIO()
    csv.writer(line, lineterminator="").writerow([text, ""])
    return line.getvalue()[:-1]


def cell_text(cell: object) -> str:
    """Return one cell as text; see `csv_text`."""
    if cell is None:
        return ""
    if type(cell) is float:  # of most cells of a long table, before what asks more
        return _number_text(cell)
    if isinstance(cell, bool | np.bool_):
        return "true" if cell else "false"
    if isinstance(cell, str):
        return _harmless(str(cell))
    if isinstance(cell, numbers.Integral):
        return str(int(cell))
    if isinstance(cell, numbers.Real):
        return _number_text(float(cell))
    raise AssertionError(f"a cell is text, a number or a truth value: {cell!r}")


def _number_text(number: float) -> str:
    """Return a number in six significant digits, nothing for NaN; a zero has no sign."""
    return "" if math.isnan(number) else f"{number + 0.0:.6g}"


def _harmless(text: str) -> str:
    """Return `text` on one line, with an apostrophe before it where a spreadsheet would run it."""
    line = INNER_FORMULA.sub(f";{GUARD}", text.replace("\r", " ").replace("\n", " "))
    if not _RUNS_IN_SPREADSHEETS.match(text) or _is_number(text):
        return line
    return GUARD + line


def unguarded(cell: str) -> str:
    """Return a cell of text as it was meant, without the apostrophes that keep spreadsheets from running it.

    >>> unguarded("'=1+1;'=2"), unguarded("'s Hertogenbosch")
    ('=1+1;=2', "'s Hertogenbosch")
    """
    plain = _GUARDED.sub(";", cell)
    return next((meant for meant in (plain.removeprefix(GUARD), plain) if _harmless(meant) == cell), cell)


def _is_number(text: str) -> bool:
    """Tell whether `text` is a number and nothing else."""
    try:
        float(text)
    except ValueError:
        return False
    return text == text.strip()
