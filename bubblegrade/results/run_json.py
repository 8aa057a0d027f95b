"""A run as JSON: records field by field in their declared order, so that the same run gives the same bytes."""

from __future__ import annotations

import dataclasses
import enum
import json
import math
import numbers
from collections.abc import Iterator, Mapping
from pathlib import PurePath
from typing import Final

import numpy as np

_INDENT: Final = "  "
_SINGLE: Final = frozenset({float, str, int, bool, type(None)})


def to_json(record: object) -> str:
    """Return a record as JSON text with a line end: nested records, mappings, sequences, arrays and plain values.

    Numbers have six significant digits; NaN and infinity become null. A list of plain values stands on one line.
    Mappings keep their order, sets are sorted, paths are written with '/'.

    >>> print(to_json({"count": 2, "sizes_mm": np.array([0.25, np.nan])}), end="")
    {
      "count": 2,
      "sizes_mm": [0.25, null]
    }

    Raises
    ------
    AssertionError
        If it holds a value of another kind.
    """
    return _written(plain(record), "\n") + "\n"


def json_pieces(record: Mapping[str, object]) -> Iterator[str]:
    """Yield the text of `to_json` piece by piece: what an iterator gives stands in a list, and is taken one by one.

    It gives what `plain` gives.

    >>> "".join(json_pieces({"count": 2, "sizes_mm": iter([])})) == to_json({"count": 2, "sizes_mm": []})
    True
    """
    before, line_end = "{", f"\n{_INDENT}"
    for key, held in record.items():
        yield f"{before}{line_end}{_scalar(key)}: "
        if isinstance(held, Iterator):
            yield from _listed(held, line_end)
        else:
            yield _written(plain(held), line_end)
        before = ","
    yield "\n}\n"


def plain(value: object) -> object:
    """Return `value` as dictionaries, lists, text, numbers, truth values and None; see `to_json`."""
    if type(value) in _SINGLE:  # most of what long columns hold, before what asks more
        return _plain_scalar(value)
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {field.name: plain(getattr(value, field.name)) for field in dataclasses.fields(value)}
    if isinstance(value, Mapping):
        return {str(key): plain(held) for key, held in value.items()}
    if isinstance(value, np.ndarray | set | frozenset):
        return plain(value.tolist() if isinstance(value, np.ndarray) else sorted(value))
    if isinstance(value, list | tuple):
        return [plain(held) for held in value]
    return _plain_scalar(value)


def _plain_scalar(value: object) -> object:
    """Return a single value as text, a number, a truth value or None."""
    if type(value) is float:
        return _plain_number(value)
    if isinstance(value, enum.Enum):
        return _plain_scalar(value.value)
    if value is None or isinstance(value, bool | np.bool_):
        return None if value is None else bool(value)
    if isinstance(value, str | PurePath):
        return value.as_posix() if isinstance(value, PurePath) else str(value)
    if isinstance(value, numbers.Integral):
        return int(value)
    if isinstance(value, numbers.Real):
        return _plain_number(float(value))
    raise AssertionError(f"a run holds records, lists, text and numbers: {value!r}")


def _plain_number(value: float) -> float | None:
    """Return a number in six significant digits, a zero without a sign; None where it is not finite."""
    return float(f"{value + 0.0:.6g}") if math.isfinite(value) else None


def _written(value: object, line_end: str) -> str:
    """Return a plain value as JSON; what it holds is indented one step past `line_end`."""
    inner = line_end + _INDENT
    if isinstance(value, dict) and value:
        held = [f"{_scalar(key)}: {_written(held, inner)}" for key, held in value.items()]
        return "{" + inner + f",{inner}".join(held) + line_end + "}"
    if isinstance(value, list) and any(isinstance(held, dict | list) for held in value):
        return "[" + inner + f",{inner}".join(_written(held, inner) for held in value) + line_end + "]"
    return _scalar(value)


def _listed(values: Iterator[object], line_end: str) -> Iterator[str]:
    """Yield a list of plain records, one below the other."""
    inner = line_end + _INDENT
    before, end = "[", "[]"
    for value in values:
        yield before + inner + _written(value, inner)
        before, end = ",", line_end + "]"
    yield end


def _scalar(value: object) -> str:
    """Return a plain value on one line."""
    return json.dumps(value, ensure_ascii=False, allow_nan=False)
