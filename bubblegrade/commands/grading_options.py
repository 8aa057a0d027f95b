"""What every command that grades shares: its options, what they ask for, and the bar while it goes on."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager, nullcontext
from importlib.metadata import version
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, TypeVar

import click

from bubblegrade.commands.whole_number import WholeNumber
from bubblegrade.errors import InputError, UnitError
from bubblegrade.runs.ranges import THICKEST_MM, WIDEST_MM
from bubblegrade.runs.text_file import text_of
from bubblegrade.units import length_mm, scale_mm_per_px

if TYPE_CHECKING:
    from rich.console import Console

    from bubblegrade.grading_run import Request
    from bubblegrade.photo.on_card import OnCard
    from bubblegrade.photo.on_disc import OnDisc
    from bubblegrade.photo.scale import Span
    from bubblegrade.runs.inputs import Source
    from bubblegrade.runs.many import Reports
    from bubblegrade.runs.one import Task
    from bubblegrade.settings import Settings

Command = TypeVar("Command", bound=Callable[..., Any])

SECONDS: Final = 60.0  # in a minute


def grading_options(command: Command) -> Command:
    """Add the options that say how to grade, which `grading_task` reads."""
    path = click.Path(path_type=Path)
    for option in (
        click.option(
            "--jobs", metavar="N", type=WholeNumber(4), help="Processes at once, memory allowing.  [one a core]"
        ),
        click.option("--strict", is_flag=True, help="Refuse photographs that are not fit to measure."),
        click.option("--replace", is_flag=True, help="Replace an earlier result in DIR."),
        click.option("--settings", metavar="FILE.toml", type=path, help="Settings to grade with."),
        click.option("--index", metavar="N", help="Refractive index of the cured resin, if its maker tells it."),
        click.option("--plant", is_flag=True, help="Measure the smallest countable size by planting voids; slower."),
        click.option("--blank", metavar="PHOTO", type=path, help="Photograph of the bare backlight."),
        click.option("--whole", is_flag=True, help="Judge the lit part of the frame, without looking for an outline."),
        click.option(
            "--thickness",
            metavar="LENGTH",
            help="The casting's thickness, such as 14mm; gives counts per cm3, corrects sizes in lures.",
        ),
        click.option(
            "--width", metavar="LENGTH", help="The casting's widest span, such as 44mm or 1.75in; gives the scale."
        ),
        click.option(
            "--lens", metavar="FILE.toml", type=path, help="With --card: the camera, as calibrated with lens."
        ),
        click.option(
            "--camera-height",
            metavar="LENGTH",
            help="Height of the lens over the light; with --card, --disc, or --width and --thickness.",
        ),
        click.option("--printed", metavar="LENGTH", help="With --card: its check length as printed, such as 99.2mm."),
        click.option("--card", is_flag=True, help="The casting lies on the printed scale card; gives the scale."),
        click.option(
            "--disc", metavar="LENGTH", help="A coin or opaque disc of this diameter lies beside it; gives the scale."
        ),
        click.option(
            "--span", metavar="X,Y,X,Y=LENGTH", help="Two points in the photograph and the length between them."
        ),
        click.option("--mm-per-px", metavar="X", help="Millimetres per pixel, such as 0.0375."),
    ):
        command = option(command)
    return command


def grading_task(options: dict[str, Any], *, again: Path | None = None) -> Task:
    """Return what the options ask for."""
    from bubblegrade.runs.one import Task  # noqa: PLC0415

    return Task(
        version=version("bubblegrade"),
        request=_request(options),
        settings=_settings(options["settings"], index=options["index"]),
        blank=options["blank"],
        again=again,
        strict=options["strict"],
        jobs=options["jobs"],
    )


def _request(options: dict[str, Any]) -> Request:
    """Return what is said about the photographs, checked."""
    from bubblegrade.grading_run import Request  # noqa: PLC0415

    mm_per_px = stated_mm_per_px(options["mm_per_px"])
    width_mm = stated_length(options["width"], "--width", most_mm=WIDEST_MM)
    thickness_mm = stated_length(options["thickness"], "--thickness", most_mm=THICKEST_MM)
    span, card, disc = _span(options["span"]), _card(options), _disc(options)
    scales = {"--mm-per-px": mm_per_px, "--width": width_mm, "--span": span, "--card": card, "--disc": disc}
    given = [name for name, value in scales.items() if value is not None]
    if len(given) > 1:
        raise InputError(f"{' and '.join(given)} both give the scale: leave one of them out")
    if width_mm is not None and options["whole"]:
        raise InputError("--width needs the outline that --whole does not look for: give --mm-per-px instead")
    if thickness_mm is not None and not given:
        raise InputError("--thickness says nothing without a scale: add --card, --disc, --mm-per-px, --width or --span")
    return Request(
        mm_per_px=mm_per_px,
        width_mm=width_mm,
        card=card,
        disc=disc,
        span=span,
        thickness_mm=thickness_mm,
        camera_height_mm=_height_beside_width(options, given),
        whole=options["whole"],
        planted=options["plant"],
    )


def _height_beside_width(options: dict[str, Any], given: list[str]) -> float | None:
    """Return the camera's height where the casting's width gives the scale, or nothing does that it speaks of."""
    if options["camera_height"] is None or options["card"] or options["disc"] is not None:
        return None
    if given != ["--width"] or options["thickness"] is None:
        raise InputError(
            "--camera-height says nothing without a scale at a known height: add --card, --disc, or --width and "
            "--thickness"
        )
    return stated_length(options["camera_height"], "--camera-height", most_mm=WIDEST_MM)


def stated_mm_per_px(text: str | None) -> float | None:
    """Return millimetres per pixel as a number in its range."""
    from bubblegrade.photo.scale import stated_scale  # noqa: PLC0415

    if text is None:
        return None
    return stated_scale(scale_mm_per_px(text, what="--mm-per-px")).mm_per_px


def _card(options: dict[str, Any]) -> OnCard | None:
    """Return what is said of the card and the camera over it; None without a card."""
    from bubblegrade.photo.lens import lens_from_text  # noqa: PLC0415
    from bubblegrade.photo.on_card import OnCard  # noqa: PLC0415

    if not options["card"]:
        for name in ("printed", "lens"):
            if options[name] is not None:
                raise InputError(f"--{name} says nothing without a card in view: add --card")
        return None
    if options["blank"] is not None:
        raise InputError("--blank does not lie on the card as the casting does: leave it out with --card")
    path, cure = options["lens"], "name the file that bubblegrade lens has written"
    lens = None if path is None else lens_from_text(text_of(path, cure=cure), name=str(path)).lens
    return OnCard(
        printed_mm=stated_length(options["printed"], "--printed", most_mm=WIDEST_MM),
        camera_height_mm=stated_length(options["camera_height"], "--camera-height", most_mm=WIDEST_MM),
        lens=lens,
    )


def _disc(options: dict[str, Any]) -> OnDisc | None:
    """Return what is said of the disc and the camera over it; None without a disc."""
    from bubblegrade.photo.on_disc import OnDisc  # noqa: PLC0415

    across_mm = stated_length(options["disc"], "--disc", most_mm=WIDEST_MM)
    if across_mm is None:
        return None
    return OnDisc(across_mm, stated_length(options["camera_height"], "--camera-height", most_mm=WIDEST_MM))


def _span(text: str | None) -> Span | None:
    """Return two points and the length between them."""
    from bubblegrade.photo.scale import Span, scale_from_span  # noqa: PLC0415

    if text is None:
        return None
    points, _, length = text.partition("=")
    try:
        x, y, other_x, other_y = (float(number) for number in points.split(","))
    except ValueError:
        raise UnitError(f"--span {text} is not two points: write x,y,x,y=length, such as 120,80,920,80=30mm") from None
    span = Span(x, y, other_x, other_y, length_mm(length, what="--span"))
    scale_from_span(span)
    return span


def stated_length(text: str | None, what: str, *, most_mm: float) -> float | None:
    """Return a length in mm, refused where it is absurd.

    Raises
    ------
    UnitError
        It is no length, or more than `most_mm`.

    >>> stated_length("2in", "--width", most_mm=5000.0)
    50.8
    """
    if text is None:
        return None
    length = length_mm(text, what=what)
    if length > most_mm:
        raise UnitError(f"{what} {text} is more than {most_mm:g}mm: check its unit")
    return length


def _settings(path: Path | None, *, index: str | None) -> Settings:
    """Return the settings of a file, or the usual ones, with the index that the command line tells."""
    from bubblegrade.settings import Settings, read_settings, with_index  # noqa: PLC0415

    settings = Settings()
    if path is not None:
        settings = read_settings(text_of(path, cure="write lines such as index = 1.55"), name=str(path))
    return settings if index is None else with_index(settings, index, what="--index")


@contextmanager
def reports_on(photographs: int) -> Iterator[Reports]:
    """Give whom to tell while it goes on: faults on stderr, and a bar on a terminal for more than one photograph."""
    from rich.console import Console  # noqa: PLC0415

    from bubblegrade.runs.many import Reports  # noqa: PLC0415

    console = Console(stderr=True)
    bar = _bar(console) if photographs > 1 and console.is_terminal else None
    step = bar.add_task("", total=photographs, rate="") if bar else None

    def fault(line: str) -> None:
        console.print(f"bubblegrade: {line}", markup=False, highlight=False, soft_wrap=True)

    def done(_: Source) -> None:
        if bar and step is not None:
            bar.advance(step)
            bar.update(step, rate=rate_words(bar.tasks[0].speed))

    with bar or nullcontext():
        yield Reports(fault=fault, done=done)


def rate_words(per_s: float | None) -> str:
    """Return how fast photographs are graded, for the bar.

    >>> rate_words(2.04), rate_words(0.05), rate_words(None)
    ('2.0/s', '3.0/min', '')
    """
    if not per_s:
        return ""
    return f"{per_s:.1f}/s" if per_s >= 1.0 else f"{per_s * SECONDS:.1f}/min"


def _bar(console: Console) -> Any:
    """Return a bar of photographs done, with their rate and the time left, gone when it is full."""
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn  # noqa: PLC0415

    columns = (
        TextColumn("grading"), BarColumn(), MofNCompleteColumn(), TextColumn("{task.fields[rate]}"),
        TimeRemainingColumn(),
    )  # fmt: skip
    return Progress(*columns, console=console, transient=True)
