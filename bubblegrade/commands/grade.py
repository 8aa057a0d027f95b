"""`bubblegrade grade`: photographs in, measured voids, sizes, clarity and marked pictures out."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import AbstractContextManager, contextmanager, nullcontext
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

from bubblegrade.commands.grading_options import grading_options, grading_task, reports_on
from bubblegrade.commands.report_option import checked_report, report_option, write_report
from bubblegrade.errors import InputError, StoppedError

if TYPE_CHECKING:
    from bubblegrade.grading_run import Casting
    from bubblegrade.runs.cluster import Cluster
    from bubblegrade.runs.inputs import Sources
    from bubblegrade.runs.many import Outcome
    from bubblegrade.runs.one import Task

DONE, NOTHING_USABLE, IN_PART = 0, 2, 3  # exit statuses
PIECE_BYTES: Final = 2**20  # of run.json in memory while it is printed
MOST_LISTED: Final = 5  # pictures in one line


@click.command()
@click.argument("photographs", nargs=-1, metavar="PHOTO_OR_FOLDER...", type=click.Path(path_type=Path))
@click.option("--out", metavar="DIR", type=click.Path(path_type=Path), help="Folder for the results.  [required]")
@grading_options
@report_option
@click.option("--again", metavar="PHOTO", type=click.Path(path_type=Path), help="The same casting, wiped and turned.")
@click.option("--resume", is_flag=True, help="Go on with a run that was cut short, or add new photographs to DIR.")
@click.option(
    "--watch", metavar="FOLDER", type=click.Path(path_type=Path), help="Grade what a camera brings, until Ctrl-C."
)
@click.option(
    "--cluster",
    metavar="tcp://HOST:PORT",
    help="Grade on the Dask cluster of this scheduler, which sees the photographs under the same path.",
)
@click.option("--parquet", is_flag=True, help="Write the tables as Parquet too.")
@click.option("--json", "as_json", is_flag=True, help="Print run.json instead of the table.")
@click.pass_context
def grade(ctx: click.Context, /, photographs: tuple[Path, ...], out: Path | None, **options: Any) -> None:
    """Measure the voids in photographs of castings.

    Every photograph shows one casting on a backlight. Folders are searched for JPEG, PNG, TIFF, HEIC and camera raw
    pictures. Without a scale, as --width and others give it, sizes are in pixels. A run that is cut short goes on where
    it was with the same command and --resume.

    Exit status: 0 done; 2 nothing usable; 3 done in part, some photographs could not be graded.
    """
    if not photographs and options["watch"] is None:
        raise InputError("no photograph is named: name photographs or folders of them")
    if out is None:
        raise InputError("no folder for the results is named: add --out DIR")
    if options["resume"] and options["report"] is not None:
        raise InputError("--report shows what this run grades, and --resume takes some over: leave one of them out")
    if options["cluster"] is not None and (options["jobs"] is not None or options["again"] is not None):
        name = "jobs" if options["jobs"] is not None else "again"
        raise InputError(f"--{name} is for this machine and --cluster for others: leave one of them out")
    if options["watch"] is not None:
        ctx.exit(_watched(photographs, out, options))
    # Everything below needs the libraries that grade, which help and slips of the pen need not wait for.
    from bubblegrade.results.folder import ResultFolder  # noqa: PLC0415
    from bubblegrade.results.parquet import check_parquet  # noqa: PLC0415
    from bubblegrade.runs.inputs import find_sources  # noqa: PLC0415
    from bubblegrade.runs.many import grade_all  # noqa: PLC0415

    task = grading_task(options, again=options["again"])
    sources = find_sources(photographs, out=out)
    if task.again is not None and len(sources.photographs) != 1:
        raise InputError(f"--again settles one photograph, {len(sources.photographs)} are named: grade them one by one")
    if options["parquet"]:
        check_parquet()
    checked_report(options["report"], out, replace=options["replace"])
    with (
        ResultFolder.prepare(out, replace=options["replace"], resume=options["resume"]) as folder,
        _cluster(options["cluster"], sources) as cluster,
    ):
        with reports_on(len(sources.photographs)) as reports, _going_on(report=options["report"]):
            outcome = grade_all(sources, task, folder, reports, parquet=options["parquet"], cluster=cluster)
        if not outcome.run.entries:
            ctx.exit(NOTHING_USABLE)
    _tell_unlike(outcome, task)
    if options["report"] is not None:
        _report(outcome, sources, task, options)
    if options["as_json"]:
        _print_json(out)
    else:
        _show(outcome, out)
    ctx.exit(DONE if outcome.whole else IN_PART)


def _tell_unlike(outcome: Outcome, task: Task) -> None:
    """Say where one scale was stated for photographs of several sizes."""
    from bubblegrade.runs.unlike_sizes import size_of, stated_in_px, unlike_sizes  # noqa: PLC0415

    for line in unlike_sizes(stated_in_px(task.request), (size_of(entry.record) for entry in outcome.run.entries)):
        _fault(line)


@contextmanager
def _going_on(*, report: Path | None) -> Iterator[None]:
    """Say of a run that a person stops that it does not go on with --report."""
    try:
        yield
    except StoppedError as error:
        if report is None:
            raise
        raise StoppedError(f"{error}, without --report") from error


def _cluster(address: str | None, sources: Sources) -> AbstractContextManager[Cluster | None]:
    """Give the cluster to grade on; None without one."""
    from bubblegrade.runs.cluster import cluster_at  # noqa: PLC0415

    return nullcontext() if address is None else cluster_at(address, sources.photographs)


def _report(outcome: Outcome, sources: Sources, task: Task, options: dict[str, Any]) -> None:
    """Write the report; the photographs are read once more for it, so that the memory never holds them all."""
    from bubblegrade.runs.one import made_ready  # noqa: PLC0415
    from bubblegrade.show.report.castings import castings_page, shown  # noqa: PLC0415

    paths = {source.name: source.path for source in sources.photographs}
    pictures = [
        shown(casting, made_ready(paths[casting.photo], casting.photo, task).shown) for casting in outcome.castings
    ]
    left = [(photo.photo, photo.reason) for photo in outcome.run.not_graded]
    page = castings_page(pictures, not_graded=left, settings=task.settings, version=task.version)
    write_report(options["report"], page, replace=options["replace"])


def _show(outcome: Outcome, out: Path) -> None:
    """Print the table and where the results are."""
    from bubblegrade.show.tables import show_castings, table_console  # noqa: PLC0415
    from bubblegrade.units import count_of  # noqa: PLC0415

    console, before = table_console(), len(outcome.run.entries) - len(outcome.castings)
    if outcome.castings:
        show_castings(outcome.castings, console)
    if before:
        console.print(f"{count_of(before, 'photograph')} graded before: see castings.csv", markup=False)
    if outcome.stays:
        listed = ", ".join(outcome.stays[:MOST_LISTED]) + (", ..." if len(outcome.stays) > MOST_LISTED else "")
        said = f"{count_of(len(outcome.stays), 'photograph')} of them not among these, kept all the same: {listed}"
        console.print(said, markup=False, soft_wrap=True)
    if console.is_terminal:
        console.print(f"Results in {out}{os.sep}", markup=False, style="dim")


def _print_json(out: Path) -> None:
    """Print run.json in UTF-8, whatever the terminal's own code is."""
    from bubblegrade.results.folder import RUN_FILE  # noqa: PLC0415

    with (out / RUN_FILE).open("rb") as file:
        while piece := file.read(PIECE_BYTES):
            click.echo(piece, nl=False)


def _watched(photographs: tuple[Path, ...], out: Path, options: dict[str, Any]) -> int:
    """Grade what comes into a folder until Ctrl-C, and return the exit status."""
    place = options["watch"]
    if photographs:
        raise InputError(f"--watch grades the folder {place}: leave out the photographs named beside it")
    for name in ("replace", "again", "report", "parquet", "cluster"):
        if options[name]:
            raise InputError(f"--{name} cannot be had with --watch: grade the photographs with it afterwards")
    if not place.is_dir():
        raise InputError(f"--watch {place} is no folder: name the folder that the camera writes to")
    from bubblegrade.results.folder import ResultFolder  # noqa: PLC0415
    from bubblegrade.runs.looks import Folder, Pace  # noqa: PLC0415
    from bubblegrade.runs.watch import Post, watch  # noqa: PLC0415

    task = grading_task(options)
    ResultFolder.prepare(out, replace=False, resume=options["resume"])
    pace, told = Pace(), (lambda _: None) if options["as_json"] else _say_casting
    post = Post(Folder(place).look, pace.wait, pace.due, _fault, told)
    # From here on it adds to what is there: nothing is taken back, whatever ends the watch.
    with ResultFolder.prepare(out, replace=False, resume=True) as folder:
        outcome = watch(place, task, folder, post)
    if not outcome.run.entries:
        return NOTHING_USABLE
    if options["as_json"]:
        _print_json(out)
    return DONE if outcome.whole else IN_PART


def _fault(line: str) -> None:
    click.echo(f"bubblegrade: {line}", err=True)


def _say_casting(casting: Casting) -> None:
    """Print one line on a casting as soon as it is graded."""
    from bubblegrade.show.tables import notes  # noqa: PLC0415
    from bubblegrade.show.words import length, score  # noqa: PLC0415
    from bubblegrade.units import count_of  # noqa: PLC0415

    said = [
        count_of(casting.count, "void"),
        f"largest {length(casting.sizes_px.largest.value, casting)}",
        f"clarity {score(casting.clarity)} {casting.clarity.word}",
        *filter(None, [notes(casting)]),
    ]
    click.echo(f"{casting.photo}: {', '.join(said)}")
