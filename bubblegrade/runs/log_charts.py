"""Charts over the log, and one factor at a time: from chosen castings to the numbers that are drawn and compared."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import compress
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from bubblegrade.errors import InputError
from bubblegrade.grading.compared import counts_compare
from bubblegrade.quality.charts import Chart, clarity_chart, count_chart, individuals_chart
from bubblegrade.quality.factors import Factor, rate_differences, value_differences
from bubblegrade.records.fields import BY_NAME, Field, field_named, plain_name
from bubblegrade.records.reading import Chosen, causes, graded_unlike, series, verdicts
from bubblegrade.runs.log_unlike import BESIDE_WAYS, graded_by, told_if_alike, unlike_gradings

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]
Columns = Mapping[str, Sequence[Any]]  # by name, an entry a casting

VOIDS: Final = "voids"
CLARITY: Final = "clarity"
KIND_OF: Final = {VOIDS: "grade", CLARITY: "grade", "shrinkage": "shrink"}  # which result a measure is read from
BESIDE: Final = {CLARITY: (VOIDS,), "shrinkage": ("file_sha256",)}  # what is read along with a measure
# What voids are counted in: the column, and how it stands in words.
PER: Final = {
    "cm2": ("judged_area_cm2", "voids per cm2"),
    "cm3": ("judged_volume_cm3", "voids per cm3"),
    "px": ("judged_area_px", "voids per px"),
    "casting": (None, "voids per casting"),
}
FACTORS: Final = ("recipe", "resin", "mould", "humidity", "operator")  # compared unless others are named
HOLD: Final = "hold test"  # a factor that is no field: what the casting's hold test said
HOLD_NAMES: Final = ("hold", "hold_test")
# Looked at besides, since a difference may be theirs.
BESIDE_FACTORS: Final = ("lot", "pigments", "mix_method", "degas_vacuum", "release_agent", "pot", "gauge_gel", "line")
DAMP_SHARE: Final = 0.5  # relative humidity up to which makers cast urethane (maker guidance)
SAME_DIGITS: Final = 3  # quantities that agree so far are one level
_HUMIDITY: Final = f"{{}} {100.0 * DAMP_SHARE:g} % RH"
LEAST: Final = 2  # castings that make a chart
CLEAR_SHARE: Final = 0.25  # of castings without a void, above which clarity, which then stands at its end, makes none


@dataclass(frozen=True, eq=False)
class Measured:
    """Chosen castings with a number each, in the order they were cast."""

    measure: str
    words: str  # what the number is
    columns: Columns  # what was read of them
    values: Floats  # (N,) voids, or the number itself
    exposures: Floats | None  # (N,) what voids were counted in; None: every casting counts alike
    remarks: tuple[str, ...]  # what was left out, and what to know

    @property
    def sentences(self) -> tuple[str, ...]:
        """The remarks as sentences."""
        return tuple(f"{remark[:1].upper()}{remark[1:]}." for remark in self.remarks)


@dataclass(frozen=True, eq=False)
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
    if chosen.last is not None and chosen.last < LEAST:
        raise InputError(f"--last {chosen.last} leaves too few castings: {LEAST} are needed, so give a larger number")
    column, words = PER[per] if measure == VOIDS else (None, f"{measure} (b)" if measure == "shrinkage" else measure)
    unlike = graded_unlike(connection, KIND_OF[measure])
    read = [measure, *([column] if column else []), *BESIDE.get(measure, ()), *unlike]
    beside = [field for way in unlike for field in BESIDE_WAYS.get(way, ())]
    found = series(connection, KIND_OF[measure], read, chosen, dict.fromkeys((*names, *beside)))
    usable, remarks = _usable(found, measure)
    if column is not None:
        known = usable & (_numbers(found[column]) > 0)
        remarks += _left_out(usable & ~known, f"without the judged {'volume' if per == 'cm3' else 'area'}")
        usable = known
    if usable.sum() < LEAST:
        cure = f"tie results of '{KIND_OF[measure]}' to castings with 'bubblegrade log attach'"
        if column is not None:
            cure += f", graded with a scale{' and --thickness' if per == 'cm3' else ''}, or give --per casting"
        raise InputError(
            f"{usable.sum()} of {len(usable)} castings with such a result can be used, and {LEAST} are needed"
            f"{''.join(f'; {remark}' for remark in remarks)}: {cure}"
        )
    columns = found if usable.all() else {name: tuple(compress(each, usable)) for name, each in found.items()}
    if measure in (VOIDS, CLARITY):
        remarks += _sizes(columns, measure)
    remarks += unlike_gradings(columns, measure, per=per)
    exposures = None if column is None else _numbers(columns[column])
    return Measured(measure, words, columns, _numbers(columns[measure]), exposures, tuple(remarks))


def charted(
    connection: sqlite3.Connection, measure: str, chosen: Chosen, *, per: str = "cm2", base: int | None = None
) -> Charted:
    """Return the chart of a measure; its limits come from the first `base` castings, or from all.

    Raises
    ------
    InputError
        There are fewer than two castings, or fewer than `base`; or it is clarity, and many castings have no void.
    """
    found = measured(connection, measure, chosen, per=per)
    if base is not None and not LEAST <= base <= len(found.values):
        raise InputError(f"--base {base} is out of range: give {LEAST} to {len(found.values)}, the castings charted")
    used = None if base is None else slice(0, base)
    if measure == VOIDS:
        chart = count_chart(found.values, found.exposures, base=used)
    elif measure == CLARITY:
        _refuse_clear(found, used)
        chart = clarity_chart(found.values, base=used)
    else:
        chart = individuals_chart(found.values, base=used)
    numbers = tuple(found.columns["number"])
    noted = causes(connection)
    return Charted(found, chart, numbers, {at: noted[number] for at, number in enumerate(numbers) if number in noted})


def factors(connection: sqlite3.Connection, measure: str, chosen: Chosen, names: Sequence[str], per: str) -> tuple[
    Measured, tuple[Factor, ...]
]:  # fmt: skip
    """Return what each of the fields `names`, or HOLD, did to a measure, as far as it can be told.

    Raises
    ------
    InputError
        There are fewer than two castings, or no such field.
    """
    asked = [None if plain_name(name) in HOLD_NAMES else field_named(name) for name in names]  # None: the hold test
    named = [field for field in asked if field is not None]
    beside = [BY_NAME[name] for name in BESIDE_FACTORS if BY_NAME[name] not in named]
    found = measured(
        connection, measure, chosen, per=per, names=[name for field in (*named, *beside) for name in field.columns]
    )
    said = verdicts(connection, "hold")
    held = [said.get(number) for number in found.columns["number"]]
    own = {
        HOLD if field is None else field.name: held if field is None else _levels(field, found.columns)
        for field in asked
    }
    others = {field.name: _levels(field, found.columns) for field in beside}
    if None not in asked:
        others[HOLD] = held
    others |= graded_by(found.columns, measure, per=per)
    if measure == VOIDS:
        others["smallest size counted"] = [
            None if each is None else f"{each:.2g}" for each in found.columns["smallest_mm"]
        ]
        exposures = np.ones(len(found.values)) if found.exposures is None else found.exposures
        compared = rate_differences(found.values, exposures, own, beside=others)
    else:
        compared = value_differences(found.values, own, beside=others)
    return found, tuple(map(told_if_alike, compared))


def _refuse_clear(found: Measured, used: slice | None) -> None:
    """Refuse castings of which many are clear: the rest would stand out by their few voids alone.

    Raises
    ------
    InputError
        More than `CLEAR_SHARE` of those that the limits would come from have no void.
    """
    clear = (_numbers(found.columns[VOIDS]) == 0) | (found.values >= 100.0)  # noqa: PLR2004 - as clear as can be
    clear = clear[slice(None) if used is None else used]
    if clear.mean() > CLEAR_SHARE:
        raise InputError(
            f"{int(clear.sum())} of {len(clear)} castings have no void: chance alone would throw most such charts of "
            "clarity beyond their limits; chart the voids instead"
        )


def _usable(found: Columns, measure: str) -> tuple[Mask, list[str]]:
    """Return which castings have the measure, (N,), and what was left out."""
    known = ~np.isnan(_numbers(found[measure]))
    fit = known & ~(_numbers(found["unfit"]) > 0)
    remarks = _left_out(~known, f"without {measure}") + _left_out(known & ~fit, "with an unfit photograph")
    if KIND_OF[measure] == "shrink":
        # One trial's exponent may be tied to all its cups: it is one number, and stands at the last of them.
        last = {found["file_sha256"][at]: at for at in range(len(fit)) if fit[at]}
        stands = np.isin(np.arange(len(fit)), list(last.values()))
        remarks += _left_out(fit & ~stands, "of a trial that stands at a later casting")
        fit &= stands
    return fit, remarks


def _left_out(rows: Mask, why: str) -> list[str]:
    number = int(rows.sum())
    return [f"{number} {'casting' if number == 1 else 'castings'} {why} left out"] if number else []


def _sizes(columns: Columns, measure: str) -> list[str]:
    """Return a remark where voids were not counted from the same size on, and clarity not lost from it on."""
    for unit in ("mm", "px"):
        sizes = _numbers(columns[f"smallest_{unit}"])
        if not np.isnan(sizes).any():
            break
    else:
        return ["the size from which voids were counted is not known of all castings"] if measure == VOIDS else []
    low, high = float(sizes.min()), float(sizes.max())
    if not counts_compare(low, high):
        goes = "so does the count" if measure == VOIDS else "clarity does a little too"
        return [f"voids were counted from {low:.3g} to {high:.3g} {unit} on: where that changes, {goes}"]
    if unit == "px" and measure == VOIDS:
        return ["sizes in mm are not known of all castings: a nearer camera counts smaller voids"]
    return []


def _numbers(cells: Sequence[Any]) -> Floats:
    """Return a column as numbers, NaN where one is unknown."""
    return np.array(cells, np.float64)


def _levels(field: Field, columns: Columns) -> list[str | None]:
    """Return the level of a field of each casting, as first written.

    Large and small letters and blanks count alike, and so do the units of a quantity; humidity has two classes.
    """
    texts: Sequence[str | None] = columns[field.name]
    if field.name == "humidity":
        shares = columns[field.columns[-1]]
        return [
            None if share is None else _HUMIDITY.format("up to" if share <= DAMP_SHARE else "over") for share in shares
        ]
    plain_of = {text: None if text is None else " ".join(text.split()) for text in set(texts)}
    plain = [plain_of[text] for text in texts]
    keys = [None if text is None else text.casefold() for text in plain]
    if field.number is not None:
        numbers = columns[field.number]
        keys = [key if each is None else f"{each:.{SAME_DIGITS}g}" for key, each in zip(keys, numbers, strict=True)]
    first: dict[str, str] = {}
    return [
        text if key is None or text is None else first.setdefault(key, text)
        for key, text in zip(keys, plain, strict=True)
    ]


def table_columns(found: Charted) -> dict[str, Floats | NDArray[np.int_] | list[str | None]]:
    """Return the chart as the columns of a table, an entry a casting."""
    chart, said = found.chart, dict[int, list[str]]()
    for signal in chart.signals:
        said.setdefault(signal.at, []).append(f"{signal.rule} ({signal.source})")
    exposures, places = found.measured.exposures, range(len(found.numbers))
    unknown = np.full(len(places), np.nan)
    return {
        "casting": np.array(found.numbers, np.int_),
        "value": chart.values,
        "counted": found.measured.values if found.measured.measure == VOIDS else unknown,
        "counted_in": unknown if exposures is None else exposures,
        "centre": np.full(len(places), chart.centre),
        "low": chart.low,
        "high": chart.high,
        "signals": ["; ".join(said.get(at, [])) for at in places],
        "cause": [found.causes.get(at) for at in places],
    }
