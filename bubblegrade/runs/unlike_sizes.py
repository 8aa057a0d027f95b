"""Photographs of unlike sizes under one scale that was stated in px: true of crops, wrong of copies made smaller."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from bubblegrade.grading.record import Request


def stated_in_px(request: Request) -> str | None:
    """Return the option that states one scale in px for all photographs; None without one."""
    if request.mm_per_px is not None:
        return "--mm-per-px"
    return None if request.span is None else "--span"


def size_of(record: dict[str, Any]) -> tuple[int, int]:
    """Return the columns and rows of the photograph of a casting in run.json."""
    return int(record["width_px"]), int(record["height_px"])


def unlike_sizes(option: str | None, sizes_px: Iterable[tuple[int, int]]) -> tuple[str, ...]:
    """Return what to say of photographs of several sizes, (columns, rows) either way up, under one `option`.

    >>> unlike_sizes("--mm-per-px", [(40, 30), (30, 40)]), unlike_sizes(None, [(40, 30), (20, 15)])
    ((), ())
    """
    sizes = sorted({(max(size), min(size)) for size in sizes_px}) if option is not None else []
    if len(sizes) < 2:  # noqa: PLR2004
        return ()
    (narrow, low), (wide, high) = sizes[0], sizes[-1]
    return (
        f"{option} was taken for photographs of {narrow} x {low} px to {wide} x {high} px: right where they were "
        "cropped, wrong where they were made smaller: give each size its own scale",
    )
