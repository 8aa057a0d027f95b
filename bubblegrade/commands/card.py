"""`bubblegrade card`: a scale card to print."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

from bubblegrade.errors import InputError
from bubblegrade.units import length_mm

if TYPE_CHECKING:
    from bubblegrade.photo.card import Card

USUAL_WINDOW: Final = "60mm"


@click.command()
@click.option("--paper", metavar="a4|letter|strip", default="a4", help="Sheet to print on; strip is 100 mm long.  [a4]")
@click.option("--window", metavar="LENGTH", help=f"Side of the window for the casting.  [{USUAL_WINDOW}]")
@click.option("--film", is_flag=True, help="For clear film: light comes through around the marks.")
@click.option(
    "--out",
    metavar="FILE_OR_DIR",
    type=click.Path(path_type=Path),
    help="Where to: card.pdf, card.svg, or a folder for both.  [required]",
)
@click.option("--replace", is_flag=True, help="Replace an earlier file.")
def card(paper: str, window: str | None, *, film: bool, out: Path | None, replace: bool) -> None:
    """Write a scale card to print, lay on the light and photograph with the casting.

    Print it at actual size and measure its 100 mm line. On paper, cut its window out; on film, nothing needs cutting.
    """
    if out is None:
        raise InputError("no file for the card is named: add --out card.pdf")
    if window is not None and paper == "strip":
        raise InputError(f"--window {window} says nothing of a strip, which has none: leave one of them out")
    suffix = out.suffix.lower()
    if suffix and suffix not in (".pdf", ".svg") and not out.is_dir():
        raise InputError(f"--out {out} is neither PDF nor SVG: name it card.pdf or card.svg, or name a folder")
    wanted_mm = length_mm(window or USUAL_WINDOW, what="--window")
    # Everything below needs the libraries that draw, which help and slips of the pen need not wait for.
    from bubblegrade.photo.card import make_card  # noqa: PLC0415

    made = make_card(paper.lower(), window_mm=wanted_mm, film=film)
    for place in _write(made, out, replace=replace):
        click.echo(str(place))
    if made.layout.hole and made.layout.window_mm != wanted_mm:
        click.echo(f"The window is {made.layout.window_mm:g} mm: full squares of {made.layout.square_mm:g} mm.")


def _write(made: Card, out: Path, *, replace: bool) -> list[Path]:
    """Write the card's files and return where they are."""
    from bubblegrade.results.folder import ResultFolder  # noqa: PLC0415
    from bubblegrade.show.card_pages import FORMATS, card_page  # noqa: PLC0415

    is_folder = out.is_dir() or not out.suffix
    names = {f"{_stem(made)}.{kind}": kind for kind in FORMATS} if is_folder else {out.name: out.suffix[1:].lower()}
    places = []
    for name, kind in names.items():
        with ResultFolder.prepare(out if is_folder else out.parent, replace=replace, record=name) as folder:
            places.append(folder.write_bytes(name, card_page(made, kind)))
    return places


def _stem(made: Card) -> str:
    """Return a name for the card's files."""
    window = f"-{made.layout.window_mm:g}mm" if made.layout.hole else ""
    return f"card-{made.paper}{window}{'-film' if made.film else ''}"
