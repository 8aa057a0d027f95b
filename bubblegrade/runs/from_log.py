"""A piece's earlier photograph, known again by its bytes from what the log holds of its casting."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from pathlib import Path

from bubblegrade.errors import InputError
from bubblegrade.photo.reading import is_picture
from bubblegrade.records.opening import opened
from bubblegrade.records.reading import whole


def earlier_and_later(named: Sequence[Path], casting: int, log: Path) -> tuple[Path, Path]:
    """Return the earlier photograph of a casting and the later one.

    Parameters
    ----------
    named
        Photographs and folders: the last is the later photograph, the earlier one is looked for among the others.
    casting
        Its number in the log.
    log
        The log's file.

    Raises
    ------
    InputError
        The casting is not in the log, has no photograph there, or not one alone of those named is it.
    """
    if not named or not named[-1].is_file():
        raise InputError("no later photograph is named: name it last, after the folder that holds the earlier one")
    *places, later = named
    with opened(log) as connection:
        photos = whole(connection, casting).photos
    if not photos:
        raise InputError(f"casting {casting} has no photograph in the log: name the earlier one, without --casting")
    held = {str(photo["sha256"]) for photo in photos}
    wanted = held - {_sha256(later)}
    found: dict[str, Path] = {}
    for path in (path for place in places for path in sorted(_pictures(place))):
        digest = _sha256(path)
        if digest in wanted:
            found.setdefault(digest, path)
    if len(found) > 1:
        which = ", ".join(map(str, found.values()))
        raise InputError(f"casting {casting} has several of the photographs named: name one of {which}")
    if found:
        return next(iter(found.values())), later
    names = ", ".join(str(photo["name"]) for photo in photos)
    if wanted != held:
        raise InputError(
            f"{later} is itself one of casting {casting} ({names}) and none named before it is another: name the later "
            "photograph last, after the earlier one or the folder that holds it"
        )
    raise InputError(
        f"none of the photographs named is one of casting {casting} ({names}): name the folder that holds it first"
    )


def _sha256(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def _pictures(place: Path) -> list[Path]:
    """Return a photograph, or all those in a folder."""
    if place.is_file():
        return [place]
    return [path for path in place.rglob("*") if path.is_file() and is_picture(path)]
