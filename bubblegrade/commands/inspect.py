"""`bubblegrade inspect`: finished pieces held against a maker's own limits, and pieces that came back."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

from bubblegrade.commands.grading_options import grading_options, grading_task, reports_on
from bubblegrade.commands.log_options import NUMBER, log_option
from bubblegrade.commands.one_of import OneOf
from bubblegrade.commands.report_option import checked_report, report_option, write_report
from bubblegrade.commands.whole_number import WholeNumber
from bubblegrade.errors import InputError, OutputError
from bubblegrade.records.place import log_place
from bubblegrade.units import decimal

if TYPE_CHECKING:
    from collections.abc import Callable

    from bubblegrade.inspection.limits import Limits
    from bubblegrade.quality.sampling import SamplingPlan
    from bubblegrade.results.inspect import Inspection
    from bubblegrade.runs.inputs import Source, Sources
    from bubblegrade.runs.one import Task
    from bubblegrade.runs.pieces import Shown

PASS, FAIL, NOTHING_USABLE, LOOK_AGAIN = 0, 1, 2, 3  # exit statuses
PRESET_NAMES: Final = ("clear-lure", "knife-scale", "pendant")
REGROWTH_STATUS: Final = {"grew": FAIL, "did not change": PASS}


@click.command()
@click.argument("photographs", nargs=-1, metavar="PHOTO_OR_FOLDER...", type=click.Path(path_type=Path))
@click.option("--limits", metavar="FILE.toml", type=click.Path(path_type=Path), help="The limits to hold pieces to.")
@click.option("--out", metavar="DIR", type=click.Path(path_type=Path), help="Folder for the results.  [required]")
@click.option("--pieces", metavar="PATTERN", help='How names tell the piece, such as "{piece}-{side}".')
@click.option("--sheet", metavar="FILE.csv", type=click.Path(path_type=Path), help="Photographs: photo,piece,side.")
@click.option(
    "--batch", metavar="N", type=WholeNumber(120), help="Pieces in the batch that these were drawn from at random."
)
@click.option("--quality-limit", metavar="PERCENT", help="Acceptance quality limit of that batch.")
@click.option("--casting", metavar="N", type=NUMBER, help="With --again: its number in the log, for the earlier one.")
@log_option
@click.option("--again", is_flag=True, help="A piece came back: name its earlier and its later photograph.")
@click.option("--same-setup", is_flag=True, help="With --again: light, camera, distance and focus were the same.")
@click.option(
    "--write-limits", metavar="FILE.toml", type=click.Path(path_type=Path), help="Write a file to begin with."
)
@click.option(
    "--preset", metavar="NAME", type=OneOf(PRESET_NAMES), help=f"With --write-limits: {', '.join(PRESET_NAMES)}."
)
@grading_options
@report_option
@click.option("--json", "as_json", is_flag=True, help="Print the record instead of the table.")
@click.pass_context
def inspect(ctx: click.Context, /, photographs: tuple[Path, ...], out: Path | None, **options: Any) -> None:
    """Tell whether finished pieces pass your own limits, zone by zone.

    The limits are yours: begin with --write-limits lure.toml --preset clear-lure, and set every number. Zones follow
    the piece's outline, however it lies, without loops and ends of wire that stand out of it; --width counts them in.
    What straddles a limit, or cannot be judged, is "look again".

    With --batch and --quality-limit the batch is accepted or refused by single sampling after ISO 2859-1. With --again
    two photographs of one piece tell whether its voids grew.

    Exit status: 0 all pass (with --again: did not change); 1 some fail (it grew); 2 nothing usable; 3 none fails, some
    are to be looked at again or could not be graded (it cannot be told).
    """
    if options["write_limits"] is not None or options["preset"] is not None:
        _write_limits(options)
        return
    if options["casting"] is not None and not options["again"]:
        raise InputError("--casting says nothing without --again: add it, or leave --casting out")
    if options["same_setup"] and not options["again"]:
        raise InputError("--same-setup says nothing without --again: add it, or leave --same-setup out")
    if out is None:
        raise InputError("no folder for the results is named: add --out DIR")
    if options["whole"]:
        raise InputError("--whole looks for no outline, which zones follow: leave it out")
    ctx.exit(_came_back(photographs, out, options) if options["again"] else _inspected(photographs, out, options))


def _write_limits(options: dict[str, Any]) -> None:
    """Write a preset as a commented file."""
    place, preset = options["write_limits"], options["preset"]
    if place is None:
        raise InputError("--preset says nothing without a file to write: add --write-limits lure.toml")
    if preset is None:
        raise InputError(f"--write-limits needs a preset to begin with: add --preset {PRESET_NAMES[0]}")
    from bubblegrade.results.folder import ResultFolder  # noqa: PLC0415
    from bubblegrade.runs.limit_presets import PRESETS  # noqa: PLC0415

    if place.exists() and not options["replace"]:
        raise OutputError(f"{place} is there already: add --replace, or name another file")
    with ResultFolder.prepare(place.parent, replace=options["replace"], record=place.name) as folder:
        folder.write_text(place.name, PRESETS[preset])
    click.echo(f"{place}: the preset {preset}, no standard; set its numbers to what you accept")


def _inspected(photographs: tuple[Path, ...], out: Path, options: dict[str, Any]) -> int:
    """Inspect photographs and return the exit status."""
    if options["limits"] is None:
        raise InputError("no limits are named: add --limits lure.toml, which --write-limits lure.toml begins for you")
    # Everything below needs the libraries that grade, which help and slips of the pen need not wait for.
    from bubblegrade.results.folder import ResultFolder  # noqa: PLC0415
    from bubblegrade.results.inspect import RECORD_FILE, write_inspection  # noqa: PLC0415
    from bubblegrade.runs.inspect import Wanted, inspect_all  # noqa: PLC0415
    from bubblegrade.runs.limits_file import read_limits_file  # noqa: PLC0415

    checked_report(options["report"], out, replace=options["replace"])
    limits, task, plan = read_limits_file(options["limits"]), grading_task(options), _plan(options)
    sources, shown = _sources(photographs, out, options)
    limits = _settled(limits, options["limits"], task)
    with ResultFolder.prepare(out, replace=options["replace"], record=RECORD_FILE) as folder:
        with reports_on(len(sources.photographs)) as reports:
            found = inspect_all(sources, task, Wanted(limits, shown, plan), folder, reports)
        if not found.inspected:
            raise click.exceptions.Exit(NOTHING_USABLE)  # takes back what was written
        text = write_inspection(folder, found)
    if options["report"] is not None:
        _report(found, sources, out, options)
    if options["as_json"]:
        # In UTF-8, whatever the terminal's own code is.
        click.echo(text.encode("utf-8", errors="backslashreplace"), nl=False)
    else:
        _show(found, out)
    return _status(found)


def _report(found: Inspection, sources: Sources, out: Path, options: dict[str, Any]) -> None:
    """Write the report, with the pictures that were drawn."""
    from bubblegrade.show.report.inspected import inspected_page  # noqa: PLC0415

    graded = {one.casting.photo for one in found.inspected}
    pictures = {
        source.name: (out / source.marked).read_bytes() for source in sources.photographs if source.name in graded
    }
    page = inspected_page(
        found.pieces,
        found.inspected,
        pictures,
        marks=found.mould_marks,
        batch=found.batch,
        limits=found.limits.name,
        version=found.version,
    )
    write_report(options["report"], page, replace=options["replace"])


def _plan(options: dict[str, Any]) -> SamplingPlan | None:
    """Return the sampling plan of the batch; None without one."""
    from bubblegrade.quality.sampling import sampling_plan  # noqa: PLC0415

    lot, limit = options["batch"], options["quality_limit"]
    if (lot is None) != (limit is None):
        given, missing = ("--batch", "--quality-limit 1.0") if limit is None else ("--quality-limit", "--batch 120")
        raise InputError(f"{given} says nothing alone: add {missing}")
    if lot is None:
        return None
    try:
        percent = decimal(limit.strip().removesuffix("%"))
    except ValueError:
        raise InputError(f"--quality-limit {limit} is not a number: give one in percent, such as 1.0") from None
    return sampling_plan(lot, percent)


def _sources(
    photographs: tuple[Path, ...], out: Path, options: dict[str, Any]
) -> tuple[Sources, Callable[[Source], Shown]]:
    """Return the photographs, and what tells which piece each shows."""
    from bubblegrade.results.inspect import RECORD_FILE  # noqa: PLC0415
    from bubblegrade.runs.inputs import find_sources  # noqa: PLC0415
    from bubblegrade.runs.inspect import ENDING  # noqa: PLC0415
    from bubblegrade.runs.pieces import by_name, by_pattern, check_names, read_pieces, shown_by  # noqa: PLC0415

    sheet, pattern = options["sheet"], options["pieces"]
    if sheet is not None and (pattern is not None or photographs):
        other = "--pieces" if pattern is not None else "photographs named beside it"
        raise InputError(f"--sheet names the photographs and their pieces: leave out {other}")
    if sheet is None and not photographs:
        raise InputError("no photograph is named: name photographs or folders of them")
    if sheet is not None:
        rows = read_pieces(sheet)
        of = {os.path.abspath(row.path): row.shown for row in rows}
        found = find_sources([row.path for row in rows], out=out, record=RECORD_FILE, ending=ENDING)
        return found, lambda source: of[os.path.abspath(source.path)]
    found = find_sources(photographs, out=out, record=RECORD_FILE, ending=ENDING)
    if pattern is None:
        return found, by_name
    check_names(pattern, found.photographs)
    told = by_pattern(pattern)
    return found, lambda source: shown_by(told, source)


def _settled(limits: Limits, place: Path, task: Task) -> Limits:
    """Return the limits with the zones drawn on a reference photograph carried over; its path counts from the file."""
    from bubblegrade.runs.inspect import with_reference  # noqa: PLC0415

    return limits if limits.reference is None else with_reference(limits, place.parent / limits.reference, task)


def _show(found: Inspection, out: Path) -> None:
    """Print the table and where the results are."""
    from bubblegrade.show.inspect_tables import show_batch, show_mould, show_pieces, show_uncompared  # noqa: PLC0415
    from bubblegrade.show.tables import table_console  # noqa: PLC0415

    console = table_console()
    show_pieces(found.pieces, found.inspected, console)
    show_mould(found.mould_marks, console)
    show_uncompared(found.inspected, console)
    if found.batch is not None:
        show_batch(found.batch, console)
    if console.is_terminal:
        console.print(f"Results in {out}{os.sep}", markup=False, style="dim")


def _status(found: Inspection) -> int:
    """Return the exit status: a fail outweighs what is open."""
    from bubblegrade.inspection.verdicts import Verdict, worst  # noqa: PLC0415

    verdict = worst(piece.verdict for piece in found.pieces)
    if verdict is Verdict.FAIL or (found.batch is not None and found.batch.verdict == "refuse"):
        return FAIL
    undecided = found.batch is not None and found.batch.verdict == "undecided"
    return LOOK_AGAIN if verdict is Verdict.AGAIN or found.not_graded or undecided else PASS


def _came_back(photographs: tuple[Path, ...], out: Path, options: dict[str, Any]) -> int:
    """Compare a piece with its earlier photograph and return the exit status."""
    if options["casting"] is not None:
        from bubblegrade.runs.from_log import earlier_and_later  # noqa: PLC0415

        photographs = earlier_and_later(photographs, options["casting"], log_place(options["place"]))
    if len(photographs) != 2:  # noqa: PLR2004
        raise InputError(f"--again compares two photographs, not {len(photographs)}: name the earlier, then the later")
    for name in ("limits", "pieces", "sheet", "batch", "quality_limit", "report"):
        if options[name] is not None:
            raise InputError(f"--{name.replace('_', '-')} says nothing with --again: leave it out")
    # Everything below needs the libraries that grade, which help and slips of the pen need not wait for.
    from bubblegrade.results.folder import ResultFolder  # noqa: PLC0415
    from bubblegrade.results.regrowth import RECORD_FILE, write_regrowth  # noqa: PLC0415
    from bubblegrade.runs.regrowth import compare_photographs, two_sources  # noqa: PLC0415
    from bubblegrade.show.regrowth import show_regrowth  # noqa: PLC0415
    from bubblegrade.show.tables import table_console  # noqa: PLC0415

    sources = two_sources(photographs, out)
    with ResultFolder.prepare(out, replace=options["replace"], record=RECORD_FILE) as folder:
        with reports_on(len(sources.photographs)) as reports:
            task, same = grading_task(options), options["same_setup"]
            found = compare_photographs(sources, task, folder, reports, same_setup=same)
        if found is None:
            raise click.exceptions.Exit(NOTHING_USABLE)  # takes back what was written
        text = write_regrowth(folder, found)
    if options["as_json"]:
        click.echo(text.encode("utf-8", errors="backslashreplace"), nl=False)
    else:
        show_regrowth(found.earlier, found.later, found.regrowth, table_console(), remarks=found.remarks)
    return REGROWTH_STATUS.get(found.regrowth.verdict, LOOK_AGAIN)
