"""Options that the log's commands share: which log, which castings, who writes, and one for every field."""

from __future__ import annotations

import getpass
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, TypeVar

import click

from bubblegrade.commands.whole_number import WholeNumber
from bubblegrade.records.fields import FIELDS
from bubblegrade.records.place import log_place

if TYPE_CHECKING:
    from bubblegrade.records.log import Log
    from bubblegrade.records.reading import Chosen

LARGEST: Final = 2**63 - 1  # number that the file can hold

Command = TypeVar("Command", bound=Callable[..., Any])


NUMBER: Final = WholeNumber(12, most=LARGEST, beyond="more than a log can hold")  # of a casting, or of castings


def log_option(command: Command) -> Command:
    """Add --log, which `the_log` and `the_place` read."""
    file = click.Path(path_type=Path, dir_okay=False)
    return click.option("--log", "place", metavar="FILE", type=file, help="The log's file.  [yours]")(command)


def by_option(command: Command) -> Command:
    """Add --by: who makes the entry."""
    return click.option("--by", metavar="NAME", help="Who makes this entry.  [your user name]")(command)


def field_options(command: Command) -> Command:
    """Add an option for every field of a casting."""
    for field in reversed(FIELDS):
        option = click.option(
            field.option, field.name, metavar=field.kind.example, help=field.words,
            shell_complete=partial(_begun_so, field.kind.choices),
        )  # fmt: skip
        command = option(command)
    return command


def _begun_so(words: Sequence[str], _ctx: click.Context, _param: click.Parameter, begun: str) -> list[str]:
    """Return those of the words that the shell may offer."""
    return [word for word in words if word.startswith(begun.lower())]


def chosen_options(command: Command) -> Command:
    """Add the options that `chosen` reads."""
    for field in reversed([field for field in FIELDS if field.chosen_by]):
        command = click.option(field.option, field.name, metavar="TEXT", help=f"Only this {field.name}.")(command)
    for option in (
        click.option("--until", metavar="DAY", help="Cast on this day or before."),
        click.option("--since", metavar="DAY", help="Cast on this day or later, such as 2026-03-01."),
        click.option("--last", metavar="N", type=NUMBER, help="Only the newest N."),
    ):
        command = option(command)
    return command


def chosen(options: dict[str, Any], *, usual: int | None = None) -> Chosen:
    """Return which castings the options choose; `usual` is how many without --last."""
    from bubblegrade.records.reading import CHOSEN_BY, Chosen  # noqa: PLC0415

    equal = {name: options[name] for name in CHOSEN_BY if options[name] is not None}
    last = usual if options["last"] is None else options["last"]
    return Chosen(equal, since=options["since"], until=options["until"], last=last)


def the_place(options: dict[str, Any]) -> Path:
    """Return the log's file."""
    return log_place(options["place"])


@contextmanager
def the_log(options: dict[str, Any], *, create: bool = False) -> Iterator[Log]:
    """Open the log that the options name; entries are by --by, else by the machine's user."""
    from bubblegrade.records.log import open_log  # noqa: PLC0415

    by = options.get("by") or _user()
    with open_log(the_place(options), create=create, by=by) as opened:
        yield opened


def _user() -> str | None:
    """Return the name of the machine's user; None where it has none."""
    try:
        return getpass.getuser()
    except (OSError, KeyError, ImportError):
        return None
