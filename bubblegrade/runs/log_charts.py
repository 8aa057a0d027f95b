"""Charts over the log, and one factor at a time: from chosen castings to the numbers that are drawn and compared."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from bubblegrade.errors import InputError
from bubblegrade.quality.charts import Chart, count_chart, individuals_chart
from bubblegrade.quality.factors import Factor, rate_differences, value_differences
from bubblegrade.records.fields import field_named
from bubblegrade.records.reading import Chosen, Row, causes, series

VOIDS: Final = "voids"
KIND_OF: Final = {VOIDS: "grade", "clarity": "grade", "shrinkage": "shrink"}  # which result a measure is read from
# What voids are counted in: the column, and how it stands in words.
PER: Final = {
    "cm2": ("judged_area_cm2", "voids per cm2"),
    "cm3": ("judged_volume_cm3", "voids per cm3"),
    "px": ("judged_area_px", "voids per px"),
    "casting": (None, "voids per casting"),
}
FACTORS: Final = ("recipe", "resin", "mould", "humidity", "operator")  # compared unless others are named
DAMP_SHARE: Final = 0.5  # relative humidity up to which makers cast urethane (maker guidance)
SAME_SIZE: Final = 1.1  # smallest countable sizes further apart than this count different voids
LEAST: Final = 2  # castings that make a chart
COLUMNS: Final = ("casting", "value", "counted", "counted_in", "centre", "low", "high", "signals", "cause")


@dataclass(frozen=True)
class Measured:
    """Chosen castings with a number each, in the order they were cast."""

    measure: str
    words: str  # what the number is
    rows: tuple[Row, ...]
    values: tuple[float, ...]  # voids, or the number itself
    exposures: tuple[float, ...] | None  # what voids were counted in; None: every casting counts alike
    remarks: tuple[str, ...]  # what was left out, and what to know


@dataclass(frozen=True)
class Charted:
    """A chart of castings of the log."""

    measured: Measured
    chart: Chart
    numbers: tuple[int, ...]  # of the castings
    causes: Mapping[int, str]  # by place on the chart


def measured(
    connection: sqlite3.Connection, measure: str, chosen: Chosen, *, per: str = "cm2", names: Sequence[str] = ()
) -> Measured:
    """Return a measure of the chosen castings, with further fields of them.

    Raises
    ------
    InputError
        There are fewer than two.
    """
    column, words = PER[per] if measure == VOIDS else (None, f"{measure} (b)" if measure == "shrinkage" else measure)
    read = (measure,) if column is None else (measure, column)
    found = series(connection, KIND_OF[measure], read, chosen, names)
    rows, remarks = _usable(found, measure)
    if column is not None:
        known = [row for row in rows if row[column]]
        remarks += _left_out(len(rows) - len(known), f"without the judged {'volume' if per == 'cm3' else 'area'}")
        rows = known
    if len(rows) < LEAST:
        cure = f"tie results of '{KIND_OF[measure]}' to castings with 'bubblegrade log attach'"
        cure += ", or give --per casting" if measure == VOIDS and column is not None else ""
        raise InputError(
            f"{len(rows)} of {len(found)} castings with such a result can be used, and {LEAST} are needed"
            f"{''.join(f'; {remark}' for remark in remarks)}: {cure}"
        )
    if measure == VOIDS:
        remarks += _sizes(rows)
    values = tuple(float(row[measure]) for row in rows)
    exposures = tuple(float(row[column]) for row in rows) if column is not None else None
    return Measured(measure, words, tuple(rows), values, exposures, tuple(remarks))


def charted(
    connection: sqlite3.Connection, measure: str, chosen: Chosen, *, per: str = "cm2", base: int | None = None
) -> Charted:
    """Return the chart of a measure; its limits come from the first `base` castings, or from all.

    Raises
    ------
    InputError
        There are fewer than two castings, or fewer than `base`.
    """
    found = measured(connection, measure, chosen, per=per)
    if base is not None and not LEAST <= base <= len(found.rows):
        raise InputError(f"--base {base} is out of range: give {LEAST} to {len(found.rows)}, the castings charted")
    used = None if base is None else slice(0, base)
    if measure == VOIDS:
        chart = count_chart(found.values, found.exposures, base=used)
    else:
        chart = individuals_chart(found.values, base=used)
    numbers = tuple(int(row["number"]) for row in found.rows)
    noted = causes(connection)
    return Charted(found, chart, numbers, {at: noted[number] for at, number in enumerate(numbers) if number in noted})


def factors(connection: sqlite3.Connection, measure: str, chosen: Chosen, names: Sequence[str], per: str) -> tuple[
    Measured, tuple[Factor, ...]
]:  # fmt: skip
    """Return what each of the fields `names` did to a measure, as far as it can be told.

    Raises
    ------
    InputError
        There are fewer than two castings, or no such field.
    """
    fields = [field_named(name) for name in names]
    columns = [(field.number if field.name == "humidity" else field.name) or field.name for field in fields]
    found = measured(connection, measure, chosen, per=per, names=columns)
    levels = {
        field.name: _levels([_humidity(row[column]) if field.name == "humidity" else row[column] for row in found.rows])
        for field, column in zip(fields, columns, strict=True)
    }
    if measure == VOIDS:
        exposures = found.exposures or tuple(np.ones(len(found.values)))
        return found, rate_differences(found.values, exposures, levels)
    return found, value_differences(found.values, levels)


def _usable(found: Sequence[Row], measure: str) -> tuple[list[Row], list[str]]:
    """Return the rows that have the measure, and what was left out."""
    known = [row for row in found if row[measure] is not None]
    fit = [row for row in known if not row["unfit"]]
    remarks = _left_out(len(found) - len(known), f"without {measure}")
    remarks += _left_out(len(known) - len(fit), "with an unfit photograph")
    if KIND_OF[measure] != "shrink":
        return fit, remarks
    # One trial's exponent may be tied to all its cups: it is one number, and stands at the last of them.
    last = {row["file_sha256"]: row for row in fit}
    return [row for row in fit if last[row["file_sha256"]] is row], remarks


def _left_out(number: int, why: str) -> list[str]:
    return [f"{number} {'casting' if number == 1 else 'castings'} {why} left out"] if number else []


def _sizes(rows: Sequence[Row]) -> list[str]:
    """Return a remark where voids were not counted from the same size on."""
    for unit in ("mm", "px"):
        sizes = [row[f"smallest_{unit}"] for row in rows]
        if all(size is not None for size in sizes):
            break
    else:
        return ["the size from which voids were counted is not known of all castings"]
    low, high = min(sizes), max(sizes)
    if unit == "mm" and high > SAME_SIZE * low:
        return [f"voids were counted from {low:.3g} to {high:.3g} mm on: where that changes, so does the count"]
    if unit == "px":
        return ["sizes in mm are not known of all castings: a nearer camera counts smaller voids"]
    return []


def _humidity(share: float | None) -> str | None:
    """Return the class of a humidity."""
    if share is None:
        return None
    return f"{'up to' if share <= DAMP_SHARE else 'over'} {100.0 * DAMP_SHARE:g} % RH"


def _levels(texts: Sequence[str | None]) -> list[str | None]:
    """Return the level of each casting, as first written; large and small letters and blanks count alike."""
    first: dict[str, str] = {}
    plain = [None if text is None else " ".join(text.split()) for text in texts]
    return [None if text is None else first.setdefault(text.casefold(), text) for text in plain]


def table_rows(found: Charted) -> list[dict[str, object]]:
    """Return the chart as a table, a row a casting."""
    chart, said = found.chart, dict[int, list[str]]()
    for signal in chart.signals:
        said.setdefault(signal.at, []).append(f"{signal.rule} ({signal.source})")
    exposures = found.measured.exposures
    return [
        {
            "casting": number,
            "value": float(chart.values[at]),
            "counted": found.measured.values[at] if found.measured.measure == VOIDS else None,
            "counted_in": None if exposures is None else exposures[at],
            "centre": chart.centre,
            "low": float(chart.low[at]),
            "high": float(chart.high[at]),
            "signals": "; ".join(said.get(at, [])),
            "cause": found.causes.get(at),
        }
        for at, number in enumerate(found.numbers)
    ]
