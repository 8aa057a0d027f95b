"""The trial of pressures: photographs assigned to settings, the comparison with Boyle, and what to do next."""

from __future__ import annotations

from typing import Any, Final

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from bubblegrade.bench.answers import answer
from bubblegrade.bench.asking import Answer, Form
from bubblegrade.bench.forms import Asked
from bubblegrade.bench.state import Bench, Page, bench_of, drawn, part
from bubblegrade.bench.trial import (
    ASKED,
    SHEET,
    asked_before,
    keep_trial,
    question_of,
    sheet_rows,
    trial_form,
    trial_of,
)
from bubblegrade.bench.turns import Turn
from bubblegrade.errors import InputError
from bubblegrade.show.report.verdicts import trial_page

LEAST: Final = 2  # cups of a trial
HINT: Final = "Write the pressure beside the photographs of at least two settings, such as 0psi and 30psi."


def trial(request: Request) -> Response:
    """Show the form."""
    bench = bench_of(request)
    seen = FORM.version(bench)
    rows, fault = dict[str, Any](), ""
    asked = Asked()
    try:
        rows, asked = sheet_rows(bench), asked_before(bench)
    except InputError as error:
        fault = str(error)
    cups = [(name, bench.folder.is_graded(name), rows.get(name, {})) for name in bench.folder.photographs]
    usual = question_of(Asked())
    return drawn(request, "trial.html", cups=cups, asked=asked, usual=usual, seen=seen, kept_fault=fault)


def told(bench: Bench, turn: Turn) -> Answer:
    """Tell what comes of the trial that is kept."""
    if len(sheet_rows(bench)) < LEAST:
        return {"answer": part("hint.html", hint=HINT)}
    found = trial_of(bench, turn)
    return {"answer": answer(bench, lambda: trial_page(found, not_graded=(), version=bench.version))}


FORM: Final = Form((SHEET, ASKED), trial_form, keep_trial, told)
PAGE: Final = Page(
    (Route("/trial", trial, methods=["GET"]), *FORM.routes("/trial/answer")),
    label="Pressure trial",
    path="/trial",
)
