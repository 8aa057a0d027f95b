"""Results as the log ties them to a casting: a record of any kind, with the numbers that lists and charts need.

A kind is known by its record's file. What is read is looked for by name, and is unknown where a record lacks it.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any, Final

from bubblegrade.errors import InputError

Part = dict[str, Any]


@dataclass(frozen=True)
class Result:
    """One result of one casting."""

    kind: str  # of `KINDS`
    file: str  # where its record was read
    file_sha256: str  # of the record's file, or of what corrections made of it
    text: str  # the record, or its part for this photograph, as JSON
    photo: str | None = None
    photo_sha256: str | None = None
    verdict: str | None = None
    unfit: bool | None = None
    numbers: Mapping[str, float | None] = field(default_factory=dict)  # by column, see `schema.NUMBERS`
    photographs: tuple[str, ...] = ()  # SHA-256 of all photographs that it rests on
    piece: str | None = None  # which the photograph shows, where the record says so


def results_in(kind: str, text: bytes, *, file: str) -> tuple[Result, ...]:
    """Return the results in the text of a record of this kind, one a photograph where it has them apart.

    Raises
    ------
    InputError
        It is no such record.
    """
    try:
        record = json.loads(text)
    except (ValueError, RecursionError) as error:
        raise InputError(f"{file} is no JSON ({error}): make the result again") from error
    if not isinstance(record, dict):
        raise InputError(f"{file} is no record of a result: make the result again")
    found = tuple(KINDS[kind].read(record))
    if not found:
        raise InputError(f"{file} holds no result: make it again")
    digest = hashlib.sha256(text).hexdigest()
    return tuple(Result(kind=kind, file=file, file_sha256=digest, **each) for each in found)


def numbers_in(kind: str, text: str) -> Mapping[str, float | None]:
    """Return the numbers of a result, by column, from the `text` that is kept of it.

    Raises
    ------
    ValueError
        It is no JSON.
    """
    record = json.loads(text)
    if not isinstance(record, dict):
        return {}
    parts = KINDS[kind].read({**record, "castings": [record["casting"]]} if "casting" in record else record)
    numbers: dict[str, float | None] = next(parts, {}).get("numbers", {})
    return numbers


def _graded(record: Part) -> Iterator[Part]:
    """Yield the parts of run.json, one a photograph, each with the version and what was asked."""
    for part in _parts(record, "castings"):
        counts, clarity, judged = part.get("counts", {}), part.get("clarity", {}), part.get("judged", {})
        yield {
            **_photograph(part),
            "text": _json({**_whole(record), "casting": part}),
            "verdict": clarity.get("word") or None,
            "unfit": bool(part.get("unfit")),
            "numbers": {
                **_limits("voids", counts.get("voids")),
                "judged_area_px": _number(judged.get("area_px")),
                "judged_area_cm2": _value(judged.get("area_cm2")),
                "judged_volume_cm3": _value(judged.get("volume_cm3")),
                "smallest_px": _number(part.get("smallest_countable_px")),
                "smallest_mm": _number(part.get("smallest_countable_mm")),
                "clarity": _number(clarity.get("score")),
                "clarity_low": _number(clarity.get("low")),
                "clarity_high": _number(clarity.get("high")),
            },
        }


def _shrunk(record: Part) -> Iterator[Part]:
    """Yield the whole of trial.json: its exponent belongs to all its cups together."""
    ends = {"": "exponent", "_low": "exponent_low", "_high": "exponent_high"}
    yield {
        "text": _json(record),
        "verdict": record.get("verdict"),
        "numbers": {f"shrinkage{end}": _number(record.get(name)) for end, name in ends.items()},
        "photographs": tuple(cup["sha256"] for cup in _parts(record, "cups") if cup.get("sha256")),
    }


def _judged(record: Part) -> Iterator[Part]:
    """Yield what any other record says: a verdict a photograph where it lists them, else one verdict."""
    listed = next((parts for name in ("castings", "photographs") if (parts := _parts(record, name))), [])
    for part in listed:
        yield {
            **_photograph(part),
            "text": _json({**_whole(record), "casting": part}),
            "verdict": part.get("verdict") or record.get("verdict"),
            "piece": part.get("piece"),
        }
    if not listed:
        yield {"text": _json(record), "verdict": record.get("verdict")}


def _compared(record: Part) -> Iterator[Part]:
    """Yield what regrowth.json says of two photographs of one piece."""
    sides = [record[side] for side in ("earlier", "later") if isinstance(record.get(side), dict)]
    photographs = tuple(side["sha256"] for side in sides if side.get("sha256"))
    yield {"text": _json(record), "verdict": record.get("verdict"), "photographs": photographs}


@dataclass(frozen=True)
class Kind:
    """A kind of result."""

    record: str  # the file of its record
    read: Callable[[Part], Iterator[Part]]


KINDS: Final = {
    "grade": Kind("run.json", _graded),
    "inspect": Kind("inspect.json", _judged),
    "regrowth": Kind("regrowth.json", _compared),
    "shrink": Kind("trial.json", _shrunk),
    "hold": Kind("hold.json", _judged),
}


def _parts(record: Part, name: str) -> list[Part]:
    """Return the parts in a list of the record; none where it is no list."""
    listed = record.get(name)
    return [part for part in listed if isinstance(part, dict)] if isinstance(listed, list) else []


def _whole(record: Part) -> Part:
    """Return what a record says of all its photographs."""
    return {name: record[name] for name in ("format", "version", "request", "settings", "limits") if name in record}


def _photograph(part: Part) -> Part:
    """Return which photograph a part is of."""
    photo, digest = part.get("photo"), part.get("sha256")
    return {"photo": photo, "photo_sha256": digest, "photographs": (digest,) if digest else ()}


def _limits(name: str, estimate: Any) -> dict[str, float | None]:
    """Return an estimate as three columns."""
    held = estimate if isinstance(estimate, dict) else {}
    return {name: _value(held), f"{name}_low": _number(held.get("low")), f"{name}_high": _number(held.get("high"))}


def _value(estimate: Any) -> float | None:
    return _number(estimate.get("value")) if isinstance(estimate, dict) else None


def _number(value: Any) -> float | None:
    return value if isinstance(value, int | float) and not isinstance(value, bool) else None


def _json(part: Part) -> str:
    return json.dumps(part, ensure_ascii=False, separators=(",", ":"))
