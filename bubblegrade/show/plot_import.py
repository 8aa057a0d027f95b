"""matplotlib imported in little more than half the time: help texts of its properties, written while it loads, are not.

Nobody reads them here.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from matplotlib import artist


@contextmanager
def without_help_texts() -> Iterator[None]:
    """Keep what is imported in the block from writing the help texts; pictures come out the same."""
    written = artist.kwdoc
    artist.kwdoc = lambda artist: ""  # noqa: ARG005 - it takes the argument of what it stands for
    try:
        yield
    finally:
        artist.kwdoc = written
