"""The tray: the photographs of the folder, what became of each, and where new ones are dropped."""

from __future__ import annotations

import json
from contextlib import suppress
from dataclasses import dataclass
from urllib.parse import quote

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from bubblegrade.bench.arriving import MOST_MB, check_length, kept, received
from bubblegrade.bench.asked import SCALES, check_alone, task_from
from bubblegrade.bench.folder import accepted_name
from bubblegrade.bench.forms import FieldError
from bubblegrade.bench.labels import said_here
from bubblegrade.bench.shown import headline
from bubblegrade.bench.state import Bench, Page, bench_of, drawn, limited_body, part
from bubblegrade.bench.work import REFUSED, Job
from bubblegrade.errors import InputError
from bubblegrade.photo.reading import SUFFIXES


@dataclass(frozen=True)
class Card:
    """A photograph on the tray."""

    name: str
    state: str  # graded, waiting, grading, not graded, or empty
    says: str
    corrected: bool = False
    aside: bool = False  # whether there are corrections, which do not fit
    unfit: bool = False
    fault: str = ""  # why it was not graded again; what was graded before stands

    @property
    def url(self) -> str:
        """The path of its page."""
        return f"/casting/{quote(self.name, safe='')}"


def tray(request: Request) -> Response:
    """Show the photographs of the folder."""
    bench = bench_of(request)
    return drawn(
        request,
        "tray.html",
        cards=_cards(bench),
        tables=bench.folder.tables,
        scales=SCALES,
        suffixes=",".join(SUFFIXES),
        most_mb=MOST_MB,
        code=bench.access.code if bench.access.shared else "",
    )


def progress(request: Request) -> Response:
    """Tell where each photograph stands."""
    bench = bench_of(request)
    done, of = bench.work.progress
    return JSONResponse({"done": done, "of": of, "cards": part("cards.html", cards=_cards(bench))})


async def drop(request: Request) -> Response:
    """Take a photograph and put it behind those that wait to be graded."""
    bench, given = bench_of(request), request.query_params.get("name", "")
    accepted_name(given)
    check_length(request.headers.get("content-length"), given)
    task = task_from(request.query_params, bench.folder, version=bench.version)
    if task.again is not None:
        line = "a second photograph settles one casting: drop both first, then grade the one with the other"
        raise FieldError(line, "again")
    place = await received(request.stream(), bench.folder, given)
    arrived = await run_in_threadpool(kept, place, bench.folder, given)
    bench.pictures.keep(arrived.path, arrived.photo)
    name = arrived.path.name
    if not (arrived.known and bench.folder.is_graded(name)):
        bench.work.ask(Job(arrived.path, bench.folder.result(name), task))
    return JSONResponse({"name": name, "known": arrived.known, "card": part("cards.html", cards=_cards(bench, name))})


async def grade(request: Request) -> Response:
    """Grade photographs of the folder, again or for the first time."""
    bench = bench_of(request)
    words = await _words(request)
    names = _names(words)
    asked = {str(name): str(value) for name, value in words.items() if name != "names"}
    task = task_from(asked, bench.folder, version=bench.version)
    check_alone(task, names)
    if not task.request.is_scaled:
        _check_no_scale_lost(bench, names)
    jobs = [Job(bench.folder.photograph(name), bench.folder.result(name), task) for name in names]
    for job in jobs:
        bench.work.ask(job)
    return progress(request)


async def cancel(request: Request) -> Response:
    """Take photographs out of the work."""
    bench = bench_of(request)
    names = _names(await _words(request))
    for name in names:
        bench.folder.photograph(name)
    await run_in_threadpool(bench.work.cancel, *names)
    return progress(request)


def _check_no_scale_lost(bench: Bench, names: list[str]) -> None:
    """Refuse to grade in px what was graded in mm: a form that was opened anew does not know what gave the scale.

    Raises
    ------
    InputError
        One of the photographs was.
    """
    for name in names:
        kept = None
        with suppress(InputError):  # what cannot be read again is graded again
            kept = bench.castings.of(name)
        if kept is not None and kept.graded.scale is not None:
            raise FieldError(
                f"{name} was graded in mm, and the form says nothing that gives the scale: say what does, or drop the "
                "photograph under another name for sizes in px",
                "scale",
            )


async def _words(request: Request) -> dict[str, object]:
    try:
        words = json.loads(await limited_body(request))
    except (ValueError, RecursionError):
        words = None
    if not isinstance(words, dict):
        raise InputError("what came is no form of this page: load it again")
    return words


def _names(words: dict[str, object]) -> list[str]:
    """Return the photographs that a request names."""
    names = words.get("names")
    if not isinstance(names, list) or not names:
        raise InputError("no photograph is named: choose one on the tray")
    return [str(name) for name in names]


def _cards(bench: Bench, *only: str) -> list[Card]:
    return [_card(bench, name) for name in bench.folder.photographs if not only or name in only]


def _card(bench: Bench, name: str) -> Card:
    state, fault = bench.work.state(name)
    fault = said_here(bench.folder.shortened(fault))
    if state not in ("", REFUSED):
        return Card(name, state, "")
    try:
        casting = bench.castings.of(name)
    except InputError as error:
        return Card(name, "cannot be shown", fault or str(error))
    if casting is None:
        return Card(name, state, fault or "not graded yet")
    after = casting.corrected.casting
    return Card(
        name,
        "graded",
        headline(after),
        corrected=casting.is_corrected,
        aside=bool(casting.aside),
        unfit=bool(after.unfit),
        fault=fault,
    )


PAGE = Page(
    (
        Route("/", tray, methods=["GET"]),
        Route("/tray/progress", progress, methods=["GET"]),
        Route("/tray/drop", drop, methods=["PUT"]),
        Route("/tray/grade", grade, methods=["POST"]),
        Route("/tray/cancel", cancel, methods=["POST"]),
    ),
    label="Tray",
    path="/",
)
