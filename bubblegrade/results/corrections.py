"""corrections.jsonl: who changed what in a graded casting, one JSON line a step, each on the disk before it is shown.

The first line says the version and which finds the steps are about. A last line that was cut short, by a power cut
perhaps, counts as never written. Nothing is ever taken out: undo is a further line. Where corrections.jsonl is about
other finds, those of another grading or of another photograph under the name, it stays as it is, and the steps on these
finds stand in a file of their own beside it; they count whenever grading makes these finds.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any, Final

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
from bubblegrade.corrected.finds import Find, automatic_finds, changed_finds
from bubblegrade.corrected.history import holding
from bubblegrade.errors import InputError
from bubblegrade.grading_run import Casting
from bubblegrade.photo.scale import Span
from bubblegrade.results.run_json import plain
from bubblegrade.results.whole import unwritable, write_whole

BENCH_FOLDER: Final = "bench"  # beside photographs; the result of each, with its corrections, in a folder of its name
CORRECTIONS_FILE: Final = "corrections.jsonl"
CORRECTIONS_FILES: Final = "corrections*.jsonl"  # that one, and those of other finds
VERSION: Final = 1  # grows when a step changes its meaning
WORDS: Final[dict[str, type[Change | Undone | Redone]]] = {
    "add": Added,
    "remove": Removed,
    "resize": Resized,
    "name": Renamed,
    "leave out": LeftOut,
    "zone": Zone,
    "scale": Scaled,
    "undo": Undone,
    "redo": Redone,
}
_BEFORE: Final = ("x_px", "y_px", "diameter_px", "kind")  # of a find, as it was

Part = dict[str, Any]


class OtherFindsError(InputError):
    """There are corrections, of other finds than these alone."""


def read_corrections(folder: Path, casting: Casting) -> tuple[Step, ...]:
    """Return the steps on a casting's finds that stand in a result's folder; none where there is no file.

    Raises
    ------
    OtherFindsError
        There are steps, and all are about other finds.
    InputError
        A file cannot be read, was written by a newer version, or a line of it is no step.
    """
    place = _place(folder, casting)
    lines = _whole_lines(place)
    if not lines:
        if place.name == CORRECTIONS_FILE:
            return ()
        raise OtherFindsError(
            f"{folder / CORRECTIONS_FILE} is about other finds than grading makes now, and does not count: grade as it "
            "was graded then, or correct it anew"
        )
    _of_finds(lines[0], place)
    steps = []
    for number, line in enumerate(lines[1:], start=1):
        try:
            held = _held(line)
            steps.append(Step(number, str(held["who"]), change_from(held)))
        except (LookupError, TypeError, ValueError) as error:
            raise InputError(f"{place} line {number + 1} is no change: mend it, or move the file away") from error
    return tuple(steps)


def add_step(folder: Path, casting: Casting, steps: Sequence[Step], step: Step) -> None:
    """Add a step behind `steps`, which stand in the file, and flush it to the disk.

    Raises
    ------
    OutputError
        It cannot be written.
    """
    place = _place(folder, casting)
    line = {"id": step.number, "who": step.who, **change_record(step.did), "before": _before(casting, steps, step)}
    try:
        whole = _whole_lines(place)
        if not whole:
            write_whole(place, _line({"version": VERSION, "corrections_of": finds_sha256(casting)}))
        else:
            os.truncate(place, sum(map(len, whole)))
        with place.open("ab") as file:
            file.write(_line(line))
            file.flush()
            os.fsync(file.fileno())
    except OSError as error:
        raise unwritable(place, error) from error


def change_record(did: Change | Undone | Redone) -> Part:
    """Return a change as its line holds it."""
    word = next(word for word, kind in WORDS.items() if isinstance(did, kind))
    record = plain(asdict(did))
    assert isinstance(record, dict)  # noqa: S101 - plain keeps mappings
    return {"what": word, **record}


def change_from(record: Part) -> Change | Undone | Redone:
    """Return the change in a line, or in what a page sends; its values are checked by `check_change`.

    Raises
    ------
    KeyError, TypeError, ValueError
        It is no change.

    >>> change_from({"what": "resize", "find": "v3", "diameter_px": 12.5})
    Resized(find='v3', diameter_px=12.5)
    """
    kind = WORDS[record["what"]]
    if kind is Scaled:
        return Scaled(Span(**{name: float(value) for name, value in record["span"].items()}))
    facts: Part = {}
    for name, wanted in kind.__annotations__.items():
        value = record[name]
        if name == "corners":
            facts[name] = tuple((float(x), float(y)) for x, y in value)
        elif wanted in {"float", "int"}:
            if isinstance(value, bool) or not isinstance(value, int | float):
                raise TypeError(f"{name} is no number")
            facts[name] = float(value) if wanted == "float" else int(value)
        else:
            facts[name] = str(value)
    return kind(**facts)


def finds_sha256(casting: Casting) -> str:
    """Return a hash of what grading found: corrections are about these finds and no others."""
    held = [[find.name, find.x_px, find.y_px, find.diameter_px] for find in automatic_finds(casting)]
    text = json.dumps(plain([casting.sha256, held]), allow_nan=False)
    return hashlib.sha256(text.encode("ascii")).hexdigest()


def _before(casting: Casting, steps: Sequence[Step], step: Step) -> Part | None:
    """Return the find that a step changes, as it was."""
    name = getattr(step.did, "find", None)
    now: tuple[Find, ...] = changed_finds(casting, holding(steps)) if name else ()
    found = next((find for find in now if find.name == name), None)
    held = None if found is None else plain({column: getattr(found, column) for column in _BEFORE})
    assert held is None or isinstance(held, dict)  # noqa: S101 - plain keeps mappings
    return held


def _place(folder: Path, casting: Casting) -> Path:
    """Return the file of the steps on these finds: the usual one unless that is about others."""
    usual, sha256 = folder / CORRECTIONS_FILE, finds_sha256(casting)
    own = folder / f"corrections-{sha256[:12]}.jsonl"
    lines = _whole_lines(usual)
    mine = _of_finds(lines[0], usual) == sha256 if lines else not own.exists()
    return usual if mine else own


def _of_finds(line: bytes, place: Path) -> str:
    """Return the hash of the finds that a file is about, by its first line."""
    heading = _held(line)
    version = heading.get("version")
    if not isinstance(version, int) or heading.get("corrections_of") is None:
        raise InputError(f"{place} does not begin as corrections do: move it away, and the finds stand as graded")
    if version > VERSION:
        raise InputError(
            f"{place} was written by a newer bubblegrade (version {version}, this one reads {VERSION}): update "
            "bubblegrade; the file is left as it is"
        )
    return str(heading["corrections_of"])


def _whole_lines(place: Path) -> list[bytes]:
    """Return the lines of a file, without a last one that was cut short."""
    try:
        lines = place.read_bytes().splitlines(keepends=True)
    except FileNotFoundError:
        return []
    except OSError as error:
        raise InputError(f"{place} cannot be opened ({error.strerror}): check its rights") from error
    return lines if not lines or lines[-1].endswith(b"\n") else lines[:-1]


def _held(line: bytes) -> Part:
    try:
        held = json.loads(line)
    except (ValueError, RecursionError):
        return {}
    return held if isinstance(held, dict) else {}


def _line(content: Part) -> bytes:
    return json.dumps(content, allow_nan=False, separators=(",", ":")).encode("ascii") + b"\n"
