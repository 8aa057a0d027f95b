"""`bubblegrade window`: how long the resin gives, which voids rise out, and what is left to see at each pressure."""

from __future__ import annotations

from importlib.metadata import version
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

from bubblegrade.commands.pressure_options import air_options, limit_options
from bubblegrade.commands.report_option import checked_report, report_option, write_report

if TYPE_CHECKING:
    from bubblegrade.pressure.window import Window

STATUS: Final = {"in time": 0, "too late": 1, "perhaps too late": 3}
PICTURE: Final = "window"  # its files' name without a suffix


@click.command()
@click.argument("pressures", nargs=-1, metavar="PRESSURE...")
@click.option(
    "--gel-time", multiple=True, metavar="TIME@TEMPERATURE", help="Of the data sheet, such as 20min@25C; once or twice."
)
@click.option("--room", metavar="TEMPERATURE", default="25C", show_default=True, help="Where the resin stands.")
@click.option("--mix", metavar="TIME", help="Mixing, from the first stir, such as 3min.")
@click.option("--pour", metavar="TIME", help="Pouring.")
@click.option("--close", metavar="TIME", help="Closing the pot.")
@click.option("--fill", metavar="TIME", help="Filling the pot, until the pressure stands.")
@click.option("--activation", metavar="X", help="Activation energy of the cure in kJ/mol.  [halving per 10 K]")
@click.option("--viscosity", metavar="X@TEMPERATURE", help="Of the mixed resin, such as 600cP@25C; with --depth.")
@click.option("--depth", metavar="LENGTH", help="From the casting's bottom to where voids leave it, such as 12mm.")
@click.option("--gelled", metavar="X", help="Viscosity at gel.  [100 Pa s]")
@click.option("--density", metavar="X", help="Of the resin.  [1.1g/cm3]")
@click.option("--visible", metavar="LENGTH", help="From which size on a void disturbs.  [0.087mm]")
@click.option("--diffusivity", metavar="X", help="Of air in the resin, in m2/s; with the next two.")
@click.option("--solubility", metavar="X", help="Dissolved over free air, by volume.")
@click.option("--saturation", metavar="X", help="How far the resin is saturated with air when poured, 0 to 1.")
@air_options
@limit_options
@click.option("--out", metavar="DIR", type=click.Path(path_type=Path), help="Folder for table, record and picture.")
@report_option
@click.option("--replace", is_flag=True, help="Replace an earlier window in DIR.")
@click.option("--json", "as_json", is_flag=True, help="Print window.json instead of the report.")
@click.pass_context
def window(ctx: click.Context, /, pressures: tuple[str, ...], out: Path | None, **options: Any) -> None:
    """Say how long the resin gives, and which voids are left to see at gel at each PRESSURE.

    The clock starts with the first stir. Sizes are those of voids in open air.

    Exit status: 0 the pressure stands in time; 1 it comes too late, or lies above a limit; 2 nothing usable; 3 perhaps
    too late.
    """
    # Everything below needs the libraries that calculate, which help and slips of the pen need not wait for.
    from bubblegrade.commands.window_question import stated_window  # noqa: PLC0415
    from bubblegrade.pressure.situation import Situation  # noqa: PLC0415
    from bubblegrade.pressure.stops import stops  # noqa: PLC0415
    from bubblegrade.pressure.window import resin_window  # noqa: PLC0415
    from bubblegrade.show.cautions import show_stops  # noqa: PLC0415
    from bubblegrade.show.tables import table_console  # noqa: PLC0415
    from bubblegrade.show.window_tables import show_window  # noqa: PLC0415

    checked_report(options["report"], out, replace=options["replace"])
    question, limits = stated_window(pressures, options)
    if stopped := stops(Situation(limits, question.pressures, question.atmosphere_kpa)):
        show_stops(stopped, table_console())
        ctx.exit(STATUS["too late"])
    found = resin_window(question)
    text = _json(found) if out is None else _written(found, out, replace=options["replace"])
    if options["report"] is not None:
        _report(found, options)
    if options["as_json"]:
        # In UTF-8, whatever the terminal's own code is.
        click.echo(text.encode("utf-8", errors="backslashreplace"), nl=False)
    else:
        show_window(found, table_console())
    ctx.exit(STATUS[found.verdict])


def _report(found: Window, options: dict[str, Any]) -> None:
    """Write the report."""
    from bubblegrade.show.report.verdicts import window_page  # noqa: PLC0415

    write_report(options["report"], window_page(found, version=version("bubblegrade")), replace=options["replace"])


def _json(found: Window) -> str:
    """Return the record of a window that leaves no files."""
    from bubblegrade.results.window import window_json  # noqa: PLC0415

    return window_json(found, version=version("bubblegrade"))


def _written(found: Window, out: Path, *, replace: bool) -> str:
    """Write a window into its folder and return its record."""
    from bubblegrade.results.folder import ResultFolder  # noqa: PLC0415
    from bubblegrade.results.window import RECORD_FILE, write_window  # noqa: PLC0415
    from bubblegrade.show.plot_window import sizes_by_pressure  # noqa: PLC0415

    picture = sizes_by_pressure(found)
    with ResultFolder.prepare(out, replace=replace, record=RECORD_FILE) as folder:
        folder.write_text(f"{PICTURE}.svg", picture.svg)
        folder.write_bytes(f"{PICTURE}.png", picture.png)
        return write_window(folder, found, version=version("bubblegrade"), pictures=folder.written)
