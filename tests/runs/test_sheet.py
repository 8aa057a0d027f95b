"""The sheet of a trial."""

from __future__ import annotations

from pathlib import Path

import pytest

from bubblegrade.errors import InputError
from bubblegrade.pressure.atmosphere import SEA_LEVEL, Source, altitude_kpa
from bubblegrade.runs.poured import Named
from bubblegrade.runs.sheet import read_sheet


def read(folder: Path, text: str | bytes, *photos: str) -> tuple[Named, ...]:
    """Return the cups of a sheet beside these photographs."""
    for name in photos or ("a.jpg", "b.jpg"):
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text(name)
    (folder / "cups.csv").write_bytes(text.encode() if isinstance(text, str) else text)
    return read_sheet(folder / "cups.csv", SEA_LEVEL)


def fault(folder: Path, text: str | bytes) -> str:
    """Return the line that refuses a sheet, without its folder."""
    with pytest.raises(InputError) as refused:
        read(folder, text)
    (line,) = str(refused.value).splitlines()
    return line.replace(f"{folder}/", "")


def test_a_row_is_a_cup_and_its_path_counts_from_the_sheet(tmp_path: Path) -> None:
    one, other = read(tmp_path, "photo,pressure\ncups/a.jpg,0psi\ncups/b.jpg,30 psi\n", "cups/a.jpg", "cups/b.jpg")
    assert (one.path, one.stated.setting, one.at) == (tmp_path / "cups/a.jpg", "0 psi", "line 2")
    assert (other.stated.setting, other.stated.gauge.psig) == ("30 psi", pytest.approx(30.0))


def test_everything_that_a_sheet_can_say_is_read(tmp_path: Path) -> None:
    (cup,) = read(
        tmp_path,
        "photo,pressure,altitude,temperature_close,temperature_gel,mix,recipe,resin,gel_time,pressurised_after,"
        "released_after,cup\na.jpg,30psi,1500m,24C,89.6F,m1,slow pour,lot 7,20min,90s,12h,third from left\n",
    )
    stated = cup.stated
    assert stated.air.kpa == altitude_kpa(1500.0)
    assert stated.gauge_ratio == pytest.approx(30.0 * 6.894757 / altitude_kpa(1500.0))
    assert stated.warmth == pytest.approx((273.15 + 32.0) / (273.15 + 24.0))
    assert (stated.mix, stated.recipe, stated.resin, stated.cup) == ("m1", "slow pour", "lot 7", "third from left")
    assert (stated.gel_s, stated.full_pressure_s, stated.let_off_s) == (1200.0, 90.0, 43200.0)


def test_a_row_without_its_own_air_has_that_of_all(tmp_path: Path) -> None:
    one, other = read(tmp_path, "photo,pressure,barometer\na.jpg,0psi,\nb.jpg,30psi,980 hPa\n")
    assert one.stated.air is SEA_LEVEL
    assert (other.stated.air.kpa, other.stated.air.source) == (98.0, Source.BAROMETER)


def test_a_spreadsheet_s_marks_semicolons_and_decimal_commas_are_read(tmp_path: Path) -> None:
    text = "\ufeffPhoto;Pressure;Temperature close;Temperature-gel\r\na.jpg;2,5 bar gauge;24,5C;30C\r\n;;;\r\n"
    (cup,) = read(tmp_path, text)
    assert cup.stated.setting == "2,5 bar gauge"
    assert cup.stated.gauge.kpa_gauge == 250.0
    assert cup.stated.closed_k == pytest.approx(297.65)


def test_a_unit_in_the_heading_is_that_of_bare_numbers(tmp_path: Path) -> None:
    text = (
        "photo;Pressure (psi);Temperature close [C];temperature_gel (C)\na.jpg;30;24,5;30\nb.jpg;2 bar gauge;75F;86F\n"
    )
    one, other = read(tmp_path, text)
    assert one.stated.gauge.psig == pytest.approx(30.0)
    assert (one.stated.closed_k, one.stated.gelled_k) == pytest.approx((297.65, 303.15))
    assert other.stated.gauge.kpa_gauge == pytest.approx(200.0)
    assert other.stated.gelled_k == pytest.approx(303.15)


def test_tabs_and_backward_strokes_are_read(tmp_path: Path) -> None:
    (cup,) = read(tmp_path, "photo\tpressure\ncups\\a.jpg\t0psi\n", "cups/a.jpg")
    assert cup.path == tmp_path / "cups/a.jpg"


def test_a_cell_in_quotes_may_hold_a_comma(tmp_path: Path) -> None:
    (cup,) = read(tmp_path, 'photo,pressure,recipe\na.jpg,"1,5 bar gauge","warm, slow"\n')
    assert (cup.stated.gauge.kpa_gauge, cup.stated.recipe) == (150.0, "warm, slow")


HEAD = "photo,pressure,temperature_close,temperature_gel,pressurised_after,released_after,altitude,barometer\n"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "cups.csv is empty: write a heading such as photo,pressure,mix"),
        ("photo,pressure\n", "cups.csv has no row below its heading"),
        ("photo,presure\na.jpg,0psi\n", "cups.csv line 1: presure is not known of a cup: did you mean pressure?"),
        ("photo,pressure,\na.jpg,0psi,3\n", "cups.csv line 1: a column without a name is not known of a cup"),
        ("photo,mix\na.jpg,m\n", "cups.csv line 1 has no column pressure: add it"),
        ("photo,pressure,photo\na.jpg,0psi,a.jpg\n", "cups.csv line 1: photo stands there twice"),
        ("photo,pressure\na.jpg,30\n", "cups.csv line 2: pressure 30 has no unit: write 60psi"),
        ("photo,pressure\na.jpg,0psi\nb.jpg,\n", "cups.csv line 3: pressure is empty"),
        ("photo,pressure\n,0psi\n", "cups.csv line 2: photo is empty: name the photograph"),
        ("photo,pressure\ngone.jpg,0psi\n", "cups.csv line 2: gone.jpg does not exist: check the name"),
        ("photo,pressure\n.,0psi\n", "cups.csv line 2: . is a folder: name one photograph in each row"),
        ("photo,pressure\na.jpg,2,5 bar gauge\n", "cups.csv line 2 has 3 cells, the heading 2: put quotes around"),
        ("photo,pressure\na.jpg,400psi\n", "cups.csv line 2: pressure 400 psi gauge is above 300 psi gauge"),
        (f"{HEAD}a.jpg,0psi,24C\n", "line 2: temperature_close says nothing without temperature_gel: give both"),
        (f"{HEAD}a.jpg,0psi,,24C\n", "line 2: temperature_gel says nothing without temperature_close"),
        (f"{HEAD}a.jpg,0psi,24,30C\n", "line 2: temperature_close 24 has no unit: write 24C or 75F"),
        (f"{HEAD}a.jpg,0psi,24C,300C\n", "line 2: temperature_gel 300 C is no resin's"),
        (f"{HEAD}a.jpg,0psi,,,20min,5min\n", "line 2: released_after 5min is before pressurised_after 20min"),
        (f"{HEAD}a.jpg,0psi,,,20\n", "line 2: pressurised_after 20 has no unit: write 20min"),
        (f"{HEAD}a.jpg,0psi,,,,,1500m,845 hPa\n", "line 2: altitude 1500 m and barometer 84.5 kPa are both given"),
        (b"photo,pressure\n\xff.jpg,0psi\n", "cups.csv is not text in UTF-8: save the sheet as CSV in UTF-8"),
        ('photo,pressure\na.jpg,"0psi\nb.jpg,60psi\n', "cups.csv line 3 is no CSV (unexpected end of data)"),
        ('photo,pressure\na.jpg,"' + "x" * 140_000, "cups.csv line 2 is no CSV (field larger than field limit"),
    ],
)
def test_a_sheet_that_cannot_be_used_is_one_line(tmp_path: Path, text: str | bytes, words: str) -> None:
    assert words in fault(tmp_path, text)


def test_a_sheet_that_is_not_there_is_one_line(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"cups.csv cannot be opened \(No such file or directory\): check its name"):
        read_sheet(tmp_path / "cups.csv", SEA_LEVEL)
