"""`bubblegrade grade --parquet`."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from pyarrow import csv, parquet

from tests.command_line import bubblegrade

Photograph = Callable[..., Path]


def test_the_tables_come_as_parquet_too(tmp_path: Path, photograph: Photograph) -> None:
    photograph(tmp_path / "cup.png")
    done = bubblegrade("grade", tmp_path / "cup.png", "--out", tmp_path / "R", "--mm-per-px", "0.05", "--parquet")
    assert done.exit_code == 0, done.output
    table, lines = parquet.read_table(tmp_path / "R" / "voids.parquet"), csv.read_csv(tmp_path / "R" / "voids.csv")
    assert table.num_rows > 0
    assert table.column("diameter_mm").to_pylist() == lines.column("diameter_mm").to_pylist()


def test_without_the_extra_nothing_is_begun(
    tmp_path: Path, photograph: Photograph, monkeypatch: pytest.MonkeyPatch
) -> None:
    photograph(tmp_path / "cup.png")
    monkeypatch.setitem(sys.modules, "pyarrow.parquet", None)
    done = bubblegrade("grade", tmp_path / "cup.png", "--out", tmp_path / "R", "--parquet")
    assert done.exit_code == 2
    assert done.stderr.splitlines() == [
        "bubblegrade: --parquet needs what writes Parquet: pip install 'bubblegrade[parquet]', or leave it out"
    ]
    assert not (tmp_path / "R").exists()


@pytest.mark.parametrize("option", [("--parquet",), ("--cluster", "tcp://a:1")])
def test_a_watch_has_neither_parquet_nor_cluster(tmp_path: Path, option: tuple[str, ...]) -> None:
    done = bubblegrade("grade", "--watch", tmp_path, "--out", tmp_path / "R", *option)
    assert done.exit_code == 2
    assert f"{option[0]} cannot be had with --watch: grade the photographs with it afterwards" in done.stderr
