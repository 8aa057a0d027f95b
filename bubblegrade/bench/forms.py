"""What a form of the page asks: as it is sent, and as it is kept in the folder until it is changed."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, Final

from starlette.requests import Request

from bubblegrade.bench.labels import said_here
from bubblegrade.bench.state import limited_body
from bubblegrade.errors import InputError
from bubblegrade.results.run_json import to_json
from bubblegrade.results.whole import unwritable, write_whole

FORMAT: Final = 1  # of the kept file; grows when a field goes or changes its meaning
MOST_ROWS: Final = 2000
NO_FAULT: Final[dict[str, Any]] = {"fault": "", "fields": (), "row": ""}  # what is told where there is none


class FieldError(InputError):
    """What is asked cannot be used: `fields` are those it is about, `row` the photograph of theirs, or its place."""

    def __init__(self, line: str, *fields: str, row: str = "") -> None:
        super().__init__(line)
        self.fields, self.row = fields, row


@contextmanager
def about(*fields: str, row: str = "", at: str = "") -> Iterator[None]:
    """Say of an error inside which fields it is about, and before its line where they stand.

    Raises
    ------
    FieldError
        There is an error inside.
    """
    try:
        yield
    except InputError as error:
        raise FieldError(f"{at}: {error}" if at else str(error), *fields, row=row) from error


def fault_record(error: Exception) -> dict[str, Any]:
    """Return what a page is told of an error: the line, in the page's labels, and the fields that it is about."""
    fields, row = (error.fields, error.row) if isinstance(error, FieldError) else ((), "")
    return {"fault": said_here(str(error)), "fields": fields, "row": row}


@dataclass(frozen=True)
class Asked:
    """The fields of a form by name, and its rows where it has any; what is not said is empty."""

    words: Mapping[str, str] = field(default_factory=dict)
    rows: tuple[Mapping[str, str], ...] = ()
    seen: str = ""  # version that the page had loaded; empty: whatever is kept is written over

    def __getitem__(self, name: str) -> str:
        """Return what a field says, without blanks around it."""
        return self.words.get(name, "").strip()


async def sent(request: Request) -> Asked:
    """Return the form that comes with a request.

    Raises
    ------
    InputError
        It is none.
    """
    try:
        held = json.loads(await limited_body(request))
        return replace(_asked(held), seen=str(held.get("seen", "")))
    except (LookupError, TypeError, ValueError, AttributeError, RecursionError) as error:
        raise InputError("what came is no form of this page: load it again") from error


def kept(place: Path) -> Asked:
    """Return what was asked before; an empty form where nothing was.

    Raises
    ------
    InputError
        The file was not written by this page, or by a newer version of it.
    """
    try:
        held = json.loads(place.read_bytes())
        if held["format"] != FORMAT:
            raise InputError(f"{place} has format {held['format']}, this version reads {FORMAT}: use the newer version")
        return _asked(held)
    except FileNotFoundError:
        return Asked()
    except (OSError, LookupError, TypeError, ValueError, AttributeError, RecursionError) as error:
        raise InputError(f"{place} cannot be read as the bench wrote it: move it away") from error


def keep(place: Path, asked: Asked) -> None:
    """Keep what is asked.

    Raises
    ------
    OutputError
        It cannot be written.
    """
    keep_text(place, to_json({"format": FORMAT, "words": asked.words, "rows": asked.rows}))


def keep_text(place: Path, text: str) -> None:
    """Write a file of the bench whole, its folder made where it is missing.

    Raises
    ------
    OutputError
        It cannot be written.
    """
    try:
        place.parent.mkdir(exist_ok=True)
        write_whole(place, text.encode("utf-8", errors="backslashreplace"))
    except OSError as error:
        raise unwritable(place, error) from error


def _asked(held: Any) -> Asked:
    rows = held.get("rows", [])
    if not isinstance(rows, list) or len(rows) > MOST_ROWS:
        raise TypeError("rows are no list")
    return Asked(_texts(held["words"]), tuple(_texts(row) for row in rows))


def _texts(held: Any) -> dict[str, str]:
    if not isinstance(held, dict) or not all(isinstance(text, str) for text in held.values()):
        raise TypeError("no texts by name")
    return held
