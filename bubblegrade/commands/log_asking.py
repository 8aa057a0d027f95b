"""`bubblegrade log chart` and `why`: whether a change is more than chance, and what may have made it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

from bubblegrade.commands.log_options import chosen, chosen_options, log_option, the_log
from bubblegrade.commands.one_of import OneOf
from bubblegrade.commands.whole_number import WholeNumber
from bubblegrade.errors import InputError

if TYPE_CHECKING:
    from bubblegrade.runs.log_charts import Charted

TOLD, CANNOT_TELL = 0, 3  # exit statuses
MEASURES: Final = ("voids", "clarity", "shrinkage")
PICTURE: Final = "chart"  # its files' name without a suffix
per_option = click.option(
    "--per", type=OneOf(["cm2", "cm3", "px", "casting"]), default="cm2", show_default=True,
    help="What voids are counted in; casting where all were judged alike.",
)  # fmt: skip


@click.command(short_help="Tell a change from chance, on a chart.")
@click.argument("measure", type=OneOf(MEASURES))
@per_option
@click.option(
    "--base", metavar="N", type=WholeNumber(25), help="Castings, from the first, that the limits come from.  [all]"
)
@chosen_options
@click.option("--out", metavar="DIR", type=click.Path(path_type=Path), help="Folder for picture and table.")
@click.option("--replace", is_flag=True, help="Replace an earlier chart in DIR.")
@log_option
def chart(*, measure: str, per: str, base: int | None, out: Path | None, replace: bool, **options: Any) -> None:
    """Chart voids, clarity or fitted shrinkage over castings, and tell what stands out more than chance makes.

    Counts have limits after Poisson, or wider where castings vary more than chance alone makes them; shrinkage has
    those of single values, and so has clarity, by the root of the share lost. Causes noted with 'note --cause' are
    marked.
    """
    from bubblegrade.runs.log_charts import charted  # noqa: PLC0415
    from bubblegrade.show.chart_tables import chart_words, show_chart  # noqa: PLC0415
    from bubblegrade.show.sentences import say  # noqa: PLC0415
    from bubblegrade.show.tables import table_console  # noqa: PLC0415

    if out is None and replace:
        raise InputError("--replace says nothing without a folder for the results: add --out DIR")
    with the_log(options) as log:
        found = charted(log.connection, measure, chosen(options), per=per, base=base)
    console = table_console()
    said = chart_words(found.chart, found.measured.words, base=base)
    if out is not None:
        _write(found, out, said=said, base=base, replace=replace)
    show_chart(found.chart, found.numbers, found.causes, console, said=said)
    for sentence in found.measured.sentences:
        say(sentence, console)


@click.command(short_help="Compare recipes, moulds and the like, one at a time.")
@click.argument("measure", type=OneOf(MEASURES))
@click.option("--factor", "names", metavar="FIELD", multiple=True,
              help="Compare this field, or hold: what hold tests said; may be repeated.  "
              "[recipe, resin, mould, humidity, operator]")  # fmt: skip
@per_option
@chosen_options
@log_option
@click.pass_context
def why(ctx: click.Context, /, *, measure: str, names: tuple[str, ...], per: str, **options: Any) -> None:
    """Compare castings by recipe, resin, mould, humidity and operator, one at a time.

    A difference is no cause: what was changed together is named, and cannot be told apart. One between groups that were
    graded unlike is not told, but for one that another kind of scale cannot make.

    Exit status: 0 some difference was told; 2 nothing usable; 3 none can be told.
    """
    from bubblegrade.quality.factors import ALIKE  # noqa: PLC0415
    from bubblegrade.runs.log_charts import FACTORS, VOIDS, factors  # noqa: PLC0415
    from bubblegrade.show.chart_tables import show_factors  # noqa: PLC0415
    from bubblegrade.show.sentences import say  # noqa: PLC0415
    from bubblegrade.show.tables import table_console  # noqa: PLC0415

    with the_log(options) as log:
        found, compared = factors(log.connection, measure, chosen(options), names or FACTORS, per)
    console = table_console()
    show_factors(compared, console, rates=measure == VOIDS)
    for sentence in found.sentences:
        say(sentence, console)
    told = any(each.word != ALIKE for factor in compared for each in factor.differences)
    ctx.exit(TOLD if told else CANNOT_TELL)


def _write(found: Charted, out: Path, *, said: str, base: int | None, replace: bool) -> None:
    """Write the picture and the table of a chart."""
    from bubblegrade.results.folder import ResultFolder  # noqa: PLC0415
    from bubblegrade.results.tables import csv_of_columns  # noqa: PLC0415
    from bubblegrade.runs.log_charts import table_columns  # noqa: PLC0415
    from bubblegrade.show.plot_chart import Run, control_chart  # noqa: PLC0415

    measured = found.measured
    run = Run(found.chart, found.numbers, measured.words, said, measured.sentences, found.causes, base)
    picture = control_chart(run)
    table = f"{PICTURE}.csv"
    with ResultFolder.prepare(out, replace=replace, record=table) as folder:
        folder.write_text(f"{PICTURE}.svg", picture.svg)
        folder.write_bytes(f"{PICTURE}.png", picture.png)
        folder.write_text(table, csv_of_columns(table_columns(found)))
