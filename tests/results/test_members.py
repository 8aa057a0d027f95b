"""A record read member by member; what Python's json module reads at once is the measure."""

from __future__ import annotations

import json
import tracemalloc
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bubblegrade.results import members as module
from bubblegrade.results.members import listed_files, members

PLAIN = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | st.text(max_size=6),
    lambda held: st.lists(held, max_size=4) | st.dictionaries(st.text(max_size=4), held, max_size=4),
    max_leaves=12,
)
RECORDS = st.dictionaries(st.sampled_from(["format", "castings", "files", "ü"]), PLAIN, max_size=4)


@pytest.fixture
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return where a record is written; a few signs of it are read at once, so that every value is cut."""
    monkeypatch.setattr(module, "PIECE", 3)
    return tmp_path / "run.json"


@pytest.fixture(scope="module")
def cut(tmp_path_factory: pytest.TempPathFactory) -> Any:
    """Do as `place` for tests of many records."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(module, "PIECE", 3)
        yield tmp_path_factory.mktemp("members") / "run.json"


def together(place: Path) -> dict[str, Any]:
    """Return what the members make up."""
    found: dict[str, Any] = {}
    castings = []
    for name, value in members(place):
        found[name] = value
        if name == "castings":
            castings.append(value)
    return found | ({"castings": castings} if "castings" in found else {})


@settings(max_examples=60)
@given(record=RECORDS, indent=st.none() | st.integers(0, 2), castings=st.lists(PLAIN, min_size=1, max_size=3))
def test_the_members_are_those_of_the_whole(
    cut: Path, record: dict[str, Any], indent: int | None, castings: list[Any]
) -> None:
    record = {**record, "castings": castings}
    cut.write_text(json.dumps(record, indent=indent, ensure_ascii=False), "utf-8")
    assert together(cut) == record


@settings(max_examples=60)
@given(record=RECORDS, data=st.data())
def test_text_that_was_changed_is_refused_where_it_is_no_json(cut: Path, record: dict[str, Any], data: Any) -> None:
    text = json.dumps(record)
    at = data.draw(st.integers(0, len(text)))
    spoiled = text[:at] + data.draw(st.sampled_from(["", "]", "}", ",", "[", "1", '"'])) + text[at + 1 :]
    cut.write_text(spoiled, "utf-8")
    try:
        whole = json.loads(spoiled)
    except ValueError:
        whole = None
    if isinstance(whole, dict):
        list(members(cut))
    else:
        with pytest.raises(ValueError, match=r"."):
            list(members(cut))


@pytest.mark.parametrize("text", ["", "[]", "1", "{", "{}{}", "{1: 2}", '{"a" 1}', '{"castings": [1 2]}', "{,}"])
def test_what_is_no_object_is_refused(place: Path, text: str) -> None:
    place.write_text(text)
    with pytest.raises(ValueError, match=r"."):
        list(members(place))
    assert listed_files(place) == ()


def test_the_memory_holds_one_casting_at_a_time(tmp_path: Path) -> None:
    record = tmp_path / "run.json"
    record.write_text(json.dumps({"castings": [{"sizes": list(range(1000, 11_000))}] * 30}))

    def peak(read: Callable[[], object]) -> int:
        tracemalloc.start()
        read()
        _, most = tracemalloc.get_traced_memory()
        tracemalloc.stop()
        return most

    at_once = peak(lambda: json.loads(record.read_text()))
    assert peak(lambda: sum(1 for _ in members(record))) < at_once / 6


def test_files_outside_the_folder_are_not_listed(place: Path) -> None:
    names = ["a-marked.jpg", "cups/b.jpg", "../c.jpg", "/d.jpg", 3, "nul\0.jpg"]
    place.write_text(json.dumps({"castings": [{}], "files": names}))
    assert listed_files(place) == ("a-marked.jpg", "cups/b.jpg")
