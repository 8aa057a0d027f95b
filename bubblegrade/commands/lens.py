"""`bubblegrade lens`: a camera's lens calibrated from photographs of the scale card."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

from bubblegrade.errors import InputError

if TYPE_CHECKING:
    from bubblegrade.photo.card_finding import FoundCard

LEAST_PHOTOGRAPHS: Final = 2


@click.command()
@click.argument("photographs", nargs=-1, metavar="PHOTO...", type=click.Path(path_type=Path))
@click.option("--out", metavar="FILE.toml", type=click.Path(path_type=Path), help="File for the lens.  [required]")
@click.option("--replace", is_flag=True, help="Replace an earlier file.")
def lens(photographs: tuple[Path, ...], *, out: Path | None, replace: bool) -> None:
    """Calibrate a camera from two or more photographs of the scale card alone.

    Tilt the camera by about 20 degrees to another side in each. Zoom, camera and picture size must be those of the
    photographs to be graded.
    """
    if len(photographs) < LEAST_PHOTOGRAPHS:
        raise InputError(
            f"{len(photographs)} of at least {LEAST_PHOTOGRAPHS} photographs of the card named: "
            "photograph it tilted to several sides"
        )
    if out is None:
        raise InputError("no file for the lens is named: add --out lens.toml")
    if out.suffix.lower() != ".toml":
        raise InputError(f"--out {out} is no lens file: name it lens.toml")
    # Everything below needs the libraries that measure, which help and slips of the pen need not wait for.
    from bubblegrade.photo.lens import lens_text  # noqa: PLC0415
    from bubblegrade.photo.lens_calibration import calibrated  # noqa: PLC0415
    from bubblegrade.results.folder import ResultFolder  # noqa: PLC0415

    with ResultFolder.prepare(out.parent, replace=replace, record=out.name) as folder:
        found = calibrated(_cards(photographs))
        folder.write_text(out.name, lens_text(found))
    known = found.lens
    click.echo(f"focal length {known.focal_px:.1f} +- {known.focal_err_px:.1f} px")
    click.echo(f"distortion   k1 {known.k1:+.4f} +- {known.k1_err:.4f}, k2 {known.k2:+.4f} +- {known.k2_err:.4f}")
    click.echo(f"marks        {found.rms_px:.2f} px off, {found.photographs} photographs")


def _cards(photographs: Sequence[Path]) -> list[FoundCard]:
    """Return the card in each photograph.

    Raises
    ------
    InputError
        One is given twice: what it lacks would be counted as measured twice.
    """
    from bubblegrade.photo.card_finding import find_card  # noqa: PLC0415
    from bubblegrade.photo.reading import read_photo  # noqa: PLC0415

    cards: dict[str, FoundCard] = {}
    for path in photographs:
        photo = read_photo(path)
        if photo.sha256 in cards:
            raise InputError(
                f"{photo.name} is given twice, or a copy of it: photograph the card tilted to another side"
            )
        cards[photo.sha256] = find_card(photo.codes, name=photo.name)
    return list(cards.values())
