"""`bubblegrade bench`: a page in the browser for the whole job, served from this machine."""

from __future__ import annotations

import getpass
import importlib.util
import webbrowser
from importlib.metadata import version
from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

from bubblegrade.commands.log_options import log_option
from bubblegrade.commands.whole_number import WholeNumber
from bubblegrade.errors import InputError

if TYPE_CHECKING:
    from bubblegrade.bench.serving import Told

NEEDED: Final = ("starlette", "uvicorn")  # of the extra `bench`


@click.command()
@click.argument("folder", default=".", metavar="[FOLDER]", type=click.Path(path_type=Path))
@click.option(
    "--port",
    metavar="N",
    type=WholeNumber(8750, most=65535, beyond="above 65535, the last port"),
    help="Port of the page.  [8750, or a free one]",
)
@click.option("--share", is_flag=True, help="Let phones on the same network in, each with a one-time code.")
@click.option("--no-browser", is_flag=True, help="Do not open the page, only say where it is.")
@log_option
@click.option("--who", metavar="NAME", help="Who corrects at this machine.  [name of the user]")
def bench(
    folder: Path, *, port: int | None, share: bool, no_browser: bool, who: str | None, place: Path | None
) -> None:
    """Open a page for the photographs in FOLDER: drop them in, see them graded, correct what was found.

    Everything stays in FOLDER: the photographs, and below FOLDER/bench a result for each, as grade writes it, with the
    corrections beside it. Nothing is sent elsewhere. End it with Ctrl-C; nothing is lost.

    Exit status: 0 done; 2 nothing usable.
    """
    missing = [name for name in NEEDED if importlib.util.find_spec(name) is None]
    if missing:
        raise InputError(f"{' and '.join(missing)} not installed: pip install 'bubblegrade[bench]'")
    if not folder.is_dir():
        raise InputError(f"{folder} is no folder: name the folder with the photographs, or make it first")
    from bubblegrade.bench.serving import serve  # noqa: PLC0415
    from bubblegrade.corrected.changes import check_name  # noqa: PLC0415

    name = _user() if who is None else who
    check_name(name, "--who")

    def tell(told: Told) -> None:
        click.echo(f"The bench is at {told.url}  (Ctrl-C ends it)")
        if share and not told.shared_url:
            click.echo("This machine is on no network: nothing to share.")
        elif share:
            click.echo(f"From a phone on the same network: {told.shared_url}  code {told.code}, good for one device")
        if not no_browser:
            webbrowser.open(told.url)

    serve(folder.resolve(), port=port, share=share, who=name, version=version("bubblegrade"), tell=tell, log=place)


def _user() -> str:
    try:
        return getpass.getuser()
    except (OSError, KeyError):
        return "somebody"
