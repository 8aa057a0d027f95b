"""`bubblegrade log`: what was cast and what came out, remembered in one file, and asked why."""

from __future__ import annotations

import click

from bubblegrade.commands.log_asking import chart, why
from bubblegrade.commands.log_entering import add, attach, correct, note, untie
from bubblegrade.commands.log_keeping import backup, check, export, import_, rescue
from bubblegrade.commands.log_reading import find, list_, show

COMMANDS = (add, list_, show, note, correct, attach, untie, find, chart, why, export, import_, check, backup, rescue)


@click.group(no_args_is_help=False, invoke_without_command=True)
@click.pass_context
def log(ctx: click.Context) -> None:
    """Keep a log of castings: what was cast, what came out, and why.

    The log is one file: that of --log, else of the environment variable BUBBLEGRADE_LOG, else castings.sqlite in the
    folder bubblegrade of your data folder: %LOCALAPPDATA% on Windows, ~/Library/Application Support on macOS, elsewhere
    $XDG_DATA_HOME or ~/.local/share. Any program that opens SQLite files reads it.

    Exit status: 0 done; 1 'check' found faults; 2 nothing usable; 3 done in part, or it cannot be told.
    """
    if ctx.invoked_subcommand is None:
        click.echo(ctx.get_help())


for command in COMMANDS:
    log.add_command(command)
