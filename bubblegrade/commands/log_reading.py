"""`bubblegrade log list`, `show` and `find`: what the log holds."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

from bubblegrade.commands.log_options import NUMBER, chosen, chosen_options, log_option, the_log
from bubblegrade.errors import InputError
from bubblegrade.records.fields import FIELDS

if TYPE_CHECKING:
    from bubblegrade.records.reading import Row, Whole

USUALLY: Final = 30  # castings that a list shows
MANY: Final = 1e6  # from here on numbers are shown without decimals and without an exponent
PARTS: Final = (
    ("Photographs", "photos", ("name", "sha256")),
    ("Notes", "notes", ("at", "by", "text", "cause")),
    ("Corrected", "history", ("at", "by", "field", "old", "new", "why")),
)


@click.command("list", short_help="List castings.")
@chosen_options
@click.option("--all", "every", is_flag=True, help=f"All of them, not the newest {USUALLY}.")
@click.option("--json", "as_json", is_flag=True, help="Print the list as JSON.")
@log_option
def list_(*, every: bool, as_json: bool, **options: Any) -> None:
    """List castings in the order they were cast, with their newest grading."""
    from bubblegrade.records.reading import CHOSEN_BY, count, listed  # noqa: PLC0415

    with the_log(options) as log:
        which = chosen(options, usual=None if every else USUALLY)
        rows = [dict(row) for row in listed(log.connection, which)]
        total = count(log.connection, which)
    if as_json:
        _print_json(rows)
        return
    from bubblegrade.show.log_tables import say, show_list  # noqa: PLC0415
    from bubblegrade.show.tables import table_console  # noqa: PLC0415

    console = table_console()
    if rows:
        show_list(rows, ("id", "date", *CHOSEN_BY), console)
    if len(rows) < total or not rows:
        say(f"{len(rows)} of {total} castings.", console)


@click.command(short_help="Show all that is known of a casting.")
@click.argument("number", type=NUMBER)
@click.option("--json", "as_json", is_flag=True, help="Print all of it as JSON, the records included.")
@log_option
def show(*, number: int, as_json: bool, **options: Any) -> None:
    """Show all that the log knows of casting NUMBER; a dash stands for what is unknown."""
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
    from bubblegrade.show.cautions import show_cautions  # noqa: PLC0415
    from bubblegrade.show.log_tables import say, show_fields, show_results, show_rows  # noqa: PLC0415
    from bubblegrade.show.tables import table_console  # noqa: PLC0415

    console, casting = table_console(), found.casting
    by = f" by {casting['entered_by']}" if casting["entered_by"] else ""
    say(f"Casting {casting['id']}, entered {casting['entered_at']}{by}", console)
    lines = [(field.name, casting[field.name], _number(casting, field.number, field.kind.shown)) for field in FIELDS]
    show_fields(lines, console)
    for heading, name, columns in PARTS:
        rows = [dict(row) for row in getattr(found, name)]
        if rows:
            console.print(f"\n{heading}:")
            marked = [{**row, "cause": "cause" if row["cause"] else None} if "cause" in row else row for row in rows]
            show_rows(marked, columns, console)
    if found.results:
        console.print("\nResults:")
        show_results([dict(row) for row in found.results], console)
    if any(casting[field.name] for field in FIELDS if field.kind.unit == "kpa_gauge"):
        console.print()
        show_cautions(console)


def _number(casting: Row, column: str | None, unit: str) -> str:
    """Return a number as the log keeps it."""
    if column is None or casting[column] is None:
        return ""
    value = casting[column]
    return f"{value:.0f} {unit}" if abs(value) >= MANY else f"{value:.6g} {unit}"


def _print_json(held: object) -> None:
    # In UTF-8, whatever the terminal's own code is.
    click.echo(json.dumps(held, ensure_ascii=False, indent=1).encode("utf-8", errors="backslashreplace"))
