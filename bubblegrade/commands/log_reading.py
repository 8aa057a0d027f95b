"""`bubblegrade log list`, `show` and `find`: what the log holds."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from bubblegrade.commands.log_options import NUMBER, chosen, chosen_options, log_option, the_log
from bubblegrade.errors import InputError
from bubblegrade.runs.ranges import USUALLY_LISTED

if TYPE_CHECKING:
    from bubblegrade.records.reading import Whole


@click.command("list", short_help="List castings.")
@chosen_options
@click.option("--all", "every", is_flag=True, help=f"All of them, not the newest {USUALLY_LISTED}.")
@click.option("--json", "as_json", is_flag=True, help="Print the list as JSON.")
@log_option
def list_(*, every: bool, as_json: bool, **options: Any) -> None:
    """List castings in the order they were cast, with their newest grading."""
    from bubblegrade.records.reading import CHOSEN_BY, count, listed  # noqa: PLC0415

    with the_log(options) as log:
        which = chosen(options, usual=None if every else USUALLY_LISTED)
        rows = [dict(row) for row in listed(log.connection, which)]
        total = count(log.connection, which)
    if as_json:
        _print_json(rows)
        return
    from bubblegrade.show.log_tables import show_list  # noqa: PLC0415
    from bubblegrade.show.sentences import say  # noqa: PLC0415
    from bubblegrade.show.tables import table_console  # noqa: PLC0415

    console = table_console()
    if rows:
        show_list(rows, ("id", "date", *CHOSEN_BY), console)
    if not total:
        say("No casting of the log is like that.", console)
    elif len(rows) < total:
        say(f"{len(rows)} of {total} castings.", console)


@click.command(short_help="Show all that is known of a casting.")
@click.argument("number", type=NUMBER)
@click.option("--json", "as_json", is_flag=True, help="Print all of it as JSON, the records included.")
@log_option
def show(*, number: int, as_json: bool, **options: Any) -> None:
    """Show all that the log knows of casting NUMBER, and name what it does not."""
    from bubblegrade.records.reading import whole  # noqa: PLC0415

    with the_log(options) as log:
        found = whole(log.connection, number)
        query = "SELECT result_id, text FROM record JOIN result ON result.id = result_id WHERE casting_id = ?"
        records = dict(tuple(row) for row in log.connection.execute(query, (number,)))
    if not as_json:
        _show(found)
        return
    results = [{**dict(row), "record": json.loads(records[row["id"]])} for row in found.results]
    parts = {name: [dict(row) for row in getattr(found, name)] for name in ("photos", "notes", "history")}
    _print_json({"casting": dict(found.casting), **parts, "results": results})


@click.command(short_help="Find the castings of a photograph.")
@click.argument("photograph", type=click.Path(path_type=Path))
@log_option
def find(*, photograph: Path, **options: Any) -> None:
    """Find the castings that PHOTOGRAPH is of, by its bytes and whatever its name."""
    from bubblegrade.records.reading import castings_of  # noqa: PLC0415
    from bubblegrade.runs.log_folder import photo_of  # noqa: PLC0415

    photo = photo_of(photograph)
    with the_log(options) as log:
        numbers = castings_of(log.connection, [photo.sha256])
    if not numbers:
        raise InputError(
            f"{photograph} is of no casting in the log: enter it with 'log add --photo', or tie its result"
        )
    for number in numbers:
        click.echo(f"casting {number}")


def _show(found: Whole) -> None:
    """Print a casting."""
    from bubblegrade.runs.log_casting import entered, field_lines, parts, was_pressed  # noqa: PLC0415
    from bubblegrade.runs.log_unlike import unlike_results  # noqa: PLC0415
    from bubblegrade.show.cautions import show_cautions  # noqa: PLC0415
    from bubblegrade.show.log_tables import show_fields, show_results, show_rows  # noqa: PLC0415
    from bubblegrade.show.sentences import say  # noqa: PLC0415
    from bubblegrade.show.tables import table_console  # noqa: PLC0415

    console = table_console()
    say(entered(found.casting), console)
    show_fields(field_lines(found.casting), console)
    for heading, columns, rows in parts(found):
        console.print(f"\n{heading}:")
        show_rows(rows, columns, console)
    if found.results:
        console.print("\nResults:")
        show_results([dict(row) for row in found.results], console)
        for sentence in unlike_results(found.results):
            say(sentence, console)
    if was_pressed(found.casting):
        console.print()
        show_cautions(console)


def _print_json(held: object) -> None:
    # In UTF-8, whatever the terminal's own code is.
    click.echo(json.dumps(held, ensure_ascii=False, indent=1).encode("utf-8", errors="backslashreplace"))
