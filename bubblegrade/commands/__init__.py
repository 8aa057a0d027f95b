"""The command line: one file a command; parse, call, print.

`main` knows the commands by name and one line of help each, and imports a command's file when it is called: help comes
at once, without waiting for the libraries that grade.
"""

from __future__ import annotations

import importlib
import os
import re
import sys
from collections import Counter
from collections.abc import Sequence
from typing import Any, Final, NoReturn

import click

from bubblegrade.errors import BubblegradeError, StoppedError

DONE, NOTHING_USABLE, STOPPED = 0, 2, 130  # exit statuses; 130 is what shells give for Ctrl-C

# Name of each command, which is also its module, and what it does.
COMMANDS: Final = {
    "grade": "Measure the voids in photographs of castings.",
    "photocheck": "Tell whether photographs are fit to measure, and what to do.",
    "inspect": "Hold finished pieces to your own limits: pass, fail or look again.",
    "bench": "Open a page in the browser: drop photographs, see and correct what is found.",
    "shrink": "Compare cups cast at several pressures with Boyle's law.",
    "expect": "Predict what pressure leaves of a void, or plan a trial.",
    "hold": "Tell from readings of the dial whether the pot holds its pressure.",
    "window": "Say how long the resin gives and which voids are left to see at gel.",
    "weigh": "Measure density and void content by weight.",
    "card": "Write a scale card to print and photograph with a casting.",
    "lens": "Calibrate a camera's lens from photographs of the scale card.",
    "selfcheck": "Tell whether this installation works.",
    "log": "Keep a log of castings: what was cast, what came out, and why.",
}
_A_PRESSURE: Final = re.compile(r"^-[\d.,e ]*(psi|bar|mbar|[kmh]?pa)", re.IGNORECASE)
SHARED_LIBRARY: Final = ".so"  # in an ImportError: a library cannot be loaded; no package is missing
NO_FILE: Final = "No such file"  # and this: it is one of the system, and not installed


class _Commands(click.Group):
    """Commands imported when they are called, and the one place where errors become lines."""

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002
        """Return the names of all commands."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:  # noqa: ARG002
        """Return a command by its name."""
        if cmd_name not in COMMANDS:
            return None
        command = getattr(importlib.import_module(f"bubblegrade.commands.{cmd_name}"), cmd_name)
        assert isinstance(command, click.Command)  # noqa: S101 - every module defines the command of its name
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Return the command that `args` begin with; an unknown one is told its nearest."""
        if args[0] not in COMMANDS and not args[0].startswith("-"):
            from bubblegrade.settings import nearest  # noqa: PLC0415

            ctx.fail(f"No such command '{args[0]}': {nearest(args[0], list(COMMANDS))}")
        name, command, rest = super().resolve_command(ctx, args)
        if command is not None:
            _check_given(command, rest, ctx)
        return name, command, rest

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:  # noqa: ARG002
        """Write the list of commands from their lines here, without importing any."""
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))

    def main(self, args: Sequence[str] | None = None, *_: Any, **extra: Any) -> NoReturn:
        """Run the command line `args` and exit; every error that a user can mend is one line on stderr."""
        for stream in (sys.stdout, sys.stderr):
            if hasattr(stream, "reconfigure"):
                stream.reconfigure(errors="backslashreplace")
        try:
            status = super().main(args, **{**extra, "prog_name": "bubblegrade", "standalone_mode": False})
        except BubblegradeError as error:
            _say(str(error))
            status = STOPPED if isinstance(error, StoppedError) else NOTHING_USABLE
        except click.NoSuchOption as error:
            _say(_option_line(error, sys.argv[1:] if args is None else args))
            status = error.exit_code
        except click.MissingParameter as error:
            _say(_missing_line(error))
            status = error.exit_code
        except click.ClickException as error:
            _say(" ".join(error.format_message().split()))
            status = error.exit_code
        except click.Abort:
            _say("stopped")
            status = STOPPED
        except OSError as error:
            place = error.filename or "what is printed"
            _say(f"{place} cannot be read or written ({error.strerror}): check the disk and your rights to it")
            status = NOTHING_USABLE
        except ImportError as error:
            _say(_library_line(error))
            status = NOTHING_USABLE
        sys.exit(status if isinstance(status, int) else DONE)


def _check_given(command: click.Command, args: Sequence[str], parent: click.Context) -> None:
    """Refuse what would count without a word: an option of one value given twice, and an empty name of a place.

    An empty name, as a variable of the shell that is not set gives it, would be taken for the current folder.
    """
    if isinstance(command, click.Group):
        inner = command.commands.get(args[0]) if args else None
        return None if inner is None else _check_given(inner, args[1:], parent)
    with click.Context(command, parent=parent, resilient_parsing=True) as ctx:
        given, _, order = command.make_parser(ctx).parse_args(list(args))
    single = [param for param in order if isinstance(param, click.Option) and not (param.multiple or param.is_flag)]
    for option, times in Counter(single).items():
        if times > 1:
            raise click.UsageError(f"{option.opts[0]} is given {times} times and takes one value: give it once")
    for param in order:
        value = given[param.name]
        if isinstance(param.type, click.Path) and (value == "" or (isinstance(value, list | tuple) and "" in value)):
            what = param.opts[0] if isinstance(param, click.Option) else "one of the names"
            raise click.UsageError(f"{what} is empty, as a variable that is not set leaves it: name the file or folder")
    return None


def _option_line(error: click.NoSuchOption, args: Sequence[str]) -> str:
    """Return the line for an unknown option; one may be a file's name, or a number below 0, meant as a pressure."""
    file = next((arg for arg in args if arg.startswith(error.option_name) and os.path.lexists(arg)), None)
    if file is not None:
        return f"{file} is a file whose name begins as an option does: write .{os.sep}{file}"
    below = next((arg for arg in args if arg[:1] == "-" and arg[1:2].isdigit()), None)
    if below is None or not below.startswith(error.option_name):
        return " ".join(error.format_message().split())
    if not _A_PRESSURE.search(below):
        return f"{below} is below 0, and no option: times and numbers here are 0 or above"
    return f"{below} is below 0: write a pressure below the atmosphere as an absolute one, such as 3psia"


def _missing_line(error: click.MissingParameter) -> str:
    """Return the line for a word that a command cannot do without."""
    assert error.param is not None  # noqa: S101 - every parameter of a command that is missing is known by click
    assert error.ctx is not None  # noqa: S101
    what = error.param.make_metavar(error.ctx).strip("{}")
    return f"{what} is missing: '{error.ctx.command_path} --help' says what goes there"


def _library_line(error: ImportError) -> str:
    """Return the line for a library that cannot be loaded, with its cure; other import errors are raised again."""
    reason = str(error)
    if SHARED_LIBRARY not in reason:
        raise error
    library, _, why = reason.partition(": ")
    if NO_FILE not in why:
        cure = "close other programs, for their memory and open files, or install bubblegrade anew"
        return f"{library} cannot be loaded ({why}): {cure}"
    return (
        f"OpenCV needs the system library {library}, which cannot be loaded: install it, "
        "on Debian or Ubuntu with: apt install libgl1 libglib2.0-0"
    )


def _say(line: str) -> None:
    click.echo(f"bubblegrade: {line}", err=True)


@click.group(cls=_Commands, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(package_name="bubblegrade", message="%(prog)s %(version)s")
def main() -> None:
    """Measure voids in clear resin castings photographed on a backlight."""
