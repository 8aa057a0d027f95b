"""`bubblegrade grade`: photographs in, measured voids, sizes, clarity and marked pictures out."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from bubblegrade.commands.grading_options import grading_options, grading_task, reports_on
from bubblegrade.errors import InputError

if TYPE_CHECKING:
    from bubblegrade.runs.one_by_one import Outcome

DONE, NOTHING_USABLE, IN_PART = 0, 2, 3  # exit statuses


@click.command()
@click.argument("photographs", nargs=-1, metavar="PHOTO_OR_FOLDER...", type=click.Path(path_type=Path))
@click.option("--out", metavar="DIR", type=click.Path(path_type=Path), help="Folder for the results.  [required]")
@grading_options
@click.option("--again", metavar="PHOTO", type=click.Path(path_type=Path), help="The same casting, wiped and turned.")
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
    from bubblegrade.runs.one_by_one import grade_all  # noqa: PLC0415

    task = grading_task(options, again=options["again"])
    sources = find_sources(photographs, out=out)
    if task.again is not None and len(sources.photographs) != 1:
        raise InputError(f"--again settles one photograph, {len(sources.photographs)} are named: grade them one by one")
    with ResultFolder.prepare(out, replace=options["replace"]) as folder:
        with reports_on(len(sources.photographs)) as reports:
            outcome, run_json = grade_all(sources, task, folder, reports)
        if not outcome.castings:
            ctx.exit(NOTHING_USABLE)
    if options["as_json"]:
        # In UTF-8, whatever the terminal's own code is.
        click.echo(run_json.encode("utf-8", errors="backslashreplace"), nl=False)
    else:
        _show(outcome, out)
    ctx.exit(DONE if outcome.whole else IN_PART)


def _show(outcome: Outcome, out: Path) -> None:
    """Print the table and where the results are."""
    from bubblegrade.show.tables import show_castings, table_console  # noqa: PLC0415

    console = table_console()
    show_castings(outcome.castings, console)
    if console.is_terminal:
        console.print(f"Results in {out}{os.sep}", markup=False, style="dim")
