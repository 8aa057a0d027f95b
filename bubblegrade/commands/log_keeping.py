"""`bubblegrade log export`, `import`, `check`, `backup` and `rescue`: the log as files, and kept sound."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from bubblegrade.commands.log_options import log_option, the_log, the_place
from bubblegrade.commands.one_of import OneOf
from bubblegrade.errors import BubblegradeError, InputError, OutputError

SOUND, FAULTY, DONE, IN_PART = 0, 1, 0, 3  # exit statuses
FILE = click.Path(path_type=Path)


@click.command(short_help="Write the whole log as CSV or JSON.")
@click.argument("out", metavar="DIR", type=FILE)
@click.option("--as", "form", type=OneOf(["csv", "json"]), default="csv", show_default=True,
              help="A CSV file for each table, or one log.json.")  # fmt: skip
@click.option("--replace", is_flag=True, help="Replace an earlier export in DIR.")
@log_option
def export(*, out: Path, form: str, replace: bool, **options: Any) -> None:
    """Write the whole log into DIR as CSV or JSON; 'import' reads both back without loss."""
    from bubblegrade.records.dump import TABLES, tables_out  # noqa: PLC0415
    from bubblegrade.results.folder import ResultFolder  # noqa: PLC0415
    from bubblegrade.runs.log_sheet import CSV_ENDING, JSON_FILE, log_json, table_csv  # noqa: PLC0415

    if out.suffix.lower() in {CSV_ENDING, Path(JSON_FILE).suffix} and not out.is_dir():
        raise InputError(
            f"{out} looks like a file, and an export is a folder: name one, with --as json for {JSON_FILE}"
        )
    record, other = JSON_FILE, f"{TABLES[0]}{CSV_ENDING}"
    if form == "csv":
        record, other = other, record
    if (out / other).is_file():
        raise OutputError(f"{out} holds an export in the other form, {other}, which 'import' could take: name another")
    with the_log(options) as log, ResultFolder.prepare(out, replace=replace, record=record) as folder:
        if form == "json":
            folder.write_text(JSON_FILE, log_json(tables_out(log.connection)))
        else:
            for name, table in tables_out(log.connection):
                folder.write_text(f"{name}{CSV_ENDING}", table_csv(table))
    click.echo(f"log written into {out}")


@click.command("import", short_help="Read an export into a new log.")
@click.argument("source", metavar="DIR_OR_FILE", type=FILE)
@log_option
def import_(*, source: Path, **options: Any) -> None:
    """Read an export, the folder or its log.json, into a log that holds no casting yet."""
    from bubblegrade.records.dump import TABLES, columns_of, tables_in  # noqa: PLC0415
    from bubblegrade.runs.log_sheet import read_export  # noqa: PLC0415
    from bubblegrade.units import count_of  # noqa: PLC0415

    if not source.exists():
        raise InputError(f"{source} is not there: name the folder that 'bubblegrade log export' wrote")
    place = the_place(options)
    is_new = not place.exists()
    try:
        with the_log(options, create=True) as log:
            types = {table: columns_of(log.connection, table) for table in TABLES}
            castings = tables_in(log.connection, read_export(source, types))
    except BubblegradeError:
        if is_new:
            place.unlink(missing_ok=True)  # an empty log says that nothing was cast
        raise
    click.echo(f"{count_of(castings, 'casting')} read into {place}")


@click.command(short_help="Check that the log is sound.")
@log_option
@click.pass_context
def check(ctx: click.Context, /, **options: Any) -> None:
    """Check that the log is sound: its file, its ties, and every number against the text it was read from.

    Parts as weighed that are far from the ratio are remarked on, and no fault.

    Exit status: 0 sound; 1 faults were found; 2 it cannot be opened.
    """
    from bubblegrade.records.checking import faults, remarks  # noqa: PLC0415
    from bubblegrade.units import count_of  # noqa: PLC0415

    found = 0
    with the_log(options) as log:
        for line in faults(log.connection):
            click.echo(line)
            found += 1
        for line in remarks(log.connection):
            click.echo(line)
        (castings,) = log.connection.execute("SELECT count(*) FROM casting").fetchone()
    click.echo(f"{count_of(castings, 'casting')}, {count_of(found, 'fault') if found else 'sound'}")
    ctx.exit(FAULTY if found else SOUND)


@click.command(short_help="Copy the log, safe while in use.")
@click.argument("to", metavar="FILE", type=FILE)
@click.option("--replace", is_flag=True, help="Replace an earlier backup.")
@log_option
def backup(*, to: Path, replace: bool, **options: Any) -> None:
    """Copy the log to FILE as it is at this moment, while others may write to it."""
    from bubblegrade.records.checking import back_up  # noqa: PLC0415

    with the_log(options) as log:
        back_up(log.connection, to, replace=replace)
    click.echo(f"log copied to {to}")


@click.command(short_help="Save what can be read of a damaged log.")
@click.argument("new", metavar="NEW", type=FILE)
@log_option
@click.pass_context
def rescue(ctx: click.Context, /, *, new: Path, **options: Any) -> None:
    """Take what can be read of a damaged log, or of one from a newer version, into the new log NEW.

    The damaged file is left as it is.

    Exit status: 0 all was saved; 2 nothing could be read; 3 rows are lost, or it cannot be told.
    """
    from bubblegrade.records.salvage import salvage  # noqa: PLC0415
    from bubblegrade.units import count_of  # noqa: PLC0415

    saved = salvage(the_place(options), new)
    for each in saved:
        lost = "how many are lost cannot be told" if each.lost is None else f"{each.lost} lost"
        click.echo(f"{each.table}: {count_of(each.rows, 'row')} saved{'' if each.lost == 0 else f', {lost}'}")
        if each.unknown:
            click.echo(f"{each.table}: not taken, unknown to this version: {', '.join(each.unknown)}")
    if not saved[0].rows:
        raise InputError(f"no casting could be read: go back to the newest backup of {the_place(options)}")
    ctx.exit(DONE if all(each.lost == 0 and not each.unknown for each in saved) else IN_PART)
