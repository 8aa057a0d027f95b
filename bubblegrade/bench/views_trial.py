"""The trial of pressures: photographs assigned to settings, the comparison with Boyle, and what to do next."""

from __future__ import annotations

from typing import Any, Final

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from bubblegrade.bench.answers import answer, no_answer
from bubblegrade.bench.forms import Asked, sent
from bubblegrade.bench.state import Bench, Page, bench_of, drawn, part
from bubblegrade.bench.trial import asked_before, keep_trial, question_of, sheet_rows, trial_of
from bubblegrade.errors import InputError
from bubblegrade.show.report.verdicts import trial_page

LEAST: Final = 2  # cups of a trial
HINT: Final = "Write the pressure beside the photographs of at least two settings, such as 0psi and 30psi."


def trial(request: Request) -> Response:
    """Show the form."""
    bench = bench_of(request)
    rows, fault = dict[str, Any](), ""
    asked = Asked()
    try:
        rows, asked = sheet_rows(bench), asked_before(bench)
    except InputError as error:
        fault = str(error)
    cups = [(name, bench.folder.is_graded(name), rows.get(name, {})) for name in bench.folder.photographs]
    return drawn(request, "trial.html", cups=cups, asked=asked, usual=question_of(Asked()), kept_fault=fault)


def told(request: Request) -> Response:
    """Tell what comes of the trial that is kept."""
    return _told(bench_of(request))


async def ask(request: Request) -> Response:
    """Keep a trial, and tell what comes of it."""
    bench, asked = bench_of(request), await sent(request)
    await run_in_threadpool(keep_trial, bench, asked)
    return await run_in_threadpool(_told, bench)


def _told(bench: Bench) -> Response:
    if len(sheet_rows(bench)) < LEAST:
        return JSONResponse({"answer": part("hint.html", hint=HINT)})
    try:
        found = trial_of(bench)
    except InputError as error:
        return no_answer(error)
    return JSONResponse({"answer": answer(bench, lambda: trial_page(found, not_graded=(), version=bench.version))})


PAGE: Final = Page(
    (
        Route("/trial", trial, methods=["GET"]),
        Route("/trial/answer", told, methods=["GET"]),
        Route("/trial/answer", ask, methods=["POST"]),
    ),
    label="Pressure trial",
    path="/trial",
)
