"""The trial of pressures on the bench: which photograph is of which setting, kept as a sheet, and what is asked."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any, Final

from bubblegrade.bench.castings import Kept
from bubblegrade.bench.forms import Asked, FieldError, about, keep, keep_text, kept
from bubblegrade.bench.pot_words import air_of, limits_of
from bubblegrade.bench.state import Bench
from bubblegrade.bench.trial_unlike import unlike_cups
from bubblegrade.bench.turns import Turn
from bubblegrade.errors import InputError, UnitError
from bubblegrade.pressure.atmosphere import Atmosphere, gauge
from bubblegrade.pressure.poured import Poured
from bubblegrade.pressure.trial import Question, Trial, hold_trial
from bubblegrade.results.casting_record import casting_record
from bubblegrade.results.corrections import BENCH_FOLDER
from bubblegrade.results.run_json import plain
from bubblegrade.results.tables import csv_text
from bubblegrade.runs.csv_lines import stripped_lines
from bubblegrade.runs.one_mould import body_of, through_one_surface
from bubblegrade.runs.poured import Named, check_once, check_populations, check_pressures
from bubblegrade.runs.ranges import COARSEST_MM
from bubblegrade.runs.same_cup import left_out, shown
from bubblegrade.runs.sheet import read_sheet
from bubblegrade.runs.trial import check_left, poured_cup, unit_of
from bubblegrade.units import decimal, length_mm, pressure

SHEET: Final = "trial.csv"  # in FOLDER/bench, as `bubblegrade shrink --sheet` reads it
ASKED: Final = "trial.json"
COLUMNS: Final = ("photo", "pressure", "mix")  # those that the page fills in; others of the sheet stay as they are
UP: Final = "../"  # from the sheet to the photographs
MOST_TOLERATED: Final = 1e9

Row = dict[str, str]


def sheet_rows(bench: Bench) -> dict[str, Row]:
    """Return the sheet's rows by photograph, none where there is no sheet yet.

    Raises
    ------
    InputError
        The sheet cannot be read.
    """
    place = _place(bench, SHEET)
    if not place.exists():
        return {}
    lines = [cells for _, cells in stripped_lines(place, str(place))]
    if not lines or "photo" not in lines[0]:
        raise InputError(f"{place} has no column photo: mend it, or move it away")
    rows = [dict(zip(lines[0], cells, strict=False)) for cells in lines[1:]]
    return {row["photo"].removeprefix(UP): row for row in rows if row.get("photo")}


def trial_form(bench: Bench) -> Asked:
    """Return what the page's form says as it is kept.

    Raises
    ------
    InputError
        A file of it cannot be read.
    """
    rows = sheet_rows(bench)
    assigned = [
        {"photo": name, **{column: row.get(column, "") for column in COLUMNS[1:]}} for name, row in rows.items()
    ]
    return Asked(asked_before(bench).words, tuple(assigned))


def keep_trial(bench: Bench, asked: Asked) -> None:
    """Keep what was assigned and asked.

    Raises
    ------
    InputError
        A photograph is not in the folder, or something asked cannot be used; then nothing is kept.
    OutputError
        It cannot be written.
    """
    question_of(asked)
    here = set(bench.folder.photographs)
    given = {row.get("photo", ""): row for row in asked.rows}
    for name in given:
        if name not in here:
            raise InputError(f"{name[:80] or 'a cup without a photograph'} is not on the bench: load the page again")
    before = sheet_rows(bench)
    said = {name: {**before.get(name, {}), **_said(name, row)} for name, row in given.items()}
    keep_text(_place(bench, SHEET), _csv([row for row in said.values() if row["pressure"]]))
    keep(_place(bench, ASKED), Asked(asked.words))


def asked_before(bench: Bench) -> Asked:
    """Return what was asked of the trial."""
    return kept(_place(bench, ASKED))


def trial_of(bench: Bench, turn: Turn) -> Trial:
    """Return the trial of the photographs that have a setting, with their corrections.

    Raises
    ------
    NotWantedError
        Nobody waits for it any more.
    InputError
        The cups cannot be compared, or one of them is not graded.
    """
    asked = asked_before(bench)
    question = question_of(asked)
    _check_written(sheet_rows(bench), question.air)
    # Who fills in the page sees no lines of a sheet.
    cups = [replace(cup, at=cup.stated.setting) for cup in read_sheet(_place(bench, SHEET), question.air)]
    check_once(cups)
    check_pressures(cups)
    said = check_populations(cups, across=False)
    castings = [(_casting(bench, cup), cup) for cup in turn.over("cups", cups)]
    said += unlike_cups([(cup.path.name, casting) for casting, cup in castings])
    records = [(_record(casting), cup.stated) for casting, cup in castings]
    left = left_out(shown(record, stated.setting) for record, stated in records)
    poured = [poured_cup(record, stated) for record, stated in records if record["photo"] not in left]
    check_left(poured, (), left.values())
    unit = unit_of(poured, same_setup=_same_setup(asked, poured))
    poured, curved = through_one_surface(poured, {record["photo"]: body_of(record) for record, _ in records})
    return hold_trial(poured, replace(question, unit=unit), warnings=(*said, *dict.fromkeys(left.values()), *curved))


def question_of(asked: Asked) -> Question:
    """Return what is asked of a trial, in the words of the form.

    Raises
    ------
    InputError
        Something of it cannot be used, or pot and relief valve contradict each other.
    """
    usual = Question(air_of(asked), limits_of(asked))
    return replace(usual, visible_mm=_visible(asked, usual), tolerated=_tolerated(asked, usual))


def _visible(asked: Asked, usual: Question) -> float:
    if not asked["visible"]:
        return usual.visible_mm
    with about("visible"):
        visible = length_mm(asked["visible"], what="visible from")
        if visible > COARSEST_MM:
            raise UnitError(f"visible from {asked['visible'][:20]} is over {COARSEST_MM:g} mm: write it as 0.1mm")
    return visible


def _tolerated(asked: Asked, usual: Question) -> float:
    text = asked["tolerated"]
    if not text:
        return usual.tolerated
    try:
        number = decimal(text)
    except ValueError:
        line = f"{text[:20]!r} is not a number of voids: give one above 0, such as 5"
        raise FieldError(line, "tolerated") from None
    if not 0.0 < number <= MOST_TOLERATED:
        raise FieldError(f"{text[:20]} voids are out of range: give a number above 0, such as 5", "tolerated")
    return number


def _check_written(rows: Mapping[str, Row], air: Atmosphere) -> None:
    """Refuse a pressure that cannot be used, by its photograph."""
    for name, row in rows.items():
        with about("pressure", row=name):
            gauge(pressure(row.get("pressure", ""), what=f"{name}: pressure"), air.kpa, what=f"{name}: pressure")


def _casting(bench: Bench, cup: Named) -> Kept:
    """Return a cup as it was graded and corrected."""
    name = cup.path.name
    if cup.path.parent.resolve() != bench.folder.path.resolve():
        raise InputError(f"{SHEET}: {name} is not in the folder on the bench: drop it on the tray")
    casting = bench.castings.of(name)
    if casting is None:
        raise InputError(f"{name} is not graded yet: grade it on the tray")
    return casting


def _record(casting: Kept) -> dict[str, Any]:
    """Return the record of a cup with what is counted in it now."""
    record = plain(casting_record(casting.corrected.casting))
    assert isinstance(record, dict)  # noqa: S101 - plain keeps mappings
    return record


def _same_setup(asked: Asked, cups: Sequence[Poured]) -> bool:
    """Say whether cups without a scale may be compared, refused with what the page can do about it."""
    same = asked["same_setup"] == "yes"
    if not same and all(cup.mm_per_px != cup.mm_per_px for cup in cups):  # NaN
        raise FieldError(
            "no cup has a scale, and sizes in px compare only within one set-up: grade them again with a scale, set "
            "it by two points, or say that camera, distance and zoom were the same",
            "same_setup",
        )
    return same


def _said(name: str, row: Mapping[str, str]) -> Row:
    return {"photo": f"{UP}{name}", **{column: row.get(column, "").strip() for column in COLUMNS[1:]}}


def _csv(rows: Sequence[Row]) -> str:
    """Return the sheet's text, with every column that any row has."""
    columns = list(dict.fromkeys([*COLUMNS, *(column for row in rows for column in row)]))
    return csv_text(columns, rows)


def _place(bench: Bench, name: str) -> Path:
    return bench.folder.path / BENCH_FOLDER / name
