"""The folder on the bench: its photographs, where their results stand, and which names are taken from a browser."""

from __future__ import annotations

import os
import unicodedata
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from bubblegrade.errors import InputError
from bubblegrade.photo.reading import SUFFIXES, is_picture
from bubblegrade.results.corrections import BENCH_FOLDER
from bubblegrade.results.folder import RUN_FILE
from bubblegrade.show.printable import ESCAPED, printable

TOML: Final = ".toml"
LONGEST_BYTES: Final = 180  # of a name, so that endings still fit what file systems take (255)
DRIVES_TAKE_NOT: Final = '<>:"|?*'  # which drives shared with Windows refuse; written as _


class NotHereError(InputError):
    """A photograph that is not in the folder."""


@dataclass(frozen=True)
class BenchFolder:
    """A folder of photographs."""

    path: Path

    @property
    def photographs(self) -> tuple[str, ...]:
        """The names of the photographs, sorted; those below sub-folders are not among them.

        Raises
        ------
        InputError
            The folder is gone, or cannot be read.
        """
        return self._names(is_picture)

    @property
    def tables(self) -> tuple[str, ...]:
        """The names of the TOML files, sorted: settings, and the lenses of cameras.

        Raises
        ------
        InputError
            The folder is gone, or cannot be read.
        """
        return self._names(lambda path: path.suffix.lower() == TOML)

    def shortened(self, line: str) -> str:
        """Return a sentence with the files of the folder by their names alone."""
        return line.replace(f"{self.path}{os.sep}", "")

    def table(self, name: str) -> str:
        """Return what a TOML file says; a name that is not in the listing leads nowhere.

        Raises
        ------
        NotHereError
            There is no such file.
        InputError
            It cannot be read.
        """
        if name not in self.tables:
            raise _not_here(name)
        try:
            return (self.path / name).read_text("utf-8-sig")
        except (OSError, UnicodeDecodeError) as error:
            raise InputError(f"{printable(name)} cannot be read as text in UTF-8: mend it") from error

    def photograph(self, name: str) -> Path:
        """Return the place of a photograph; a name that is not in the listing leads nowhere.

        Raises
        ------
        NotHereError
            There is no such photograph.
        """
        if name not in self.photographs:
            raise _not_here(name)
        return self.path / name

    def result(self, name: str) -> Path:
        """Return where the result of a photograph of this folder stands, or would."""
        return self.photograph(name).parent / BENCH_FOLDER / name

    def is_graded(self, name: str) -> bool:
        """Say whether a photograph of this folder has a result."""
        return (self.path / BENCH_FOLDER / name / RUN_FILE).is_file()

    def free_name(self, wanted: str) -> str:
        """Return a name for a new photograph: `wanted`, or with a number behind it where that is taken."""
        taken = {_alike(name) for name in os.listdir(self.path)}
        stem, suffix = os.path.splitext(wanted)
        number, name = 1, wanted
        while _alike(name) in taken:
            number += 1
            name = f"{stem}-{number}{suffix}"
        return name

    def _names(self, wanted: Callable[[Path], bool]) -> tuple[str, ...]:
        try:
            with os.scandir(self.path) as entries:
                return tuple(sorted(entry.name for entry in entries if self._is_file(entry, wanted)))
        except OSError as error:
            raise InputError(
                f"{printable(str(self.path))} cannot be opened ({error.strerror}): put the folder back, what was "
                "graded and corrected is in it"
            ) from error

    def _is_file(self, entry: os.DirEntry[str], wanted: Callable[[Path], bool]) -> bool:
        if entry.name.startswith(".") or not wanted(Path(entry.name)) or not entry.is_file():
            return False
        # A link may lead to another place of this folder, not out of it.
        return not entry.is_symlink() or Path(entry.path).resolve().parent == self.path.resolve()


def accepted_name(given: str) -> str:
    """Return the name under which a photograph from a browser is kept.

    Raises
    ------
    InputError
        It has no picture's suffix, is hidden or empty, too long, or holds what no name may.

    >>> accepted_name('a "clear" <cup>.jpg')
    'a _clear_ _cup_.jpg'
    """
    name = unicodedata.normalize("NFC", given)
    shown = printable(given[:LONGEST_BYTES])
    if not name or name.startswith(".") or any(sign in "/\\" or unicodedata.category(sign) in ESCAPED for sign in name):
        raise InputError(f"{shown or 'a file without a name'} is no name for a photograph: rename it")
    if len(name.encode("utf-8", errors="replace")) > LONGEST_BYTES:
        raise InputError(f"{shown} is too long a name: shorten it to {LONGEST_BYTES} bytes")
    if not is_picture(Path(name)):
        raise InputError(f"{shown} is no photograph: drop files that end in {', '.join(SUFFIXES)}")
    return "".join("_" if sign in DRIVES_TAKE_NOT else sign for sign in name)


def _not_here(name: str) -> NotHereError:
    return NotHereError(f"{printable(name[:LONGEST_BYTES])} is not on the bench: go back to the tray")


def _alike(name: str) -> str:
    """Return what file systems that mind neither case nor composition make of a name."""
    return unicodedata.normalize("NFC", name).casefold()
