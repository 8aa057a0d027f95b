"""The hold test: whether the closed pot keeps its pressure."""

from __future__ import annotations

from pathlib import Path
from typing import Final

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from bubblegrade.bench.answers import answer, no_answer
from bubblegrade.bench.folder import RESULTS
from bubblegrade.bench.forms import Asked, keep, kept, sent
from bubblegrade.bench.holding import ASKED, LEAST, hold_of
from bubblegrade.bench.state import Bench, Page, bench_of, drawn, part
from bubblegrade.errors import InputError
from bubblegrade.pressure.hold import hold as judge
from bubblegrade.show.report.verdicts import hold_page

HINT: Final = "Close the pot, let it settle, and read time, gauge and temperature; read them again hours later."


def hold(request: Request) -> Response:
    """Show the form."""
    bench = bench_of(request)
    asked, fault = Asked(), ""
    try:
        asked = kept(_place(bench))
    except InputError as error:
        fault = str(error)
    rows = [*asked.rows, *({} for _ in range(LEAST - len(asked.rows)))]
    return drawn(request, "hold.html", asked=asked, rows=rows, names=bench.folder.photographs, kept_fault=fault)


def told(request: Request) -> Response:
    """Tell what comes of the test that is kept."""
    bench = bench_of(request)
    return _told(bench, kept(_place(bench)))


async def ask(request: Request) -> Response:
    """Keep a test, and tell what comes of it."""
    bench, asked = bench_of(request), await sent(request)
    await run_in_threadpool(keep, _place(bench), asked)
    return await run_in_threadpool(_told, bench, asked)


def _told(bench: Bench, asked: Asked) -> Response:
    if not asked.rows:
        return JSONResponse({"answer": part("hint.html", hint=HINT)})
    try:
        held = judge(hold_of(asked, bench.folder))
    except InputError as error:
        return no_answer(error)
    return JSONResponse({"answer": answer(bench, lambda: hold_page(held, version=bench.version))})


def _place(bench: Bench) -> Path:
    return bench.folder.path / RESULTS / ASKED


PAGE: Final = Page(
    (
        Route("/hold", hold, methods=["GET"]),
        Route("/hold/answer", told, methods=["GET"]),
        Route("/hold/answer", ask, methods=["POST"]),
    ),
    label="Hold test",
    path="/hold",
)
