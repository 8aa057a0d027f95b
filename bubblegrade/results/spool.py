"""Records that wait on the disk, so that the memory of a run does not grow with its photographs.

They lie in a file without a name in the result folder, which goes with the process, however that ends. Where a system
has no such files, it bears the name of a write that was cut short, and is cleared as one.
"""

from __future__ import annotations

import os
import pickle
import weakref
import zlib
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryFile
from typing import IO, Any, Final, TypeVar, overload

from bubblegrade.results.whole import PART_FILES, unwritable

LEVEL: Final = 1  # of packing: a casting takes a seventh, in 2 ms; more gains little
LENGTH_BYTES: Final = 8  # before each record

Record_co = TypeVar("Record_co", covariant=True)


@dataclass(frozen=True, eq=False)
class Spool:
    """A file of records, closed when nobody holds it any more."""

    folder: Path
    _file: IO[bytes]

    @classmethod
    def begin(cls, folder: Path) -> Spool:
        """Return an empty one on the disk of `folder`.

        Raises
        ------
        OutputError
            It cannot be written to.
        """
        prefix, suffix = PART_FILES.split("*")
        try:
            file = TemporaryFile(prefix=prefix, suffix=suffix, dir=folder)  # noqa: SIM115 - open as long as the spool
        except OSError as error:
            raise unwritable(folder, error) from error
        spool = cls(folder, file)
        weakref.finalize(spool, _close, file)
        return spool

    def put(self, record: object) -> int:
        """Add a record and return its place.

        Raises
        ------
        OutputError
            It cannot be written.
        """
        packed = zlib.compress(pickle.dumps(record, pickle.HIGHEST_PROTOCOL), LEVEL)
        try:
            place = self._file.seek(0, os.SEEK_END)
            self._file.write(len(packed).to_bytes(LENGTH_BYTES, "big") + packed)
            self._file.flush()
        except OSError as error:
            raise unwritable(self.folder, error) from error
        return place

    def get(self, place: int) -> Any:
        """Return the record at a place, as it was when it was put there."""
        self._file.seek(place)
        packed = self._file.read(int.from_bytes(self._file.read(LENGTH_BYTES), "big"))
        return pickle.loads(zlib.decompress(packed))  # noqa: S301 - by this process, and nobody else has the file


@dataclass(frozen=True, eq=False)
class Spooled(Sequence[Record_co]):
    """Records of a spool in an order, each read when it is asked for."""

    spool: Spool
    places: tuple[int, ...]
    heed: Callable[[], None] | None = None  # called before each is read; it may call away by an exception

    def __len__(self) -> int:
        return len(self.places)

    @overload
    def __getitem__(self, at: int) -> Record_co: ...

    @overload
    def __getitem__(self, at: slice) -> Sequence[Record_co]: ...

    def __getitem__(self, at: int | slice) -> Record_co | Sequence[Record_co]:
        if isinstance(at, slice):
            return Spooled(self.spool, self.places[at], self.heed)
        if self.heed is not None:
            self.heed()
        record: Record_co = self.spool.get(self.places[at])
        return record


def _close(file: IO[bytes]) -> None:
    """Close the file; what a full disk kept from being written is of no use any more."""
    with suppress(OSError):
        file.close()
