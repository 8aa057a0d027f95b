"""What the picture libraries say while they decode: of spoiled data they tell on the error stream alone.

They hand out the picture all the same, with grey or black where its data is missing, which would be measured.
"""

from __future__ import annotations

import os
import re
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Final

ERROR_STREAM: Final = 2  # its number in every process
# The lines of libjpeg, libpng and libtiff through OpenCV, and of LibRaw; what else is written meanwhile is not theirs.
THEIRS: Final = re.compile(
    r"Corrupt JPEG data|Premature end of JPEG|Inconsistent progression|Warning: unknown JFIF|Unknown Adobe|Invalid SOS"
    r"|libpng (error|warning)|unknown file: |\[ ?(WARN|ERROR)|TIFF|.*Decoding error"
)
# Harmless are bytes between two parts of a JPEG; these lines mean pixels that are not what was photographed.
SPOILED: Final = re.compile(
    r"premature end of data|Premature end of JPEG|Inconsistent progression|bad Huffman code|Decoding error|Read error"
    r"|TIFF_Error|not yet in table|Unexpected end of file|data corrupted"
)


class Words:
    """What was said, complete when the decoding is over."""

    text: str = ""

    @property
    def spoiled(self) -> bool:
        """Whether the picture's data is spoiled."""
        return SPOILED.search(self.text) is not None


@contextmanager
def decoder_words() -> Iterator[Words]:
    """Hear what the libraries say within the block, instead of the terminal; lines of others are passed on."""
    words = Words()
    try:
        sys.stderr.flush()
        stream, kept = os.dup(ERROR_STREAM), tempfile.TemporaryFile()  # noqa: SIM115 - closed below
    except (OSError, AttributeError):  # a process without an error stream, or without a place for the words
        yield words
        return
    with kept:
        os.dup2(kept.fileno(), ERROR_STREAM)
        try:
            yield words
        finally:
            os.dup2(stream, ERROR_STREAM)
            os.close(stream)
            kept.seek(0)
            words.text = kept.read().decode("utf-8", errors="replace")
            others = [line for line in words.text.splitlines(keepends=True) if line.strip() and not THEIRS.match(line)]
            sys.stderr.write("".join(others))
