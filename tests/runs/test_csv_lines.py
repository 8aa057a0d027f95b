"""What the sheets of all commands have in common: the photographs that they name, and the columns that they have."""

from __future__ import annotations

from collections.abc import Callable, Sized
from functools import partial
from pathlib import Path

import pytest

from bubblegrade.errors import InputError
from bubblegrade.pressure.atmosphere import SEA_LEVEL
from bubblegrade.runs.csv_lines import MOST_SAID
from bubblegrade.runs.hold_sheet import read_hold_sheet
from bubblegrade.runs.log_sheet import read_castings
from bubblegrade.runs.pieces import read_pieces
from bubblegrade.runs.sheet import read_sheet

READERS = {  # by the columns of a sheet with the photograph last, and a row's cells before it
    "pressure,photo": ("30psi,", partial(read_sheet, air=SEA_LEVEL)),
    "piece,photo": ("jig 7,", read_pieces),
    "resin,photo": ("Clear One,", read_castings),
    "time,photo": ("2h,", read_hold_sheet),
}


@pytest.mark.parametrize(("heading", "cells", "read"), [(heading, *how) for heading, how in READERS.items()])
def test_all_photographs_that_do_not_exist_are_said_at_once(
    tmp_path: Path, heading: str, cells: str, read: Callable[[Path], object]
) -> None:
    (tmp_path / "here.jpg").touch()
    sheet = tmp_path / "s.csv"

    def fault(*photos: str) -> str:
        sheet.write_text("\n".join([heading, *(cells + photo for photo in photos)]), "utf-8")
        with pytest.raises(InputError) as caught:
            read(sheet)
        return str(caught.value)

    assert fault("here.jpg", "gone.jpg") == (
        f"{sheet} line 3: gone.jpg does not exist: check the name, which counts from the sheet's folder"
    )
    assert fault("gone.jpg", "here.jpg", "lot\\lost.jpg") == (
        f"{sheet}: 2 rows name photographs that do not exist: gone.jpg (line 2), lot\\lost.jpg (line 4): check the "
        "names, which count from the sheet's folder"
    )
    many = fault(*(f"{number}.jpg" for number in range(100)))
    assert "100 rows name photographs that do not exist: 0.jpg (line 2)" in many
    assert f"{MOST_SAID - 1}.jpg (line {MOST_SAID + 1}) and {100 - MOST_SAID} more: check the names" in many
    assert f" {MOST_SAID}.jpg" not in many


@pytest.mark.parametrize(("heading", "cells", "read"), [(heading, *how) for heading, how in READERS.items()])
def test_columns_that_a_spreadsheet_leaves_empty_at_the_right_end_are_no_columns(
    tmp_path: Path, heading: str, cells: str, read: Callable[[Path], Sized]
) -> None:
    (tmp_path / "here.jpg").touch()
    (tmp_path / "s.csv").write_text(f"{heading}\n{cells}here.jpg\n", "utf-8")
    (tmp_path / "wide.csv").write_text(f"{heading},, \r\n,,,\r\n{cells}here.jpg,,\r\n", "utf-8")
    (tmp_path / "note.csv").write_text(f"{heading},,\n{cells}here.jpg,,seen\n", "utf-8")
    assert len(read(tmp_path / "wide.csv")) == len(read(tmp_path / "s.csv")) == 1
    with pytest.raises(InputError, match="a column without a name is"):
        read(tmp_path / "note.csv")
