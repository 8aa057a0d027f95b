"""The casting log: its list, one casting in full with a note to add, and the charts over castings."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any, Final

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from bubblegrade.bench.answers import answer
from bubblegrade.bench.forms import NO_FAULT, Asked, fault_record, sent
from bubblegrade.bench.log_answers import casting_page, chart_page, chosen_by, listed_rows, whole_number
from bubblegrade.bench.state import Page, bench_of, drawn, who_of
from bubblegrade.errors import InputError
from bubblegrade.records.log import Log, open_log
from bubblegrade.records.reading import CHOSEN_BY, count, listed, whole
from bubblegrade.runs.log_charts import KIND_OF, PER, charted
from bubblegrade.runs.ranges import USUALLY_LISTED

MEASURES: Final = tuple(KIND_OF)
MOST: Final = 2**63 - 1  # of a casting's number: what SQLite holds


def list_(request: Request) -> Response:
    """List the castings that the form chooses."""
    words, rows, alike, total, wrong = _words(request), None, "", 0, NO_FAULT
    try:
        which = chosen_by(words, usual=USUALLY_LISTED)
        with _log(request) as log:
            found, total = listed(log.connection, which), count(log.connection, which)
            rows, alike = listed_rows(found)
    except InputError as error:
        wrong = fault_record(error)
    return drawn(request, "log.html", **_form(words), rows=rows, alike=alike, total=total, wrong=wrong)


def one(request: Request) -> Response:
    """Show a casting in full."""
    bench, number = bench_of(request), _number(request)
    with _log(request) as log:
        found = whole(log.connection, number)
    return drawn(
        request, "log_casting.html", number=number, told=answer(bench, lambda: casting_page(found, bench.version))
    )


async def note(request: Request) -> Response:
    """Add a note to a casting."""
    asked, number = await sent(request), _number(request)
    return await run_in_threadpool(_noted, request, number, asked)


def chart(request: Request) -> Response:
    """Draw a chart over the castings that the form chooses."""
    bench, words, told, wrong = bench_of(request), _words(request), "", NO_FAULT
    measure, per = words.get("measure") or MEASURES[0], words.get("per") or next(iter(PER))
    try:
        if measure not in MEASURES or per not in PER:
            raise InputError(f"{measure[:20]} per {per[:20]} is not charted: choose one of the form's")
        which = chosen_by(words)
        base = whole_number("base", words["base"], "the first") if words.get("base") else None
        with _log(request) as log:
            found = charted(log.connection, measure, which, per=per, base=base)
        told = answer(bench, lambda: chart_page(found, bench.version, base=base))
    except InputError as error:
        wrong = fault_record(error)
    return drawn(
        request, "log_chart.html", **_form(words), measures=MEASURES, pers=PER, measure=measure, per=per, told=told,
        wrong=wrong,
    )  # fmt: skip


def _noted(request: Request, number: int, asked: Asked) -> Response:
    bench = bench_of(request)
    with _log(request) as log:
        log.note(number, asked["text"], cause=asked["cause"] == "yes")
        found = whole(log.connection, number)
    return JSONResponse({"answer": answer(bench, lambda: casting_page(found, bench.version))})


@contextmanager
def _log(request: Request) -> Iterator[Log]:
    """Open the log; entries are by who asks."""
    with open_log(bench_of(request).log, by=who_of(request)) as log:
        yield log


def _number(request: Request) -> int:
    """Return the casting's number; none is larger than the log's file can hold."""
    return min(int(request.path_params["number"]), MOST)


def _words(request: Request) -> dict[str, str]:
    return {name: text.strip() for name, text in request.query_params.items()}


def _form(words: dict[str, str]) -> dict[str, Any]:
    return {"words": words, "fields": CHOSEN_BY}


PAGE: Final = Page(
    (
        Route("/log", list_, methods=["GET"]),
        Route("/log/chart", chart, methods=["GET"]),
        Route("/log/{number:int}", one, methods=["GET"]),
        Route("/log/{number:int}/note", note, methods=["POST"]),
    ),
    label="Log",
    path="/log",
)
