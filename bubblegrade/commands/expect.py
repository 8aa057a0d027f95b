"""`bubblegrade expect`: what pressure will do to voids, and how many cups would show it, without any photograph."""

from __future__ import annotations

from importlib.metadata import version
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

from bubblegrade.commands.pressure_options import air_options, limit_options
from bubblegrade.errors import InputError

if TYPE_CHECKING:
    from bubblegrade.pressure.expectation import Expectation

DONE, ABOVE_A_LIMIT = 0, 1  # exit statuses
PICTURE: Final = "expect"  # its files' name without a suffix


@click.command()
@click.argument("pressures", nargs=-1, metavar="PRESSURE...")
@air_options
@click.option("--from", "start", metavar="PRESSURE", default="0psi", help="Setting to count from; usually open air.")
@click.option("--size", metavar="LENGTH", help="Diameter of a void to follow, such as 0.2mm.")
@click.option("--close", metavar="TEMPERATURE", help="Resin's temperature when it is poured, such as 24C.")
@click.option("--gel", metavar="TEMPERATURE", help="Resin's temperature at gel, such as 32C.")
@click.option("--tension", metavar="X", help="Surface tension in N/m; 0.035 below 0.05mm, else left out.")
@limit_options
@click.option("--dissolve", is_flag=True, help="Let the void dissolve until gel; needs the next four and --size.")
@click.option("--diffusivity", metavar="X", help="Of air in the resin, in m2/s.")
@click.option("--solubility", metavar="X", help="Dissolved over free air, by volume.")
@click.option("--saturation", metavar="X", help="How far the resin is saturated with air when poured, 0 to 1.")
@click.option("--gel-time", metavar="TIME", help="Time under pressure until gel, such as 20min.")
@click.option("--plan", is_flag=True, help="Plan a trial to tell two pressures apart.")
@click.option("--cup-spread", metavar="X", help="How far cups of one mix differ, in ln d.  [0.05]")
@click.option("--trial", metavar="FILE.json", type=click.Path(path_type=Path), help="Earlier trial with cup_spread.")
@click.option("--mix-spread", metavar="X", help="How far mixes differ, in ln d.  [0.1]")
@click.option("--mixes", metavar="N", help="Mixes to pour over both pressures.  [3]")
@click.option("--voids", metavar="N", help="Voids in a cup.  [200]")
@click.option("--spread", metavar="X", help="Spread of ln d of the voids.  [0.5]")
@click.option("--median", metavar="LENGTH", help="Voids' median diameter at open air, such as 0.4mm.")
@click.option("--smallest", metavar="LENGTH", help="Smallest countable diameter, such as 0.19mm.")
@click.option("--precision", metavar="SHARE", help="Know the ratio of both pressures so well, such as 5%.")
@click.option("--out", metavar="DIR", type=click.Path(path_type=Path), help="Folder for table, record and picture.")
@click.option("--replace", is_flag=True, help="Replace an earlier prediction in DIR.")
@click.option("--json", "as_json", is_flag=True, help="Print expect.json instead of the table.")
@click.pass_context
def expect(ctx: click.Context, /, pressures: tuple[str, ...], out: Path | None, **options: Any) -> None:
    """Predict what pressure leaves of a void, by Boyle's law, every 5 psi up to the highest PRESSURE.

    Pressures are what the pot's dial shows, such as 40psi. Give the limits of pot and mould: nothing above them is
    predicted. With --plan, name two pressures.

    Exit status: 0 done; 1 a pressure lies above a limit; 2 nothing usable.
    """
    if not pressures:
        raise InputError("no pressure is named: name what the dial will show, such as 40psi")
    # Everything below needs the libraries that calculate, which help and slips of the pen need not wait for.
    from bubblegrade.commands.expect_question import stated_question  # noqa: PLC0415
    from bubblegrade.pressure.expectation import expect as foresee  # noqa: PLC0415

    found = foresee(stated_question(pressures, options))
    text = _json(found) if out is None else _written(found, out, replace=options["replace"])
    if options["as_json"]:
        # In UTF-8, whatever the terminal's own code is.
        click.echo(text.encode("utf-8", errors="backslashreplace"), nl=False)
    else:
        _show(found)
    ctx.exit(ABOVE_A_LIMIT if found.stopped else DONE)


def _json(found: Expectation) -> str:
    """Return the record of a prediction that leaves no files."""
    from bubblegrade.results.expect import expectation_json  # noqa: PLC0415

    return expectation_json(found, version=version("bubblegrade"))


def _written(found: Expectation, out: Path, *, replace: bool) -> str:
    """Write a prediction into its folder and return its record."""
    from bubblegrade.results.expect import RECORD_FILE, write_expectation  # noqa: PLC0415
    from bubblegrade.results.folder import ResultFolder  # noqa: PLC0415
    from bubblegrade.show.expectation_picture import expectation_picture  # noqa: PLC0415

    picture = expectation_picture(found)
    with ResultFolder.prepare(out, replace=replace, record=RECORD_FILE) as folder:
        if picture is not None:
            folder.write_text(f"{PICTURE}.svg", picture.svg)
            folder.write_bytes(f"{PICTURE}.png", picture.png)
        return write_expectation(folder, found, version=version("bubblegrade"), pictures=folder.written)


def _show(found: Expectation) -> None:
    """Print a prediction."""
    from bubblegrade.show.expectation import show_expectation  # noqa: PLC0415
    from bubblegrade.show.tables import table_console  # noqa: PLC0415

    show_expectation(found, table_console())
