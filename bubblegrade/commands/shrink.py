"""`bubblegrade shrink`: cups cast at several pressures, compared with Boyle's law, and what to do next."""

from __future__ import annotations

import os
from importlib.metadata import version
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

from bubblegrade.commands.grading_options import grading_options, grading_task, reports_on, stated_length
from bubblegrade.commands.one_of import OneOf
from bubblegrade.commands.pressure_options import air_options, limit_options, stated_atmosphere, stated_limits
from bubblegrade.commands.report_option import checked_report, report_option, write_report
from bubblegrade.errors import InputError, UnitError
from bubblegrade.runs.ranges import COARSEST_MM
from bubblegrade.units import decimal, volume_cm3

if TYPE_CHECKING:
    from bubblegrade.pressure.trial import Question
    from bubblegrade.runs.trial import Answered, TrialTask

DONE, ABOVE_A_LIMIT, UNDECIDED = 0, 1, 3  # exit statuses
PHOTO_SIDES: Final = ("top", "bottom", "left", "right")
MOST_SPREAD: Final = 1.0  # of ln d from cup to cup: beyond it cups have nothing in common


@click.command()
@click.argument("settings_of_cups", nargs=-1, metavar="PRESSURE=PHOTO_OR_FOLDER[,...]...")
@click.option(
    "--sheet", metavar="FILE.csv", type=click.Path(path_type=Path), help="Table of cups: photo, pressure, ..."
)
@click.option("--out", metavar="DIR", type=click.Path(path_type=Path), help="Folder for the results.  [required]")
@grading_options
@report_option
@click.option("--graded", metavar="DIR", type=click.Path(path_type=Path), help="Earlier result to take gradings from.")
@click.option("--same-setup", is_flag=True, help="Without a scale: camera, distance and zoom were the same.")
@click.option("--across-recipes", is_flag=True, help="Compare cups of several recipes or resins as one.")
@air_options
@limit_options
@click.option("--visible", metavar="LENGTH", help="Diameter from which a void disturbs.  [0.087mm]")
@click.option("--tolerate", metavar="N", help="Such voids that a casting may have.  [5]")
@click.option("--casting-volume", metavar="VOLUME", help="Volume of that casting, such as 30cm3.  [that of a cup]")
@click.option("--cup-spread", metavar="X", help="How far cups differ, in ln d, where they are too few.  [0.05]")
@click.option("--pour", type=OneOf(PHOTO_SIDES), help="Side of the photographs where the resin came in.")
@click.option("--up", type=OneOf(PHOTO_SIDES), help="Side of the photographs that was up in the mould.")
@click.option("--json", "as_json", is_flag=True, help="Print trial.json instead of the table.")
@click.pass_context
def shrink(ctx: click.Context, /, settings_of_cups: tuple[str, ...], out: Path | None, **options: Any) -> None:
    """Compare cups cast at several pressures with Boyle's law, and say what to do.

    Name each pressure with its photographs or folders, one cup a photograph, such as 0psi=cups/open
    30psi=a.jpg,b.jpg; or give --sheet. Pressures are what the pot's dial shows. What --graded or an earlier trial in
    DIR holds is not graded again.

    Exit status: 0 done; 1 a pressure, or what the target takes, lies above a limit; 2 nothing usable; 3 it cannot be
    told, or some photographs could not be graded.
    """
    sheet = options["sheet"]
    if not settings_of_cups and sheet is None:
        raise InputError("no cup is named: write 0psi=cups/open 30psi=a.jpg,b.jpg, or give a sheet with --sheet")
    if settings_of_cups and sheet is not None:
        raise InputError(f"cups are named here and in {sheet}: write all into the sheet, or leave it out")
    if out is None:
        raise InputError("no folder for the results is named: add --out DIR")
    checked_report(options["report"], out, replace=options["replace"])
    # Everything below needs the libraries that grade, which help and slips of the pen need not wait for.
    from bubblegrade.pressure.findings import Verdict  # noqa: PLC0415
    from bubblegrade.runs.poured import named_on_the_line  # noqa: PLC0415
    from bubblegrade.runs.sheet import read_sheet  # noqa: PLC0415
    from bubblegrade.runs.trial import run_trial  # noqa: PLC0415

    task = _task(options)
    air = task.question.air
    cups, faults = named_on_the_line(settings_of_cups, air) if sheet is None else (read_sheet(sheet, air), ())
    with reports_on(len(cups)) as reports:
        answered = run_trial(cups, faults, task, out, replace_old=options["replace"], reports=reports)
    if options["graded"] is not None and not answered.taken_over:
        click.echo(
            f"bubblegrade: {options['graded']} holds none of these photographs graded by this version with the same "
            "options and settings: all were graded anew",
            err=True,
        )
    if options["report"] is not None:
        _report(answered, options)
    if options["as_json"]:
        # In UTF-8, whatever the terminal's own code is.
        click.echo(answered.trial_json.encode("utf-8", errors="backslashreplace"), nl=False)
    else:
        _show(answered, out)
    told = answered.trial.comparison.verdict is not Verdict.CANNOT_TELL
    if answered.trial.stopped:
        ctx.exit(ABOVE_A_LIMIT)
    ctx.exit(DONE if told and not answered.not_graded else UNDECIDED)


def _report(answered: Answered, options: dict[str, Any]) -> None:
    """Write the report."""
    from bubblegrade.show.report.verdicts import trial_page  # noqa: PLC0415

    left = [(photo.photo, photo.reason) for photo in answered.not_graded]
    page = trial_page(answered.trial, not_graded=left, version=version("bubblegrade"))
    write_report(options["report"], page, replace=options["replace"])


def _task(options: dict[str, Any]) -> TrialTask:
    """Return what the options ask for."""
    from bubblegrade.grading.pattern_casting import Pouring  # noqa: PLC0415
    from bubblegrade.runs.trial import TrialTask  # noqa: PLC0415

    return TrialTask(
        grading=grading_task(options),
        question=_question(options),
        same_setup=options["same_setup"],
        across_recipes=options["across_recipes"],
        pouring=Pouring(pour=options["pour"], up=options["up"]),
        earlier=() if options["graded"] is None else (_existing(options["graded"]),),
    )


def _question(options: dict[str, Any]) -> Question:
    """Return what is asked of the trial, checked."""
    from bubblegrade.pressure.trial import Question  # noqa: PLC0415

    usual = Question(stated_atmosphere(options), stated_limits(options))
    visible = stated_length(options["visible"], "--visible", most_mm=COARSEST_MM)
    volume = options["casting_volume"]
    return Question(
        air=usual.air,
        limits=usual.limits,
        visible_mm=usual.visible_mm if visible is None else visible,
        tolerated=_number(options["tolerate"], "--tolerate", usual.tolerated, example="5"),
        casting_cm3=None if volume is None else volume_cm3(volume, what="--casting-volume"),
        cup_spread=_number(options["cup_spread"], "--cup-spread", usual.cup_spread, example="0.05", most=MOST_SPREAD),
    )


def _number(text: str | None, what: str, usual: float, *, example: str, most: float = 1e9) -> float:
    """Return a number above 0, or the usual one where none is given."""
    if text is None:
        return usual
    try:
        number = decimal(text)
    except ValueError:
        raise UnitError(f"{what} {text} is not a number: give one above 0, such as {example}") from None
    if not 0.0 < number <= most:
        raise UnitError(f"{what} {text} is out of range: give a number above 0 up to {most:g}, such as {example}")
    return number


def _existing(folder: Path) -> Path:
    """Return a folder with a result, refused where there is none."""
    from bubblegrade.results.folder import RUN_FILE  # noqa: PLC0415

    if not (folder / RUN_FILE).is_file():
        raise InputError(f"--graded {folder} holds no {RUN_FILE}: name the folder that bubblegrade grade has written")
    return folder


def _show(answered: Answered, out: Path) -> None:
    """Print the verdict, the tables and where the results are."""
    from bubblegrade.show.tables import table_console  # noqa: PLC0415
    from bubblegrade.show.trial_tables import show_trial  # noqa: PLC0415

    console = table_console()
    show_trial(answered.trial, console)
    if console.is_terminal:
        console.print(f"Results in {out}{os.sep}", markup=False, style="dim")
