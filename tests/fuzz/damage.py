"""What happens to files: bits turn, ends are missing, parts stand twice, numbers are the extreme ones."""

from __future__ import annotations

import random
import struct
from dataclasses import dataclass

from hypothesis import strategies as st

EXTREMES = (0, 1, 0x7F, 0x80, 0xFF, 0x7FFF, 0xFFFF, 0x7FFFFFFF, 0x80000000, 0xFFFFFFFF)
# Texts that readers of tables, TOML and JSON have their own meanings for.
TOKENS = (
    b"\0", b"\xff\xfe", b"\xef\xbb\xbf", b'"', b"'", b"\n", b"\r", b",", b";", b"\t", b"=cmd", b"nan", b"inf", b"-1",
    b"1e999", b"null", b"true", b"[" * 2000, b"{" * 50, b"]", b"}", b"[[", b"0x", b"9" * 400, b"\xed\xa0\x80",
    b"\\ud800", b"../..", b"60psi", b"-5C", b"1e-300mm", b"\xe2\x80\xae", b"00:00", b"9999-99-99",
)  # fmt: skip


@dataclass(frozen=True)
class Edit:
    """One damage: of which kind, where as a share of the file, and with what."""

    kind: int
    at: float
    number: int


KINDS = 8


def damaged(data: bytes, edits: list[Edit], other: bytes = b"") -> bytes:
    """Return `data` with the edits done one after the other; `other` is a file that parts are taken from."""
    for edit in edits:
        data = _edited(data, edit, other or data)
    return data


def _edited(data: bytes, edit: Edit, other: bytes) -> bytes:  # noqa: PLR0911 - one a kind
    at, number = min(int(edit.at * len(data)), max(len(data) - 1, 0)), edit.number
    match edit.kind:
        case 0:  # a bit turns
            return data[:at] + bytes([data[at] ^ (1 << number % 8)]) + data[at + 1 :] if data else data
        case 1:  # the end is missing
            return data[:at]
        case 2:  # an extreme number, of 16 or 32 bits, in either order
            size, order = (("H", 2), ("I", 4))[number % 2], "<>"[number // 2 % 2]
            value = EXTREMES[number // 4 % len(EXTREMES)] & (256 ** size[1] - 1)
            return data[:at] + struct.pack(order + size[0], value) + data[at + size[1] :]
        case 3:  # a text that means something
            return data[:at] + TOKENS[number % len(TOKENS)] + data[at:]
        case 4:  # a part is missing
            return data[:at] + data[at + 1 + number % 200 :]
        case 5:  # a part stands twice
            return data[: at + number % 200] + data[at:]
        case 6:  # a part of another file
            start = number % (len(other) + 1)
            return data[:at] + other[start : start + 64] + data[at + 64 :]
        case _:  # a run of noughts or ones
            run = (b"\0", b"\xff")[number % 2] * (number % 97)
            return data[:at] + run + data[at + len(run) :]


def edits() -> st.SearchStrategy[list[Edit]]:
    """Return a strategy of one to four edits; what fails shrinks to few and early ones."""
    one = st.builds(
        Edit, st.integers(0, KINDS - 1), st.floats(0, 1, exclude_max=True, width=32), st.integers(0, 2**16 - 1)
    )
    return st.lists(one, min_size=1, max_size=4)


def drawn_edits(dice: random.Random) -> list[Edit]:
    """Return one to six edits, half of them in the first tenth of the file, where its structure stands."""
    return [
        Edit(dice.randrange(KINDS), dice.random() * dice.choice((0.1, 0.999)), dice.randrange(2**16))
        for _ in range(dice.randint(1, 6))
    ]
