"""From what the user names, files and folders, to photographs, each with its name and its marked picture's place."""

from __future__ import annotations

import hashlib
import os
import unicodedata
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import Final

from bubblegrade.errors import InputError, PhotoError
from bubblegrade.photo.reading import is_picture, is_unread_picture
from bubblegrade.results.folder import RUN_FILE, journalled_pictures
from bubblegrade.results.journal import JOURNAL_FILE
from bubblegrade.results.members import listed_files
from bubblegrade.results.run import NotGraded
from bubblegrade.show.printable import printable

MARKED: Final = "-marked.jpg"  # follows a photograph's name without its suffix
RECORDS: Final = (
    RUN_FILE,
    JOURNAL_FILE,
    "inspect.json",
    "photocheck.json",
    "regrowth.json",
)  # of results with pictures
LONGEST_NAME: Final = 255  # bytes of a file's name on the usual file systems


@dataclass(frozen=True)
class Source:
    """A photograph to grade."""

    path: Path
    name: str  # its path below the inputs' common folder, with '/'; fit to print
    marked: str  # where its marked picture goes, below the result folder


@dataclass(frozen=True)
class Sources:
    """The photographs to grade, sorted by what was named and by name, and why some of the inputs give none."""

    photographs: tuple[Source, ...]
    faults: tuple[NotGraded, ...]


def find_sources(named: Sequence[Path], *, out: Path | None, record: str = RUN_FILE, ending: str = MARKED) -> Sources:
    """Return the photographs in the files and folders `named`.

    Folders are searched with all that lies below them; files without a picture's suffix, hidden ones and the pictures
    that the `record` of an earlier result in `out`, or of one below them, lists are passed over. A picture of a kind
    that is not read is a fault, unless a photograph beside it has its name: a piece passed over in silence would be
    missed. `ending` follows a photograph's name in that of its marked picture.

    Raises
    ------
    InputError
        Two photographs would write the same file, or one would be written over.
    """
    top = _common_folder(named)
    own = frozenset[str]() if out is None else own_pictures(out / record)
    found: list[Path] = []
    faults: list[NotGraded] = []
    for path in named:
        try:
            pictures, unread = _pictures(path, own) if path.is_dir() else ([_existing(path)], [])
            found += pictures
            faults += [not_read(_source(each, top, ending).name) for each in unread]
        except PhotoError as fault:
            faults.append(NotGraded(_source(path, top, ending).name, str(fault)))
        except InputError as fault:
            faults.append(NotGraded(printable(path.as_posix()), str(fault)))
    sources = tuple(_source(path, top, ending) for path in found)
    _check_clashes(sources)
    if out is not None:
        _check_overwritten(sources, out)
    return Sources(sources, tuple(faults))


def marked_name(photo: str, ending: str = MARKED) -> str:
    """Return where a photograph's marked picture goes, below the result folder.

    >>> marked_name("cups/a.jpg")
    'cups/a-marked.jpg'
    """
    place = PurePosixPath(photo)
    return str(place.with_name(_shortened(place.stem, LONGEST_NAME - len(ending)) + ending))


def _shortened(stem: str, longest: int) -> str:
    """Return a name of at most so many bytes: what is longer is cut, and told from others by its hash."""
    written = os.fsencode(stem)
    if len(written) <= longest:
        return stem
    mark = f"~{hashlib.sha256(written).hexdigest()[:8]}"
    return written[: longest - len(mark)].decode("utf-8", errors="ignore") + mark


def _common_folder(named: Sequence[Path]) -> Path:
    """Return the folder that holds all inputs; an input that is a folder holds itself."""
    folders = [os.path.abspath(path if path.is_dir() else path.parent) for path in named]
    try:
        return Path(os.path.commonpath(folders))
    except ValueError:
        raise InputError("the photographs lie on different drives: grade one drive at a time") from None


def _existing(path: Path) -> Path:
    if not os.path.lexists(path):
        raise PhotoError(f"{printable(str(path))} does not exist: check the name")
    return path


def _pictures(folder: Path, own: frozenset[str]) -> tuple[list[Path], list[Path]]:
    """Return the photographs below `folder`, and the pictures of kinds that are not read, both sorted.

    `own` are real paths to pass over. What is not read beside a photograph of its name is a copy of that.
    """
    walked = tuple(_walked(folder))
    own |= {picture for path in walked if path.name in RECORDS for picture in own_pictures(path)}
    given = (path for path in walked if (is_picture(path) or is_unread_picture(path)) and _is_given(path, own))
    pictures = sorted(without_copies(given))
    found = [path for path in pictures if is_picture(path)]
    unread = [path for path in pictures if is_unread_picture(path)]
    if not found and not unread:
        raise InputError(f"{printable(str(folder))} holds no photograph: name a folder with JPEG, PNG or TIFF pictures")
    return found, unread


def without_copies(pictures: Iterable[Path]) -> list[Path]:
    """Return pictures without those of kinds that are not read beside a photograph of their name: copies of it."""
    pictures = list(pictures)
    if all(map(is_picture, pictures)):
        return pictures
    names = {path.with_suffix("") for path in pictures if is_picture(path)}
    return [path for path in pictures if is_picture(path) or path.with_suffix("") not in names]


def not_read(name: str) -> NotGraded:
    """Return a picture of a kind that is not read."""
    return NotGraded(name, f"{name} is not a JPEG, PNG or TIFF picture: save it as one of these")


def _walked(folder: Path) -> Iterator[Path]:
    def refuse(error: OSError) -> None:
        place = printable(str(error.filename))
        raise InputError(f"{place} cannot be searched ({error.strerror}): check its rights") from error

    for place, inner, files in os.walk(folder, onerror=refuse):
        inner[:] = sorted(name for name in inner if not name.startswith("."))
        yield from (Path(place, name) for name in files)


def _is_given(path: Path, own: frozenset[str]) -> bool:
    """Say whether a file is the user's: not hidden, and no picture of a result."""
    return not path.name.startswith(".") and path.is_file() and os.path.realpath(path) not in own


def own_pictures(record: Path) -> frozenset[str]:
    """Return the real paths of the pictures that an earlier result's record, or its journal, lists as its own."""
    names = (*listed_files(record), *journalled_pictures(record.parent))
    return frozenset(os.path.realpath(record.parent / name) for name in names)


def _source(path: Path, top: Path, ending: str) -> Source:
    below = PurePosixPath(Path(os.path.relpath(os.path.abspath(path), top)).as_posix())
    return Source(path, printable(str(below)), marked_name(str(below), ending))


def _check_clashes(sources: Iterable[Source]) -> None:
    """Refuse photographs whose pictures would be one file, also where a file system takes A and a for the same."""
    taken: dict[str, Source] = {}
    for source in sources:
        other = taken.setdefault(unicodedata.normalize("NFC", source.marked).casefold(), source)
        if other is source:
            continue
        if other.name == source.name:
            raise InputError(f"{source.name} is named twice: name it once")
        marked = printable(source.marked)
        raise InputError(f"{other.name} and {source.name} would both give {marked}: rename one of them")


def _check_overwritten(sources: Sequence[Source], out: Path) -> None:
    """Refuse to write a marked picture over a photograph."""
    given = {os.path.realpath(source.path): source for source in sources}
    for source in sources:
        lost = given.get(os.path.realpath(out / source.marked))
        if lost:
            raise InputError(
                f"{source.name} would write its marked picture over {lost.name}: name another folder with --out"
            )
