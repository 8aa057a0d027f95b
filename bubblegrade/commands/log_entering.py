"""`bubblegrade log add`, `note`, `correct`, `attach` and `untie`: what is entered into the log."""

from __future__ import annotations

import time
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from bubblegrade.commands.log_options import NUMBER, by_option, field_options, log_option, the_log
from bubblegrade.commands.one_of import OneOf
from bubblegrade.errors import InputError
from bubblegrade.records.entered import entered_before
from bubblegrade.records.fields import BY_NAME, cells_of, field_named
from bubblegrade.records.quantities import FARTHEST_ZONE_S
from bubblegrade.records.tied import KINDS
from bubblegrade.units import count_of

if TYPE_CHECKING:
    from bubblegrade.records.log import Log, Photo
    from bubblegrade.runs.log_sheet import Written

DONE, NOTHING_USABLE, IN_PART = 0, 2, 3  # exit statuses


@click.command(short_help="Enter a casting, or all castings of a sheet.")
@click.option("--sheet", metavar="FILE.csv", type=click.Path(path_type=Path), help="Table of castings, a row each.")
@click.option("--photo", "photos", metavar="FILE", multiple=True, type=click.Path(path_type=Path),
              help="A photograph of it, known again by its bytes; may be repeated.")  # fmt: skip
@click.option("--all", "every", is_flag=True, help="Enter every row of the sheet, also what was entered before.")
@field_options
@by_option
@log_option
def add(*, sheet: Path | None, photos: tuple[Path, ...], every: bool, **options: Any) -> None:
    """Enter a casting, or all castings of a sheet.

    What is not given stays unknown. The columns of a sheet are the options' names, in any order, and photo; a unit may
    stand in the heading, as in gauge_gel (psi). Of a sheet all castings are entered or none; one that the log was told
    just so before is passed over, so that a sheet that grows can be entered again.
    """
    typed = {name: options[name] for name in BY_NAME if options[name] is not None}
    if sheet is not None and (typed or photos):
        raise InputError(f"castings are given here and in {sheet}: write all into the sheet, or leave it out")
    if sheet is None and every:
        raise InputError("--all is said of a sheet: name one with --sheet, or leave it out")
    if sheet is None and not any(cells_of(typed).values()):  # read before the file is made: a slip begins no log
        raise InputError("nothing is said of the casting: give a field, such as --resin or --mould")
    rows = () if sheet is None else _rows(sheet)
    of_sheet = [(each.typed, _kept(() if each.photo is None else (each.photo,))) for each in rows]
    castings = [(typed, _kept(photos))] if sheet is None else of_sheet
    with the_log(options, create=True) as log:
        before = [None] * len(castings) if sheet is None or every else entered_before(log.connection, castings)
        castings = [casting for casting, held in zip(castings, before, strict=True) if held is None]
        numbers = log.add_all(castings)
        photographs = {number: kept for number, (_, kept) in zip(numbers, castings, strict=True) if kept}
        shared = _shared(log, photographs)
    if numbers:
        click.echo(f"castings {numbers[0]} to {numbers[-1]}" if len(numbers) > 1 else f"casting {numbers[0]}")
    _passed_over([(row, number) for row, number in zip(rows, before, strict=False) if number is not None])
    _warn(dict(zip(numbers, (each for each, _ in castings), strict=True)))
    _say(shared)


@click.command(short_help="Note something of a casting, or why it came out so.")
@click.argument("number", type=NUMBER)
@click.argument("text")
@click.option("--cause", is_flag=True, help="It says why the casting came out so; charts mark it.")
@by_option
@log_option
def note(*, number: int, text: str, cause: bool, **options: Any) -> None:
    """Note TEXT of casting NUMBER."""
    with the_log(options) as log:
        log.note(number, text, cause=cause)
    click.echo(f"casting {number}: {'cause ' if cause else ''}noted")


@click.command(short_help="Correct a casting; what stood there is kept.")
@click.argument("number", type=NUMBER)
@click.argument("corrections", nargs=-1, required=True, metavar="FIELD=VALUE...")
@click.option("--why", metavar="TEXT", help="Why, such as 'misread the dial'.")
@by_option
@log_option
def correct(*, number: int, corrections: tuple[str, ...], why: str | None, **options: Any) -> None:
    """Correct fields of casting NUMBER, such as gauge_gel=57psi; without a value the field is unknown again.

    What stood there before is kept with who changed it, when and why: 'show' prints it.
    """
    typed = {}
    for each in corrections:
        name, sign, value = each.partition("=")
        if not sign:
            raise InputError(f"{each} is no correction: write FIELD=VALUE, such as gauge_gel=57psi")
        typed[field_named(name).name] = value
    with the_log(options) as log:
        changed = log.correct(number, typed, why=why)
    names = ", ".join(name.replace("_", " ") for name in changed)
    click.echo(f"casting {number}: {names} corrected" if changed else f"casting {number}: nothing to change")


@click.command(short_help="Tie results to castings.")
@click.argument("results", nargs=-1, required=True, metavar="RESULT...", type=click.Path(path_type=Path))
@click.option("--to", "number", metavar="NUMBER", type=NUMBER, help="The casting.  [by its photographs]")
@click.option("--photo", "photos", metavar="NAME", multiple=True, help="With --to: which photograph of the result.")
@click.option("--only", metavar="KIND", type=OneOf(KINDS),
              help=f"Only results of this kind: {', '.join(KINDS)}.")  # fmt: skip
@by_option
@log_option
@click.pass_context
def attach(
    ctx: click.Context, /, *, results: tuple[Path, ...], number: int | None, photos: tuple[str, ...], **options: Any
) -> None:
    """Tie results of grade, inspect, shrink or hold to castings: folders that they wrote, or their JSON records.

    Without --to each photograph finds the casting that it was entered with or tied to before, and those of the other
    sides of its piece go with it.

    Exit status: 0 all tied; 2 none; 3 some belong to no casting.
    """
    from bubblegrade.records.log import Photo  # noqa: PLC0415
    from bubblegrade.runs.log_folder import results_of, ties_by_photograph, ties_to  # noqa: PLC0415

    if photos and number is None:
        raise InputError("--photo says which photograph is of a casting: add --to NUMBER")
    found = [each for place in results for each in results_of(place) if options["only"] in (None, each.kind)]
    if not found:
        raise InputError(f"{results[0]} holds no result of {options['only']}: leave --only out")
    photographs: dict[int, list[Photo]] = {}
    with the_log(options) as log:
        if number is None:
            ties = ties_by_photograph(log.connection, found)
        else:
            ties = ties_to(log.connection, number, found, photos)
        for casting, each in ties.tied:
            done = "tied" if log.tie(casting, [each]) else "was tied already"
            click.echo(f"casting {casting}: {each.kind}{f' of {each.photo}' if each.photo else ''} {done}")
            if each.photo is not None and each.photo_sha256 is not None:
                photographs.setdefault(casting, []).append(Photo(each.photo, each.photo_sha256))
        shared = _shared(log, photographs)
    _say(shared)
    for each in ties.left:
        what = f"{each.kind} of {each.photo}" if each.photo else f"{each.kind} in {each.file}"
        click.echo(f"bubblegrade: {what} is of no casting in the log: give its number with --to", err=True)
    ctx.exit(DONE if not ties.left else IN_PART if ties.tied else NOTHING_USABLE)


@click.command(short_help="Take results off a casting they are not of.")
@click.argument("number", type=NUMBER)
@click.option("--photo", metavar="NAME", help="The results of the photograph that 'show' calls so.")
@click.option("--only", metavar="KIND", type=OneOf(KINDS),
              help=f"The results of this kind: {', '.join(KINDS)}.")  # fmt: skip
@click.option("--why", metavar="TEXT", help="Why, such as 'of casting 13'.")
@by_option
@log_option
def untie(*, number: int, photo: str | None, only: str | None, why: str | None, **options: Any) -> None:
    """Take results off casting NUMBER that were tied to it by mistake; 'attach --to' ties them to another.

    They count nowhere any more, and their photograph is no longer known as the casting's. Nothing is lost: the log
    keeps them aside with who untied them, when and why, and 'show' says so.
    """
    if photo is None and only is None:
        raise InputError("which results are not of the casting is not said: add --photo NAME, --only KIND or both")
    with the_log(options) as log:
        for each in log.untie(number, kind=only, photo=photo, why=why):
            click.echo(f"casting {number}: {each} untied")


def _rows(sheet: Path) -> tuple[Written, ...]:
    """Return the castings of a sheet."""
    from bubblegrade.runs.log_sheet import read_castings  # noqa: PLC0415

    return read_castings(sheet)


def _kept(photos: Sequence[Path]) -> list[Photo]:
    """Return pictures as the log keeps them; without any, the libraries that read pictures stay out."""
    if not photos:
        return []
    from bubblegrade.photo.reading import check_picture  # noqa: PLC0415
    from bubblegrade.runs.log_folder import photo_of  # noqa: PLC0415
    from bubblegrade.show.printable import printable  # noqa: PLC0415

    for photo in photos:
        check_picture(photo, name=printable(str(photo)))
    return [photo_of(photo) for photo in photos]


def _passed_over(rows: Sequence[tuple[Written, int]]) -> None:
    """Say which rows of a sheet are castings of the log, each with its number, and which only read like one."""
    if not rows:
        return
    from bubblegrade.show.words import castings_were, numbered  # noqa: PLC0415

    told = [number for row, number in rows if row.is_told_apart]
    alike = [(row.line, number) for row, number in rows if not row.is_told_apart]
    if told:
        click.echo(
            f"bubblegrade: {castings_were(told)} entered before just as the sheet says, and not again: "
            "with --all every row becomes a casting of its own",
            err=True,
        )
    if alike:
        lines, numbers = zip(*alike, strict=True)
        says = "says" if len(lines) == 1 else "say"
        click.echo(
            f"bubblegrade: {numbered('line', lines)} of the sheet {says} no date, batch or photo, and the rest as "
            f"{numbered('casting', numbers)}: not entered again; if they are new, give them one of these",
            err=True,
        )


def _shared(log: Log, photographs: Mapping[int, Sequence[Photo]]) -> list[str]:
    """Return what to say of photographs, by casting, that are of several; without any, nothing more is imported."""
    if not photographs:
        return []
    from bubblegrade.runs.log_folder import counted_twice  # noqa: PLC0415

    return [line for number, photos in photographs.items() for line in counted_twice(log.connection, number, photos)]


def _say(lines: Sequence[str]) -> None:
    """Say the first of some lines, and how many are like it."""
    for line in lines[:1]:
        more = f" ({count_of(len(lines) - 1, 'more photograph')} likewise)" if len(lines) > 1 else ""
        click.echo(f"bubblegrade: {line}{more}", err=True)


def _warn(entered: Mapping[int, Mapping[str, str]]) -> None:
    """Say of castings, by their number, what may be a slip: each kind once, however many have it."""
    for doubt in (_yet_to_come, _pressed_hard):
        lines = {number: line for number, typed in entered.items() if (line := doubt(typed))}
        for number, line in list(lines.items())[:1]:
            more = f" ({count_of(len(lines) - 1, 'more casting')} likewise)" if len(lines) > 1 else ""
            click.echo(f"bubblegrade: casting {number}: {line}{more}", err=True)


def _yet_to_come(typed: Mapping[str, str]) -> str:
    """Return the doubt about a date that has not come yet; a day without a zone begins earlier than in UTC."""
    day = cells_of(typed).get("date_s")
    late = isinstance(day, float) and day > time.time() + FARTHEST_ZONE_S
    return f"the date {typed['date']} has not come yet: if it is a slip, correct it" if late else ""


def _pressed_hard(typed: Mapping[str, str]) -> str:
    """Return the doubt about a mould that was pressed harder than it was cast."""
    cells = cells_of(typed)
    mould = cells.get("mould_pressure_kpa_gauge")
    for name in ("gauge_start", "gauge_gel"):
        dial = cells.get(f"{name}_kpa_gauge")
        if isinstance(mould, float) and isinstance(dial, float) and dial > mould:
            return (
                f"{name.replace('_', ' ')} {typed[name]} is above what the mould was cast at, "
                f"{typed['mould_pressure']}: voids in the mould give way above it and print as bumps"
            )
    return ""
