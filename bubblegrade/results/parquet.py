"""The tables once more as Parquet, written piece by piece; pyarrow through the extra `parquet`.

Rows, columns and their names are those of the CSV, with numbers as numbers: float64, null where the cell is empty. Text
is as it is, without the apostrophe that keeps spreadsheets from running it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import partial
from typing import TYPE_CHECKING, Any, BinaryIO, Final

from bubblegrade.errors import InputError
from bubblegrade.results.entry import Entry
from bubblegrade.results.void_columns import SET_ASIDE_HAVE, VOIDS_HAVE

if TYPE_CHECKING:
    import pyarrow

MISSING: Final = "--parquet needs what writes Parquet: pip install 'bubblegrade[parquet]', or leave it out"
GROUP_ROWS: Final = 50_000  # that wait in memory, and that a reader can take by themselves
PACKED: Final = "zstd"  # read by every common reader of Parquet; a third smaller than its usual packing

TEXTS: Final = frozenset(
    {"photo", "kind", "reason", "clarity_word", "not_judged", "glass_class_unconfirmed", "scale_source", "unfit"}
    | {"warnings", "sha256", "fitness"}
)
TRUTHS: Final = frozenset({"fit", "judged", "cut"})

Cells = Mapping[str, Sequence[Any]]  # some rows of a table, column by column


def check_parquet() -> None:
    """Check that Parquet can be written.

    Raises
    ------
    InputError
        The extra is not installed.
    """
    try:
        import pyarrow.parquet  # noqa: F401, PLC0415
    except ImportError:
        raise InputError(MISSING) from None


def parquet_writers(entries: Sequence[Entry]) -> dict[str, Callable[[BinaryIO], object]]:
    """Return what writes each table of a run of at least one casting."""
    return {
        name: partial(_write, columns=columns(entries), parts=map(cells, entries))
        for name, (columns, cells) in PARQUET_TABLES.items()
    }


def _write(file: BinaryIO, columns: Sequence[str], parts: Iterator[Cells]) -> None:
    """Write a table, so many rows at a time that memory stays flat."""
    import pyarrow  # noqa: PLC0415
    from pyarrow import parquet  # noqa: PLC0415

    schema = pyarrow.schema([(column, _kind(column)) for column in columns])
    with parquet.ParquetWriter(file, schema, compression=PACKED) as table:
        for group in _groups(columns, parts):
            table.write_table(pyarrow.table(dict(group), schema=schema))


def _groups(columns: Sequence[str], parts: Iterator[Cells]) -> Iterator[Cells]:
    """Yield the rows in groups of at least GROUP_ROWS, but for the last."""
    group: dict[str, list[Any]] = {column: [] for column in columns}
    for part in parts:
        for column, held in group.items():
            held.extend(part[column])
        if len(group[columns[0]]) >= GROUP_ROWS:
            yield group
            group = {column: [] for column in columns}
    if group[columns[0]]:
        yield group


def _kind(column: str) -> pyarrow.DataType:
    """Return what a column holds: the same for every run, so that tables of several runs are read as one."""
    import pyarrow  # noqa: PLC0415

    if column in TRUTHS:
        return pyarrow.bool_()
    return pyarrow.string() if column in TEXTS else pyarrow.float64()


def _casting_cells(entry: Entry) -> Cells:
    """Return a photograph's row of castings.csv."""
    cells = {column: [_cell(column, text)] for column, text in entry.row.items()}
    return {**cells, "photo": [_text(entry.record["photo"])]}


def _cell(column: str, text: str) -> str | float | bool | None:
    """Return a cell of the CSV as what it means."""
    if column in TEXTS:
        return _text(text)
    if column in TRUTHS:
        return text == "true"
    return float(text) if text else None


def _finds(part: str) -> Callable[[Entry], Cells]:
    """Return what gives a photograph's rows of a table of finds."""

    def cells(entry: Entry) -> Cells:
        columns = entry.record[part]
        return {**columns, "photo": [_text(entry.record["photo"])] * len(columns["x_px"])}

    return cells


def _text(name: str) -> str:
    """Return a name as UTF-8 can hold it, as the CSV has it."""
    return name.encode("utf-8", errors="backslashreplace").decode("utf-8")


PARQUET_TABLES: Final[Mapping[str, tuple[Callable[[Sequence[Entry]], Sequence[str]], Callable[[Entry], Cells]]]] = {
    "castings.parquet": (lambda entries: list(entries[0].row), _casting_cells),
    "voids.parquet": (lambda _: VOIDS_HAVE, _finds("voids")),
    "set-aside.parquet": (lambda _: SET_ASIDE_HAVE, _finds("set_aside")),
}
