"""`bubblegrade hold`: the pressure-hold test, from readings of the pot's dial or from photographs of it."""

from __future__ import annotations

from importlib.metadata import version
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

from bubblegrade.commands.pressure_options import air_options, limit_options
from bubblegrade.commands.report_option import checked_report, report_option, write_report
from bubblegrade.errors import InputError

if TYPE_CHECKING:
    from bubblegrade.pressure.hold import Held

HOLDS, LEAKS_OR_ABOVE_A_LIMIT, CANNOT_TELL = 0, 1, 3  # exit statuses
PICTURE: Final = "hold"  # its files' name without a suffix


@click.command()
@click.argument("readings", nargs=-1, metavar="TIME=GAUGE_OR_PHOTO[@TEMPERATURE]...")
@click.option(
    "--sheet", metavar="FILE.csv", type=click.Path(path_type=Path), help="Table of readings: time, gauge, temperature."
)
@click.option("--gel", metavar="TIME", help="From the first reading to the resin's gel, such as 20min.")
@click.option("--release", metavar="TIME", help="From the first reading to letting the pressure off, such as 12h.")
@click.option("--allowed", metavar="PRESSURE", help="Drop that may be.  [what makes a void 1 % larger]")
@click.option("--settled", metavar="TIME", help="From filling the pot to the first reading, such as 20min.")
@click.option("--free-volume", metavar="VOLUME", help="Air in the pot: less moulds and contents, such as 7.5l.")
@click.option("--range", "span", metavar="RANGE", help="What the dial spans, such as '0-100 psi'.")
@click.option("--class", "grade", metavar="CLASS", help="The dial's grade or class, such as B or 1.6.  [B]")
@click.option("--graduation", metavar="PRESSURE", help="From one mark of the dial to the next, such as 2psi.")
@click.option("--temperature-doubt", metavar="DIFFERENCE", help="Of the air's change, one sigma, such as 0.5C.  [1C]")
@click.option("--shows", metavar="PRESSURE", help="What the dial shows in the first photograph, such as 60psi.")
@click.option("--sweep", metavar="ANGLE", help="From one end of the dial's scale to the other.  [270deg]")
@air_options
@limit_options
@click.option("--out", metavar="DIR", type=click.Path(path_type=Path), help="Folder for log, record and picture.")
@report_option
@click.option("--replace", is_flag=True, help="Replace an earlier hold test in DIR.")
@click.option("--json", "as_json", is_flag=True, help="Print hold.json instead of the report.")
@click.pass_context
def hold(ctx: click.Context, /, readings: tuple[str, ...], out: Path | None, **options: Any) -> None:
    """Say whether a closed pot holds its pressure, from two or more readings of its dial.

    Write each reading as 0min=60psi@24C 2h=59.5psi@23C, with times of day as 08:15=60psi@24C, or give --sheet. A
    photograph of the dial may stand for what it shows: 0min=before.jpg@24C 2h=after.jpg@23C --shows 60psi.

    Exit status: 0 it holds; 1 it leaks, or a reading lies above a limit; 2 nothing usable; 3 it cannot be told in this
    time.
    """
    sheet = options["sheet"]
    if not readings and sheet is None:
        raise InputError("no reading is given: write 0min=60psi@24C 2h=59.5psi@23C, or give a sheet with --sheet")
    if readings and sheet is not None:
        raise InputError(f"readings are given here and in {sheet}: write all into the sheet, or leave it out")
    checked_report(options["report"], out, replace=options["replace"])
    # Everything below needs the libraries that calculate, which help and slips of the pen need not wait for.
    from bubblegrade.commands.hold_question import stated_hold  # noqa: PLC0415
    from bubblegrade.pressure.hold import Answer  # noqa: PLC0415
    from bubblegrade.pressure.hold import hold as judge  # noqa: PLC0415
    from bubblegrade.pressure.hold_checks import stops_on  # noqa: PLC0415
    from bubblegrade.show.cautions import show_stops  # noqa: PLC0415
    from bubblegrade.show.tables import table_console  # noqa: PLC0415

    test = stated_hold(readings, options)
    if stopped := stops_on(test):
        show_stops(stopped, table_console())
        ctx.exit(LEAKS_OR_ABOVE_A_LIMIT)
    held = judge(test)
    text = None if out is None else _written(held, out, replace=options["replace"])
    if options["report"] is not None:
        _report(held, options)
    if options["as_json"]:
        # In UTF-8, whatever the terminal's own code is.
        click.echo((text or _json(held)).encode("utf-8", errors="backslashreplace"), nl=False)
    else:
        _show(held)
    ctx.exit({Answer.HOLDS: HOLDS, Answer.LEAKS: LEAKS_OR_ABOVE_A_LIMIT, Answer.CANNOT_TELL: CANNOT_TELL}[held.answer])


def _report(held: Held, options: dict[str, Any]) -> None:
    """Write the report."""
    from bubblegrade.show.report.verdicts import hold_page  # noqa: PLC0415

    write_report(options["report"], hold_page(held, version=version("bubblegrade")), replace=options["replace"])


def _json(held: Held) -> str:
    """Return the record of a test that leaves no files."""
    from bubblegrade.results.hold import hold_json  # noqa: PLC0415

    return hold_json(held, version=version("bubblegrade"))


def _written(held: Held, out: Path, *, replace: bool) -> str:
    """Write a test into its folder and return its record."""
    from bubblegrade.results.folder import ResultFolder  # noqa: PLC0415
    from bubblegrade.results.hold import RECORD_FILE, write_hold  # noqa: PLC0415
    from bubblegrade.show.hold_picture import hold_picture  # noqa: PLC0415

    picture = hold_picture(held)
    with ResultFolder.prepare(out, replace=replace, record=RECORD_FILE) as folder:
        folder.write_text(f"{PICTURE}.svg", picture.svg)
        folder.write_bytes(f"{PICTURE}.png", picture.png)
        return write_hold(folder, held, version=version("bubblegrade"), pictures=folder.written)


def _show(held: Held) -> None:
    """Print a test."""
    from bubblegrade.show.hold_tables import show_hold  # noqa: PLC0415
    from bubblegrade.show.tables import table_console  # noqa: PLC0415

    show_hold(held, table_console())
