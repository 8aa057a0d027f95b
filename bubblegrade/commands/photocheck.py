"""`bubblegrade photocheck`: whether photographs are fit to measure, where their faults lie and what to do."""

from __future__ import annotations

import math
import os
from contextlib import nullcontext
from importlib.metadata import version
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

from bubblegrade.commands.grading_options import stated_length, stated_mm_per_px
from bubblegrade.errors import InputError
from bubblegrade.runs.ranges import THICKEST_MM, WIDEST_MM

if TYPE_CHECKING:
    from bubblegrade.fitness.checks import Said
    from bubblegrade.results.photocheck import PhotoCheck

DONE, SOME_UNFIT, NOTHING_USABLE, IN_PART = 0, 1, 2, 3  # exit statuses
LARGEST_MM: Final = 100.0  # of a smallest void that is asked for


@click.command()
@click.argument("photographs", nargs=-1, metavar="PHOTO_OR_FOLDER...", type=click.Path(path_type=Path))
@click.option("--smallest", metavar="LENGTH", help="Smallest void to be measured, such as 0.1mm; needs a scale.")
@click.option("--mm-per-px", metavar="X", help="Millimetres per pixel, such as 0.0375.")
@click.option("--width", metavar="LENGTH", help="The casting's widest span, such as 44mm; gives the scale.")
@click.option("--thickness", metavar="LENGTH", help="The casting's thickness, such as 14mm.")
@click.option("--camera-height", metavar="LENGTH", help="Height of the lens over the light, such as 320mm.")
@click.option("--whole", is_flag=True, help="The lit part of the frame is judged, without looking for an outline.")
@click.option("--out", metavar="DIR", type=click.Path(path_type=Path), help="Folder for pictures and tables.")
@click.option("--replace", is_flag=True, help="Replace an earlier result in DIR.")
@click.option("--json", "as_json", is_flag=True, help="Print photocheck.json instead of the table.")
@click.pass_context
def photocheck(ctx: click.Context, /, photographs: tuple[Path, ...], out: Path | None, **options: Any) -> None:
    """Tell whether photographs are fit to measure, before anything is graded.

    Exposure, noise, evenness, sharpness, motion, bands, patterns in the light, JPEG and the casting's place are
    checked. With a scale, --smallest tells whether a void of that size has pixels enough; with --thickness, the
    camera's height (or the focal length that it noted, and a scale) tells whether it stood too near.

    Exit status: 0 all fit or usable with care; 1 some unfit; 2 nothing usable; 3 none unfit, some could not be read.
    """
    if not photographs:
        raise InputError("no photograph is named: name photographs or folders of them")
    if out is None and options["replace"]:
        raise InputError("--replace says nothing without a folder for the results: add --out DIR")
    # Everything below needs the libraries that check, which help and slips of the pen need not wait for.
    from bubblegrade.results.folder import ResultFolder  # noqa: PLC0415
    from bubblegrade.results.photocheck import RECORD_FILE, photocheck_json, write_photocheck  # noqa: PLC0415
    from bubblegrade.runs.inputs import find_sources  # noqa: PLC0415
    from bubblegrade.runs.photocheck import ENDING, check_each  # noqa: PLC0415

    said = _said(options)
    sources = find_sources(photographs, out=out, record=RECORD_FILE, ending=ENDING)
    place = nullcontext() if out is None else ResultFolder.prepare(out, replace=options["replace"], record=RECORD_FILE)
    with place as folder:
        found = check_each(sources, said, version("bubblegrade"), folder, _fault)
        if not found.checked:
            ctx.exit(NOTHING_USABLE)
        text = photocheck_json(found) if folder is None else write_photocheck(folder, found)
    if options["as_json"]:
        # In UTF-8, whatever the terminal's own code is.
        click.echo(text.encode("utf-8", errors="backslashreplace"), nl=False)
    else:
        _show(found, out)
    ctx.exit(_status(found))


def _said(options: dict[str, Any]) -> Said:
    """Return what is said of the photographs, checked."""
    from bubblegrade.fitness.checks import Said  # noqa: PLC0415

    lengths = {
        name: stated_length(options[name], f"--{name.replace('_', '-')}", most_mm=most)
        for name, most in {
            "width": WIDEST_MM, "thickness": THICKEST_MM, "camera_height": WIDEST_MM, "smallest": LARGEST_MM,
        }.items()
    }  # fmt: skip
    mm_per_px = stated_mm_per_px(options["mm_per_px"])
    if mm_per_px is not None and lengths["width"] is not None:
        raise InputError("--mm-per-px and --width both give the scale: leave one of them out")
    if lengths["width"] is not None and options["whole"]:
        raise InputError("--width needs the outline that --whole does not look for: give --mm-per-px instead")
    if lengths["smallest"] is not None and mm_per_px is None and lengths["width"] is None:
        raise InputError("--smallest says nothing without a scale: add --mm-per-px or --width")
    known = {f"{name}_mm": math.nan if length is None else length for name, length in lengths.items()}
    return Said(mm_per_px=math.nan if mm_per_px is None else mm_per_px, whole=options["whole"], **known)


def _fault(line: str) -> None:
    click.echo(f"bubblegrade: {line}", err=True)


def _show(found: PhotoCheck, out: Path | None) -> None:
    """Print the table and where the results are."""
    from bubblegrade.show.fitness_words import show_checked  # noqa: PLC0415
    from bubblegrade.show.tables import table_console  # noqa: PLC0415

    console = table_console()
    show_checked(found.checked, console)
    if out is not None and console.is_terminal:
        console.print(f"Results in {out}{os.sep}", markup=False, style="dim")


def _status(found: PhotoCheck) -> int:
    """Return the exit status: what is unfit outweighs what is missing."""
    if any(one.fitness.unfit for one in found.checked):
        return SOME_UNFIT
    return IN_PART if found.not_read else DONE
