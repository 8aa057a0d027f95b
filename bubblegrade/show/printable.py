"""Text of the user's on a terminal: nothing in it is acted on."""

from __future__ import annotations

import unicodedata
from typing import Final

ESCAPED: Final = ("Cc", "Cs", "Zl", "Zp")  # Unicode categories that a terminal acts on or cannot print
# What turns the direction of writing (Unicode Annex 9): a name shown backwards passes for another one.
TURNING: Final = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")


def printable(text: str) -> str:
    r"""Return text that prints as one line; what a terminal would act on becomes an escape.

    >>> printable("a\nb")
    'a\\nb'
    """
    if text.isprintable():
        return text
    return "".join(
        sign.encode("unicode_escape").decode("ascii")
        if sign in TURNING or unicodedata.category(sign) in ESCAPED
        else sign
        for sign in text
    )
