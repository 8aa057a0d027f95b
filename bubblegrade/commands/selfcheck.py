"""`bubblegrade selfcheck`: what is installed, what this machine gives, and whether a drawn casting comes out right."""

from __future__ import annotations

import math
import platform
from importlib.metadata import version
from typing import TYPE_CHECKING, Final

import click

if TYPE_CHECKING:
    from bubblegrade.runs.installed import Extra
    from bubblegrade.runs.selfcheck import DrawnCheck

WELL, FAILED, LACKING = 0, 1, 3  # exit statuses
WIDE: Final = 16  # columns of the names
GB: Final = 1e9
BIG_PHOTO_PX: Final = 24e6  # of a usual camera


@click.command()
@click.pass_context
def selfcheck(ctx: click.Context, /) -> None:
    """Tell whether this installation works.

    Lists what is installed and what could be, what this machine gives to a run, and grades a drawn casting whose voids
    are known.

    Exit status: 0 all well; 1 the check failed; 2 a library of the system is missing; 3 an extra is not installed.
    """
    from bubblegrade.runs.installed import extras, libraries  # noqa: PLC0415

    _line("bubblegrade", version("bubblegrade"))
    for name, found in libraries().items():
        _line(name, found)
    besides = extras()
    for extra in besides:
        _line(f"extra {extra.name}", _extra_words(extra))
    # Everything below needs the libraries that grade; where one cannot be loaded, its line ends the list.
    from bubblegrade.runs.selfcheck import checked_drawing  # noqa: PLC0415

    _machine()
    drawn = checked_drawing()
    _line("drawn casting", _drawn_words(drawn))
    if not drawn.passed:
        ctx.exit(FAILED)
    ctx.exit(WELL if all(extra.version for extra in besides) else LACKING)


def _line(name: str, words: str) -> None:
    click.echo(f"{name:{WIDE}} {words}")


def _extra_words(extra: Extra) -> str:
    if extra.version is None:
        return f"not installed; for {extra.purpose}: {extra.cure}"
    return f"{extra.package} {extra.version}, for {extra.purpose}"


def _machine() -> None:
    """Print what this machine gives to a run."""
    from bubblegrade.runs.machine import cores, fitting, free_bytes, total_bytes  # noqa: PLC0415

    most, free = cores(), free_bytes()
    _line("system", f"{platform.system()} {platform.machine()}, with the libraries that OpenCV needs of it")
    _line("cores", str(most))
    _line("memory", f"{_gb(free)} free of {_gb(total_bytes())}")
    jobs = max(1, fitting([BIG_PHOTO_PX] * most, free))
    _line("at once", f"{jobs} photograph{'' if jobs == 1 else 's'} of {BIG_PHOTO_PX / 1e6:.0f} megapixels")


def _gb(held: float) -> str:
    return f"{held / GB:.1f} GB" if math.isfinite(held) else "an amount that the system does not tell"


def _drawn_words(drawn: DrawnCheck) -> str:
    from bubblegrade.runs.selfcheck import MOST_OFF_SHARE  # noqa: PLC0415

    found = f"{drawn.found} of {drawn.drawn} voids found"
    if drawn.passed:
        return f"right: {found}, diameters within {drawn.largest_off_share:.1%}"
    if math.isnan(drawn.largest_off_share):
        return f"WRONG: {found}, not those drawn: install bubblegrade anew"
    return (
        f"WRONG: {found}, a diameter is {drawn.largest_off_share:.1%} off, over {MOST_OFF_SHARE:.0%}: install "
        "bubblegrade anew"
    )
