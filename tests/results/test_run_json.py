"""A run as JSON."""

from __future__ import annotations

import enum
import json
import math
from dataclasses import dataclass
from pathlib import PurePosixPath
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from bubblegrade.grading.estimate import Estimate
from bubblegrade.results.run_json import json_pieces, plain, to_json


class Fit(enum.Enum):
    """Whether a photograph can be measured."""

    GOOD = "good"


@dataclass(frozen=True, eq=False)
class Cup:
    """A record with one of everything."""

    photo: PurePosixPath
    sizes_mm: NDArray[np.float64]
    d50: Estimate
    fit: Fit
    judged: bool
    warnings: tuple[str, ...]


CUP = Cup(
    PurePosixPath("cups/a.jpg"),
    np.array([0.123456789, np.nan]),
    Estimate(1.0 / 3.0, -0.0, math.inf),
    Fit.GOOD,
    True,  # noqa: FBT003
    ("so \N{DEGREE SIGN}", 'and "so"'),
)


def test_a_record_is_written_field_by_field_in_its_order() -> None:
    assert to_json(CUP) == (
        "{\n"
        '  "photo": "cups/a.jpg",\n'
        '  "sizes_mm": [0.123457, null],\n'
        '  "d50": {\n'
        '    "value": 0.333333,\n'
        '    "low": 0.0,\n'
        '    "high": null\n'
        "  },\n"
        '  "fit": "good",\n'
        '  "judged": true,\n'
        '  "warnings": ["so \N{DEGREE SIGN}", "and \\"so\\""]\n'
        "}\n"
    )


def test_lists_of_records_stand_one_below_the_other() -> None:
    assert to_json([{"a": 1}, [], {}]) == '[\n  {\n    "a": 1\n  },\n  [],\n  {}\n]\n'


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        (np.float32(0.1), 0.1),
        (np.int16(3), 3),
        (np.True_, True),
        (None, None),
        (np.float64("nan"), None),
        ({3: (1, 2)}, {"3": [1, 2]}),
        (frozenset({"b", "a"}), ["a", "b"]),
        (np.array(["void"]), ["void"]),
        (np.array(2.5), 2.5),
        (2**70, 2**70),
    ],
)
def test_values_become_plain(value: object, expected: object) -> None:
    assert plain(value) == expected
    assert type(plain(value)) is type(expected)


@pytest.mark.parametrize("value", [object(), b"bytes", Cup, 1j])
def test_a_value_of_another_kind_is_a_broken_promise(value: object) -> None:
    with pytest.raises(AssertionError, match="a run holds records, lists, text and numbers"):
        to_json({"value": value})


def test_the_same_record_gives_the_same_bytes() -> None:
    assert to_json(CUP) == to_json(CUP)


PLAIN = st.recursive(
    st.none() | st.booleans() | st.integers() | st.text(max_size=6),
    lambda held: st.lists(held, max_size=4) | st.dictionaries(st.text(max_size=4), held, max_size=4),
    max_leaves=20,
)


@given(PLAIN)
def test_plain_values_come_back_from_json(value: Any) -> None:
    assert json.loads(to_json(value)) == value


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_numbers_come_back_to_six_digits(number: float) -> None:
    assert json.loads(to_json([number]))[0] == pytest.approx(number, rel=5.1e-6, abs=1e-320)


def test_what_comes_one_by_one_is_written_as_the_list() -> None:
    records = [{"photo": "a.jpg", "sizes_mm": [0.25, 1.0]}, {"photo": "b.jpg", "outline": {"x_px": []}}]
    pieces = list(json_pieces({"format": 1, "castings": iter(records), "none": iter([]), "files": ["run.json"]}))
    assert len(pieces) > len(records)
    assert "".join(pieces) == to_json({"format": 1, "castings": records, "none": [], "files": ["run.json"]})
