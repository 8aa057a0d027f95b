"""A photograph that comes from a browser: counted while it comes, judged by what it is, kept whole or not at all."""

from __future__ import annotations

import os
import secrets
from collections.abc import AsyncIterator
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from typing import Final

from bubblegrade.bench.folder import BenchFolder, accepted_name
from bubblegrade.errors import InputError, PhotoError
from bubblegrade.photo.reading import Photo, read_photo
from bubblegrade.results.whole import unwritable

MOST_BYTES: Final = 256 * 1024 * 1024  # of a photograph: raw files of 150 megapixels take less
MOST_MB: Final = MOST_BYTES // (1024 * 1024)


class TooLargeError(InputError):
    """A photograph of more than MOST_BYTES."""


@dataclass(frozen=True, eq=False)
class Arrived:
    """A photograph that is kept in the folder."""

    path: Path
    photo: Photo
    known: bool  # it was in the folder already, under this name


def check_length(said: str | None, name: str) -> None:
    """Refuse a photograph that is said to be too large, before any of it is taken.

    Raises
    ------
    TooLargeError
        It is.
    """
    if said is not None and said.isascii() and said.isdigit() and int(said) > MOST_BYTES:
        raise _too_large(name)


async def received(pieces: AsyncIterator[bytes], folder: BenchFolder, given: str) -> Path:
    """Write what comes into a hidden file of the folder, with the suffix of the name `given`, and return its place.

    Raises
    ------
    InputError
        The name cannot be used, or more than MOST_BYTES come; then nothing is left.
    OutputError
        It cannot be written.
    """
    name = accepted_name(given)
    part = folder.path / f".bubblegrade-{secrets.token_hex(8)}.part{Path(name).suffix}"
    taken = 0
    try:
        with part.open("xb") as file:
            async for piece in pieces:
                taken += len(piece)
                if taken > MOST_BYTES:
                    raise _too_large(name)
                file.write(piece)
            file.flush()
            os.fsync(file.fileno())
    except OSError as error:
        part.unlink(missing_ok=True)
        raise unwritable(folder.path / name, error) from error
    except BaseException:
        part.unlink(missing_ok=True)
        raise
    return part


def kept(part: Path, folder: BenchFolder, given: str) -> Arrived:
    """Give what was received its name in the folder, if it is a photograph.

    Raises
    ------
    PhotoError
        It is none, whatever it is called; then it is gone.
    """
    name = accepted_name(given)
    try:
        photo = read_photo(part, name=name)
        there = folder.path / name
        if there.is_file() and sha256(there.read_bytes()).hexdigest() == photo.sha256:
            part.unlink()
            return Arrived(there, photo, known=True)
        there = folder.path / folder.free_name(name)
        os.replace(part, there)
    except PhotoError:
        part.unlink(missing_ok=True)
        raise
    except OSError as error:
        part.unlink(missing_ok=True)
        raise unwritable(folder.path / name, error) from error
    return Arrived(there, photo, known=False)


def _too_large(name: str) -> TooLargeError:
    return TooLargeError(f"{name} is over {MOST_MB} MB, more than any photograph takes: drop the photograph itself")
