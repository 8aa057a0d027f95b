"""The sheet of a hold test, and readings as people write them."""

from __future__ import annotations

import datetime
from pathlib import Path

import pytest

from bubblegrade.errors import InputError
from bubblegrade.pressure.hold_readings import Reading
from bubblegrade.runs.hold import Photographed, readings_of
from bubblegrade.runs.hold_cells import Words, time_of, words_on_the_line
from bubblegrade.runs.hold_sheet import read_hold_sheet

BY_EYE = Photographed(None, None, 270.0)


def written(folder: Path, text: str, code: str = "utf-8") -> Path:
    """Write a sheet."""
    path = folder / "log.csv"
    path.write_bytes(text.encode(code))
    return path


def readings(folder: Path, text: str, code: str = "utf-8") -> tuple[Reading, ...]:
    """Return the readings of a sheet."""
    return readings_of(read_hold_sheet(written(folder, text, code)), BY_EYE)


def test_a_spreadsheet_s_semicolons_decimal_commas_and_mark_at_the_head_are_read(tmp_path: Path) -> None:
    text = "Time;Gauge (psi);Temperature_C;Remark\r\n0min;60;24,5;\r\n\r\n1,5h;59,5;23;lid cold\r\n"
    first, last = readings(tmp_path, text, "utf-8-sig")
    assert (first.at_s, first.celsius, last.at_s, last.remark) == (0.0, 24.5, 5400.0, "lid cold")
    assert last.dial.psig == pytest.approx(59.5)


def test_cells_may_have_their_own_units(tmp_path: Path) -> None:
    first, last = readings(
        tmp_path, "time,gauge,temperature,barometer\n08:15,4 bar gauge,75F,1013 hPa\n09:15,3.9 bar gauge,75F,\n"
    )
    assert last.at_s - first.at_s == 3600.0
    assert first.dial.kpa_gauge == pytest.approx(400.0)
    assert first.air_kpa == pytest.approx(101.3)
    assert last.air_kpa != last.air_kpa  # not read


def test_days_are_kept() -> None:
    time = time_of("2026-03-01 23:30")
    assert time.day == datetime.date(2026, 3, 1)
    assert time_of("2026-03-02T00:30").at_s - time.at_s == 3600.0


def test_readings_on_the_line_are_time_gauge_and_temperature(tmp_path: Path) -> None:
    assert words_on_the_line("0min=60psi@24C").gauge == "60psi"
    assert words_on_the_line("2h=59psi").temperature == ""
    assert words_on_the_line("2h=after.jpg@24C").photo == Path("after.jpg")
    assert words_on_the_line(f"2h={tmp_path}/after.PNG").photo == tmp_path / "after.PNG"


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("", "has no row below its heading"),
        ("time,gauge\n", "has no row below its heading"),
        ("time,gage\n0,60psi\n", "line 1: gage is not known of a reading: did you mean gauge?"),
        ("time,,gauge\n0,,60psi\n", "line 1: a column without a name is not known"),
        ("time,gauge,gauge\n0,60psi,60psi\n", "line 1: gauge stands there twice"),
        ("time,temperature\n0,24C\n", "line 1 has no column gauge"),
        ("gauge,remark\n60psi,x\n", "line 1 has no column time"),
        ("time,gauge\n0,60psi,24C\n", "line 2 has 3 cells, the heading 2"),
        ("time,gauge\n,60psi\n", "line 2: time is empty"),
        ("time,gauge\n0,\n", "line 2: gauge is empty"),
        ("time,gauge\nsoon,60psi\n", "line 2: time soon is no time of a reading"),
        ("time,gauge\n25:10,60psi\n", "line 2: time 25:10 is no time"),
        ("time,gauge\n0,nanpsi\n1h,59psi\n", "line 2: gauge nanpsi is not a finite number"),
        ("time,gauge\n0,60psi\n1h,4 bar gauge\n", "line 3: gauge 4 bar gauge is in bar gauge, the first in psi"),
        ("time,gauge,temperature\n0,60psi,24C\n1h,59psi,75F\n", "line 3: temperature 75F is in f, the first in c"),
        ("time,gauge,temperature\n0,60psi,297K\n", "line 2: temperature 297K counts in kelvin"),
        ("time,gauge\n0,60psia\n", "line 2: gauge 60psia counts from vacuum"),
        ("time,gauge\n0,60psi\n09:00,59psi\n", "line 3 is a time of day and the first is a time since the start"),
        ('time,gauge\n0,"60psi\n', "line 2 is no CSV"),
    ],
)
def test_what_cannot_be_used_is_named_with_its_line(tmp_path: Path, text: str, line: str) -> None:
    with pytest.raises(InputError) as error:
        readings(tmp_path, text)
    assert line in str(error.value)
    assert "\n" not in str(error.value)


def test_a_missing_sheet_and_another_code_are_named(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="cannot be opened"):
        read_hold_sheet(tmp_path / "no.csv")
    with pytest.raises(InputError, match="is not text in UTF-8"):
        read_hold_sheet(written(tmp_path, "time,gauge,remark\n0,60psi,\xfcber\n", "latin-1"))


@pytest.mark.parametrize("text", ["60psi", "0min=", "=60psi", "0min=@24C"])
def test_what_is_no_reading_is_refused(text: str) -> None:
    with pytest.raises(InputError, match="is no reading: write TIME=GAUGE@TEMPERATURE"):
        words_on_the_line(text)


def test_what_a_photograph_shows_needs_a_photograph() -> None:
    with pytest.raises(InputError, match="--shows is what the dial showed in the first photograph"):
        readings_of([Words("0", "60psi", at="a")], Photographed("60psi", None, 270.0))


def test_a_reading_without_a_temperature_is_named_where_others_have_one(tmp_path: Path) -> None:
    text = "time,gauge,temperature\n0min,60psi,24C\n\n2h,59.5psi,\n4h,59psi,23C\n"
    with pytest.raises(InputError, match=r"log\.csv line 4 has no temperature and others have one"):
        readings(tmp_path, text)
    on_the_line = [words_on_the_line(word) for word in ("0min=60psi@24C", "2h=59.5psi")]
    with pytest.raises(InputError, match=r"reading 2h=59\.5psi has no temperature"):
        readings_of(on_the_line, BY_EYE)
