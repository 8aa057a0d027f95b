"""corrections.jsonl: what comes back, what is left as it is, and what is said of a file that cannot be used."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from bubblegrade.corrected.changes import (
    Added,
    Change,
    LeftOut,
    Redone,
    Removed,
    Renamed,
    Resized,
    Scaled,
    Step,
    Undone,
    Zone,
)
from bubblegrade.errors import InputError, OutputError
from bubblegrade.grading_run import Casting
from bubblegrade.photo.scale import Span
from bubblegrade.results.corrections import (
    CORRECTIONS_FILE,
    OtherFindsError,
    add_step,
    change_from,
    change_record,
    read_corrections,
)
from bubblegrade.voids.table import Voids

SQUARE = ((10.0, 10.0), (60.5, 10.0), (60.0, 60.25))
ALL: tuple[Change | Undone | Redone, ...] = (
    Added(12.5, 30.0, 9.25),
    Removed("v0"),
    Resized("v1", 17.5),
    Renamed("s0", "void"),
    LeftOut(SQUARE),
    Zone('Zoë "<b>"', SQUARE),
    Scaled(Span(0.0, 0.0, 100.0, 50.0, 12.5)),
    Undone(7),
    Redone(7),
)

Known = Callable[..., Casting]


def written(folder: Path, casting: Casting, *did: Change | Undone | Redone) -> tuple[Step, ...]:
    steps: tuple[Step, ...] = ()
    for number, one in enumerate(did, start=1):
        step = Step(number, "Ann", one)
        add_step(folder, casting, steps, step)
        steps = (*steps, step)
    return steps


def test_every_step_comes_back_as_it_was(tmp_path: Path, known_casting: Known) -> None:
    steps = written(tmp_path, known_casting(), *ALL)
    assert read_corrections(tmp_path, known_casting()) == steps
    assert [change_from(change_record(did)) for did in ALL] == list(ALL)


def test_where_there_is_no_file_nothing_was_corrected(tmp_path: Path, known_casting: Known) -> None:
    assert read_corrections(tmp_path, known_casting()) == ()


def test_a_line_says_who_did_what_and_how_the_find_was_before(tmp_path: Path, known_casting: Known) -> None:
    written(tmp_path, known_casting(), Resized("v1", 17.5), Resized("v1", 18.0))
    lines = [json.loads(line) for line in (tmp_path / CORRECTIONS_FILE).read_text().splitlines()]
    assert lines[0]["version"] == 1
    assert lines[1] == {
        "id": 1,
        "who": "Ann",
        "what": "resize",
        "find": "v1",
        "diameter_px": 17.5,
        "before": {"x_px": 150, "y_px": 100, "diameter_px": 16, "kind": "void"},
    }
    assert lines[2]["before"]["diameter_px"] == 17.5


def test_a_line_that_was_cut_short_counts_as_never_written(tmp_path: Path, known_casting: Known) -> None:
    steps = written(tmp_path, known_casting(), Removed("v0"), Removed("v1"))
    place = tmp_path / CORRECTIONS_FILE
    whole = place.read_bytes()
    place.write_bytes(whole[:-9])
    assert read_corrections(tmp_path, known_casting()) == steps[:1]
    add_step(tmp_path, known_casting(), steps[:1], steps[1])
    assert place.read_bytes() == whole


def test_even_a_heading_that_was_cut_short_is_written_again(tmp_path: Path, known_casting: Known) -> None:
    (tmp_path / CORRECTIONS_FILE).write_bytes(b'{"version":1,"correc')
    assert read_corrections(tmp_path, known_casting()) == ()
    steps = written(tmp_path, known_casting(), Removed("v0"))
    assert read_corrections(tmp_path, known_casting()) == steps


def test_a_newer_file_is_refused_and_left_untouched(tmp_path: Path, known_casting: Known) -> None:
    written(tmp_path, known_casting(), Removed("v0"))
    place = tmp_path / CORRECTIONS_FILE
    newer = place.read_bytes().replace(b'"version":1', b'"version":2')
    place.write_bytes(newer)
    with pytest.raises(InputError, match=r"written by a newer bubblegrade \(version 2, this one reads 1\): update"):
        read_corrections(tmp_path, known_casting())
    assert place.read_bytes() == newer


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (b"[]\n", "does not begin as corrections do"),
        (b'{"version":"x","corrections_of":"y"}\n', "does not begin as corrections do"),
        (b"\xff\xfe\n", "does not begin as corrections do"),
        (b'{"version":1,"corrections_of":"y"}\n', "about other finds than grading makes now"),
    ],
)
def test_a_file_that_is_none_of_this_casting_is_refused(
    tmp_path: Path, known_casting: Known, text: bytes, words: str
) -> None:
    (tmp_path / CORRECTIONS_FILE).write_bytes(text)
    with pytest.raises(InputError, match=words):
        read_corrections(tmp_path, known_casting())


def test_corrections_do_not_go_over_to_other_finds(tmp_path: Path, known_casting: Known) -> None:
    written(tmp_path, known_casting(), Removed("v0"))
    other = known_casting(voids=Voids.of(x_px=[9.0], y_px=[9.0], diameter_px=[9.0]))
    with pytest.raises(OtherFindsError, match="about other finds than grading makes now, and does not count: grade as"):
        read_corrections(tmp_path, other)


def test_corrections_of_other_finds_stay_and_count_when_grading_makes_those_again(
    tmp_path: Path, known_casting: Known
) -> None:
    first = written(tmp_path, known_casting(), Removed("v0"))
    before = (tmp_path / CORRECTIONS_FILE).read_bytes()
    other = known_casting(voids=Voids.of(x_px=[9.0], y_px=[9.0], diameter_px=[9.0]))
    second = written(tmp_path, other, Resized("v0", 8.0), Removed("v0"))
    assert (tmp_path / CORRECTIONS_FILE).read_bytes() == before
    assert read_corrections(tmp_path, other) == second
    assert read_corrections(tmp_path, known_casting()) == first
    (tmp_path / CORRECTIONS_FILE).unlink()
    assert read_corrections(tmp_path, other) == second
    assert read_corrections(tmp_path, known_casting()) == ()


@pytest.mark.parametrize(
    "line", [b"{}", b'{"who":"Ann","what":"burst"}', b'{"who":"Ann","what":"undo","of":"x"}', b"?"]
)
def test_a_line_that_is_no_step_is_named(tmp_path: Path, known_casting: Known, line: bytes) -> None:
    written(tmp_path, known_casting(), Removed("v0"))
    with (tmp_path / CORRECTIONS_FILE).open("ab") as file:
        file.write(line + b"\n")
    with pytest.raises(InputError, match="line 3 is no change: mend it"):
        read_corrections(tmp_path, known_casting())


def test_a_place_that_cannot_be_written_or_read_is_said(tmp_path: Path, known_casting: Known) -> None:
    with pytest.raises(OutputError, match="cannot be written"):
        add_step(tmp_path / "gone", known_casting(), (), Step(1, "Ann", Removed("v0")))
    (tmp_path / CORRECTIONS_FILE).mkdir()
    with pytest.raises(InputError, match="cannot be opened"):
        read_corrections(tmp_path, known_casting())
