"""A count with its noun."""

from __future__ import annotations


def count_of(number: int, noun: str) -> str:
    """Return a count with its noun.

    >>> count_of(1, "void"), count_of(0, "void")
    ('1 void', '0 voids')
    """
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"
