"""`bubblegrade grade`: photographs in, measured voids, sizes, clarity and marked pictures out."""

from __future__ import annotations

import os
from contextlib import nullcontext
from importlib.metadata import version
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

from bubblegrade.errors import InputError, SettingsError, UnitError
from bubblegrade.units import length_mm

if TYPE_CHECKING:
    from rich.console import Console

    from bubblegrade.grading_run import Request
    from bubblegrade.runs.inputs import Source, Sources
    from bubblegrade.runs.one_by_one import Outcome, Task
    from bubblegrade.settings import Settings

DONE, NOTHING_USABLE, IN_PART = 0, 2, 3  # exit statuses
THICKEST_MM: Final = 500.0  # of a casting that light from behind gets through
WIDEST_MM: Final = 5000.0  # of a casting that a camera takes in


@click.command()
@click.argument("photographs", nargs=-1, metavar="PHOTO_OR_FOLDER...", type=click.Path(path_type=Path))
@click.option("--out", metavar="DIR", type=click.Path(path_type=Path), help="Folder for the results.  [required]")
@click.option("--mm-per-px", metavar="X", help="Millimetres per pixel, such as 0.0375.")
@click.option("--width", metavar="LENGTH", help="The casting's widest span, such as 44mm or 1.75in; gives the scale.")
@click.option("--thickness", metavar="LENGTH", help="The casting's thickness, such as 14mm; gives counts per cm3.")
@click.option("--whole", is_flag=True, help="Judge the lit part of the frame, without looking for an outline.")
@click.option("--blank", metavar="PHOTO", type=click.Path(path_type=Path), help="Photograph of the bare backlight.")
@click.option("--again", metavar="PHOTO", type=click.Path(path_type=Path), help="The same casting, wiped and turned.")
@click.option("--plant", is_flag=True, help="Measure the smallest countable size by planting voids; slower.")
@click.option("--settings", metavar="FILE.toml", type=click.Path(path_type=Path), help="Settings to grade with.")
@click.option("--replace", is_flag=True, help="Replace an earlier result in DIR.")
@click.option("--strict", is_flag=True, help="Refuse photographs that are not fit to measure.")
@click.option("--json", "as_json", is_flag=True, help="Print run.json instead of the table.")
@click.pass_context
def grade(ctx: click.Context, /, photographs: tuple[Path, ...], out: Path | None, **options: Any) -> None:
    """Measure the voids in photographs of castings.

    Every photograph shows one casting on a backlight. Folders are searched for JPEG, PNG and TIFF pictures. Without
    --mm-per-px or --width, sizes are in pixels.

    Exit status: 0 done; 2 nothing usable; 3 done in part, some photographs could not be graded.
    """
    if not photographs:
        raise InputError("no photograph is named: name photographs or folders of them")
    if out is None:
        raise InputError("no folder for the results is named: add --out DIR")
    # Everything below needs the libraries that grade, which help and slips of the pen need not wait for.
    from bubblegrade.results.folder import ResultFolder  # noqa: PLC0415
    from bubblegrade.runs.inputs import find_sources  # noqa: PLC0415

    task = _task(options)
    sources = find_sources(photographs, out=out)
    if task.again is not None and len(sources.photographs) != 1:
        raise InputError(f"--again settles one photograph, {len(sources.photographs)} are named: grade them one by one")
    with ResultFolder.prepare(out, replace=options["replace"]) as folder:
        outcome = _graded(sources, task, folder)
        if not outcome.castings:
            ctx.exit(NOTHING_USABLE)
    if options["as_json"]:
        # In UTF-8, whatever the terminal's own code is.
        click.echo(outcome.run_json.encode("utf-8", errors="backslashreplace"), nl=False)
    else:
        _show(outcome, out)
    ctx.exit(DONE if outcome.whole else IN_PART)


def _task(options: dict[str, Any]) -> Task:
    """Return what the options ask for."""
    from bubblegrade.runs.one_by_one import Task  # noqa: PLC0415

    return Task(
        version=version("bubblegrade"),
        request=_request(options),
        settings=_settings(options["settings"]),
        blank=options["blank"],
        again=options["again"],
        strict=options["strict"],
    )


def _request(options: dict[str, Any]) -> Request:
    """Return what is said about the photographs, checked."""
    from bubblegrade.grading_run import Request  # noqa: PLC0415

    mm_per_px = _scale(options["mm_per_px"])
    width_mm = _length(options["width"], "--width", most_mm=WIDEST_MM)
    thickness_mm = _length(options["thickness"], "--thickness", most_mm=THICKEST_MM)
    if mm_per_px is not None and width_mm is not None:
        raise InputError("--mm-per-px and --width both give the scale: leave one of them out")
    if width_mm is not None and options["whole"]:
        raise InputError("--width needs the outline that --whole does not look for: give --mm-per-px instead")
    if thickness_mm is not None and mm_per_px is None and width_mm is None:
        raise InputError("--thickness says nothing without a scale: add --mm-per-px or --width")
    return Request(
        mm_per_px=mm_per_px,
        width_mm=width_mm,
        thickness_mm=thickness_mm,
        whole=options["whole"],
        planted=options["plant"],
    )


def _scale(text: str | None) -> float | None:
    """Return millimetres per pixel as a number in its range."""
    from bubblegrade.photo.scale import stated_scale  # noqa: PLC0415

    if text is None:
        return None
    try:
        number = float(text)
    except ValueError:
        raise UnitError(f"--mm-per-px {text} is not a number: give millimetres per pixel, such as 0.0375") from None
    return stated_scale(number).mm_per_px


def _length(text: str | None, what: str, *, most_mm: float) -> float | None:
    """Return a length in mm, refused where it is absurd."""
    if text is None:
        return None
    length = length_mm(text, what=what)
    if length > most_mm:
        raise UnitError(f"{what} {text} is more than {most_mm:g}mm: check its unit")
    return length


def _settings(path: Path | None) -> Settings:
    """Return the settings of a file, or the usual ones."""
    from bubblegrade.settings import Settings, read_settings  # noqa: PLC0415

    if path is None:
        return Settings()
    try:
        return read_settings(path.read_text("utf-8"), name=str(path))
    except OSError as error:
        raise SettingsError(f"{path} cannot be opened ({error.strerror}): check its name") from error
    except UnicodeDecodeError as error:
        raise SettingsError(f"{path} is not text in UTF-8: write lines such as index = 1.55") from error


def _graded(sources: Sources, task: Task, folder: Any) -> Outcome:
    """Grade everything, with a bar on a terminal where there is more than one photograph."""
    from rich.console import Console  # noqa: PLC0415

    from bubblegrade.runs.one_by_one import Reports, grade_all  # noqa: PLC0415

    console = Console(stderr=True)
    many = len(sources.photographs) > 1 and console.is_terminal
    bar = _bar(console) if many else None
    step = bar.add_task("", total=len(sources.photographs)) if bar else None

    def fault(line: str) -> None:
        console.print(f"bubblegrade: {line}", markup=False, highlight=False, soft_wrap=True)

    def done(_: Source) -> None:
        if bar and step is not None:
            bar.advance(step)

    with bar or nullcontext():
        return grade_all(sources, task, folder, Reports(fault=fault, done=done))


def _bar(console: Console) -> Any:
    """Return a bar of photographs done, gone when it is full."""
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn  # noqa: PLC0415

    columns = (TextColumn("grading"), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
    return Progress(*columns, console=console, transient=True)


def _show(outcome: Outcome, out: Path) -> None:
    """Print the table and where the results are."""
    from bubblegrade.show.tables import show_castings, table_console  # noqa: PLC0415

    console = table_console()
    show_castings(outcome.castings, console)
    if console.is_terminal:
        console.print(f"Results in {out}{os.sep}", markup=False, style="dim")
