"""One run at a time writes a result: a lock that the system lets go of when its process dies, however it dies."""

from __future__ import annotations

import os
import sys
import weakref
from contextlib import suppress
from pathlib import Path

if sys.platform != "win32":
    import fcntl


class Lock:
    """The lock on a file made for it; let go of by `release`, or when nothing holds it any more."""

    def __init__(self, path: Path, number: int) -> None:
        self._release = weakref.finalize(self, _let_go, path, number)

    @classmethod
    def take(cls, path: Path) -> Lock | None:
        """Return the lock on `path`, which is made; None where another process has it.

        Where neither the system nor the disk knows such locks, everyone gets one.

        Raises
        ------
        OSError
            The file cannot be made.
        """
        while True:
            number = os.open(path, os.O_RDWR | os.O_CREAT | getattr(os, "O_NOFOLLOW", 0), 0o666)
            if not _is_free(number):
                os.close(number)
                return None
            if _is_at(number, path):
                return cls(path, number)
            os.close(number)  # who held it has just removed the file

    def release(self) -> None:
        """Let go of the lock and remove its file."""
        self._release()


def _is_free(number: int) -> bool:
    """Lock an open file; tell whether no other process has it locked."""
    if sys.platform != "win32":
        try:
            fcntl.flock(number, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        except OSError:
            return True  # a disk that knows no locks
    return True


def _is_at(number: int, path: Path) -> bool:
    """Tell whether an open file is still the one at `path`."""
    try:
        return os.path.samestat(os.fstat(number), os.lstat(path))
    except FileNotFoundError:
        return False


def _let_go(path: Path, number: int) -> None:
    """Remove the file while it is still locked, so that nobody waits on one that is gone."""
    if sys.platform == "win32":
        os.close(number)  # an open file cannot be removed there
    with suppress(OSError):
        path.unlink()
    if sys.platform != "win32":
        os.close(number)
