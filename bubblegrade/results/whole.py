"""A file written whole or not at all, and the line that says why a place cannot be written."""

from __future__ import annotations

import errno
import os
import secrets
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO, Final

from bubblegrade.errors import OutputError

PART_FILES: Final = ".bubblegrade-*.part"  # what a write leaves that is killed before it is done

_OTHER_FOLDER: Final = "name another folder with --out"
_CURES: Final = {
    errno.ENOSPC: "free some space or name a folder on another disk with --out",
    errno.EDQUOT: "free some space or name a folder on another disk with --out",
    errno.EACCES: "name a folder that you may write to with --out",
    errno.EPERM: "name a folder that you may write to with --out",
    errno.EROFS: "name a folder that can be written to with --out",
}


def write_whole(target: Path, data: bytes) -> None:
    """Write `data` beside `target`, flush it to the disk and rename it; on any fault nothing of it is left."""
    with whole_file(target) as file:
        file.write(data)


@contextmanager
def whole_file(target: Path) -> Iterator[BinaryIO]:
    """Open a file beside `target` to write to; at the end of the block it is flushed to the disk and renamed."""
    part = target.with_name(part_name())
    try:
        with part.open("xb") as file:
            yield file
            file.flush()
            os.fsync(file.fileno())
        os.replace(part, target)
    except BaseException:
        part.unlink(missing_ok=True)
        raise


def part_name() -> str:
    """Return a name that no other file has."""
    return PART_FILES.replace("*", secrets.token_hex(8))


def unwritable(place: Path, error: OSError | ValueError) -> OutputError:
    """Return the error for a place that cannot be written, with the system's reason and the cure for it."""
    number = error.errno if isinstance(error, OSError) else None
    reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
    return OutputError(f"{place} cannot be written ({reason}): {_CURES.get(number or 0, _OTHER_FOLDER)}")
