"""Results on disk, tied to castings of the log: by number, or by the photographs they rest on."""

from __future__ import annotations

import hashlib
import json
import sqlite3
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from bubblegrade.corrected.history import holding
from bubblegrade.corrected.numbers import applied
from bubblegrade.errors import InputError
from bubblegrade.records.log import Photo
from bubblegrade.records.reading import castings_of, whole
from bubblegrade.records.tied import KINDS, Result, results_in
from bubblegrade.results.casting_reading import read_casting
from bubblegrade.results.casting_record import casting_record
from bubblegrade.results.corrections import CORRECTIONS_FILE, read_corrections
from bubblegrade.results.run_json import plain, to_json
from bubblegrade.show.printable import printable


@dataclass(frozen=True)
class Ties:
    """Which result belongs to which casting, and the results that belong to none."""

    tied: tuple[tuple[int, Result], ...]
    left: tuple[Result, ...]


def results_of(place: Path) -> tuple[Result, ...]:
    """Return all results of a folder, or of the record that is named; of a corrected casting as it was corrected.

    Raises
    ------
    InputError
        There is none, or a record cannot be read.
    """
    name = printable(str(place))
    by_file = {kind.record: each for each, kind in KINDS.items()}
    files = [place / file for file in by_file] if place.is_dir() else [place]
    found = [file for file in files if file.is_file() and file.name in by_file]
    if not found:
        raise InputError(f"{name} holds no result: name a folder with one of {', '.join(by_file)}")
    try:
        read = [(file, file.read_bytes()) for file in found]
    except OSError as error:
        raise InputError(f"{name} cannot be read ({error.strerror}): check your rights to it") from error
    return tuple(
        result
        for file, text in read
        for result in results_in(by_file[file.name], _as_corrected(file, text), file=printable(file.as_posix()))
    )


def _as_corrected(file: Path, text: bytes) -> bytes:
    """Return a record's text, of a casting that was corrected with the numbers that follow."""
    if file.name != KINDS["grade"].record or not file.with_name(CORRECTIONS_FILE).is_file():
        return text
    name = printable(file.as_posix())
    try:
        run = json.loads(text)
    except (ValueError, RecursionError) as error:
        raise InputError(f"{name} is no JSON ({error}): make the result again") from error
    graded, basis = read_casting(run, place=name)
    steps = holding(read_corrections(file.parent, graded))
    if not steps:
        return text
    return to_json({**run, "castings": [plain(casting_record(applied(graded, steps, basis).casting))]}).encode()


def photo_of(path: Path) -> Photo:
    """Return a photograph by name and SHA-256 of its bytes.

    Raises
    ------
    InputError
        It cannot be read.
    """
    try:
        return Photo(printable(path.name), hashlib.sha256(path.read_bytes()).hexdigest())
    except OSError as error:
        raise InputError(f"{printable(str(path))} cannot be read ({error.strerror}): check its name") from error


def ties_to(connection: sqlite3.Connection, number: int, results: Sequence[Result], photos: Sequence[str]) -> Ties:
    """Return the results that belong to one casting: those of the photographs named, else of the pieces it is known by.

    What rests on no single photograph, such as a hold test, belongs to it as a whole.

    Raises
    ------
    InputError
        There is no such casting or photograph, or several photographs and none is the casting's.
    """
    single = [result for result in results if result.photo is not None]
    names = list(dict.fromkeys(str(result.photo) for result in single))
    unknown = [photo for photo in photos if photo not in names]
    if unknown:
        raise InputError(f"--photo {unknown[0]} is not in the result: use one of {', '.join(names) or 'none'}")
    own = {row["sha256"] for row in whole(connection, number).photos}
    several = len({(result.photo, result.photo_sha256) for result in single}) > 1
    if photos:
        wanted = [result for result in single if result.photo in photos]
    else:
        pieces = {_piece_of(result) for result in single if result.photo_sha256 in own}
        wanted = [result for result in single if _piece_of(result) in pieces or not several]
    if single and not wanted:
        raise InputError(f"the result has {len(names)} photographs: say with --photo which is of casting {number}")
    return Ties(tuple((number, result) for result in results if result.photo is None or result in wanted), ())


def ties_by_photograph(connection: sqlite3.Connection, results: Sequence[Result]) -> Ties:
    """Return the results with the castings that their photographs, or others of the same piece, are known to be of."""
    known: dict[tuple[str, ...], set[int]] = {}
    for result in results:
        known.setdefault(_piece_of(result), set()).update(castings_of(connection, result.photographs))
    castings = [(result, sorted(known[_piece_of(result)])) for result in results]
    tied = tuple((number, result) for result, numbers in castings for number in numbers)
    return Ties(tied, tuple(result for result, numbers in castings if not numbers))


def _piece_of(result: Result) -> tuple[str, ...]:
    """Return what tells results of one piece, whose photographs are of one casting: its sides come together."""
    if result.piece is not None:
        return (result.file_sha256, result.piece)
    return (result.file_sha256, "", *(result.photographs or (str(result.photo),)))


def counted_twice(connection: sqlite3.Connection, number: int, photos: Iterable[Photo]) -> list[str]:
    """Return what to say of photographs of a casting that are of others too."""
    said = []
    for photo in dict.fromkeys(photos):
        others = [str(each) for each in castings_of(connection, [photo.sha256]) if each != number]
        if others:
            what = f"casting {others[0]}" if len(others) == 1 else f"castings {', '.join(others)}"
            said.append(f"casting {number}: {photo.name} is a photograph of {what} too, and counts for each of them")
    return said
