"""Records that wait on the disk."""

from __future__ import annotations

import gc
import sys
from pathlib import Path

import numpy as np
import pytest

from bubblegrade.errors import OutputError
from bubblegrade.results import spool as module
from bubblegrade.results.spool import Spool, Spooled


def test_records_come_back_as_they_were_in_any_order(tmp_path: Path) -> None:
    spool = Spool.begin(tmp_path)
    texts = ["a", "b" * 100_000, "c\udce9"]  # the last is a name that is not UTF-8
    places = [spool.put(text) for text in texts]
    records: Spooled[str] = Spooled(spool, tuple(reversed(places)))
    assert list(records) == texts[::-1]
    assert (len(records), records[0], list(records[1:])) == (3, texts[2], texts[1::-1])
    later = spool.put(np.array([0.1, np.nan]))  # after some were read
    np.testing.assert_array_equal(spool.get(later), [0.1, np.nan])
    assert list(records) == texts[::-1]


def test_who_goes_through_them_may_be_called_away(tmp_path: Path) -> None:
    spool = Spool.begin(tmp_path)
    places, read = (spool.put("a"), spool.put("b")), list[str]()

    def heed() -> None:
        if read:
            raise KeyboardInterrupt

    def go_through() -> None:
        for record in Spooled[str](spool, places, heed):
            read.append(record)

    with pytest.raises(KeyboardInterrupt):
        go_through()
    assert read == ["a"]


def test_nothing_is_an_ordinary_sequence(tmp_path: Path) -> None:
    assert list(Spooled(Spool.begin(tmp_path), ())) == []


@pytest.mark.skipif(sys.platform != "linux", reason="elsewhere the file may bear a name while it is open")
def test_no_name_stands_in_the_folder(tmp_path: Path) -> None:
    spool = Spool.begin(tmp_path)
    spool.put("record")
    assert list(tmp_path.iterdir()) == []


def test_a_place_that_cannot_be_written_to_is_one_line(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match="gone cannot be written"):
        Spool.begin(tmp_path / "gone")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a disk that is always full")
def test_a_full_disk_is_one_line_when_a_record_is_put_and_none_at_the_end(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(module, "TemporaryFile", lambda **_: Path("/dev/full").open("r+b"))  # noqa: SIM115
    spool = Spool.begin(tmp_path)
    with pytest.raises(OutputError, match="free some space"):
        spool.put("record")
    del spool
    gc.collect()  # an unclosed file, or a fault in closing it, would be a warning, which fails the test
