"""How far cups differed in an earlier trial."""

from __future__ import annotations

from pathlib import Path

import pytest

from bubblegrade.errors import InputError
from bubblegrade.runs.measured_spread import read_cup_spread


def test_the_spread_is_read_from_the_record_of_a_trial(tmp_path: Path) -> None:
    (tmp_path / "trial.json").write_text('{"exponent": 0.33, "cup_spread": 0.071}')
    assert read_cup_spread(tmp_path / "trial.json") == 0.071


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("no json", "is not JSON: name a trial.json, or give --cup-spread"),
        ("[" * 100_000, "is not JSON"),
        ("[1]", "holds no cup_spread: name a trial.json"),
        ("{}", "holds no cup_spread"),
        ('{"cup_spread": null}', "has too few cups to know how far they differ: give --cup-spread"),
        ('{"cup_spread": "wide"}', ": cup_spread = wide is no spread of ln d, 0 to 2"),
        ('{"cup_spread": true}', ": cup_spread = True is no spread of ln d"),
        ('{"cup_spread": -0.1}', ": cup_spread = -0.1 is no spread of ln d"),
        ('{"cup_spread": NaN}', ": cup_spread = nan is no spread of ln d"),
    ],
)
def test_what_cannot_be_used_is_one_line(tmp_path: Path, text: str, line: str) -> None:
    (tmp_path / "trial.json").write_text(text)
    with pytest.raises(InputError) as caught:
        read_cup_spread(tmp_path / "trial.json")
    assert str(caught.value).removeprefix(str(tmp_path / "trial.json")).strip().startswith(line)


def test_a_file_that_is_not_there_is_one_line(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="cannot be opened"):
        read_cup_spread(tmp_path / "none.json")
