"""The option of a report: one HTML file beside what else a command leaves."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from bubblegrade.errors import OutputError

if TYPE_CHECKING:
    from bubblegrade.show.report.page import Page

Command = TypeVar("Command", bound=Callable[..., Any])
SUFFIXES = (".html", ".htm")


def report_option(command: Command) -> Command:
    """Add --report, which `checked_report` and `write_report` read."""
    path = click.Path(path_type=Path)
    return click.option(
        "--report", metavar="FILE.html", type=path, help="Write a report to look at, print or pass on."
    )(command)


def checked_report(place: Path | None, out: Path | None, *, replace: bool) -> None:
    """Refuse a place for the report that would fail only after all the work.

    Its folder may be `out`, the folder of the results, or lie below it, and be made with it.

    Raises
    ------
    OutputError
        It has another suffix, exists already, or its folder does not exist and is not among the results.
    """
    if place is None:
        return
    if place.suffix.lower() not in SUFFIXES:
        raise OutputError(f"--report {place} is no page: name a file that ends in .html")
    if place.is_dir() or not (place.absolute().parent.is_dir() or _to_be_made(place, out)):
        raise OutputError(f"--report {place} cannot be written: name a file in a folder that exists")
    if place.exists() and not replace:
        raise OutputError(f"--report {place} exists already: add --replace, or name another file")


def _to_be_made(place: Path, out: Path | None) -> bool:
    """Say whether the folder of a report is that of the results or below it, and no file stands in its way."""
    if out is None:
        return False
    folder, results = Path(os.path.abspath(place)).parent, Path(os.path.abspath(out))
    there = next(one for one in (folder, *folder.parents) if os.path.lexists(one))
    return folder.is_relative_to(results) and there.is_dir()


def write_report(place: Path, page: Page, *, replace: bool) -> None:
    """Write a report, whole or not at all.

    Raises
    ------
    OutputError
        It cannot be written.
    """
    from bubblegrade.results.folder import ResultFolder  # noqa: PLC0415
    from bubblegrade.show.report.page import page_html  # noqa: PLC0415

    with ResultFolder.prepare(place.absolute().parent, replace=replace, record=place.name) as folder:
        folder.write_text(place.name, page_html(page))
