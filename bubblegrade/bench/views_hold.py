"""The hold test: whether the closed pot keeps its pressure."""

from __future__ import annotations

from pathlib import Path
from typing import Final

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from bubblegrade.bench.answers import answer
from bubblegrade.bench.asking import Answer, Form
from bubblegrade.bench.forms import Asked, keep, kept
from bubblegrade.bench.holding import ASKED, LEAST, held_of
from bubblegrade.bench.state import Bench, Page, bench_of, drawn, part
from bubblegrade.bench.turns import Turn
from bubblegrade.errors import InputError
from bubblegrade.results.corrections import BENCH_FOLDER
from bubblegrade.show.report.verdicts import hold_page

HINT: Final = "Close the pot, let it settle, and read time, gauge and temperature; read them again hours later."


def hold(request: Request) -> Response:
    """Show the form."""
    bench = bench_of(request)
    seen = FORM.version(bench)
    asked, fault = Asked(), ""
    try:
        asked = kept(_place(bench))
    except InputError as error:
        fault = str(error)
    rows = [*asked.rows, *({} for _ in range(LEAST - len(asked.rows)))]
    names = bench.folder.photographs
    return drawn(request, "hold.html", asked=asked, rows=rows, names=names, seen=seen, kept_fault=fault)


def told(bench: Bench, turn: Turn) -> Answer:
    """Tell what comes of the test that is kept."""
    asked = kept(_place(bench))
    if not asked.rows:
        return {"answer": part("hint.html", hint=HINT)}
    held = held_of(asked, bench.folder, turn)
    return {"answer": answer(bench, lambda: hold_page(held, version=bench.version))}


def _place(bench: Bench) -> Path:
    return bench.folder.path / BENCH_FOLDER / ASKED


FORM: Final = Form(
    (ASKED,), lambda bench: kept(_place(bench)), lambda bench, asked: keep(_place(bench), asked), told
)  # fmt: skip
PAGE: Final = Page(
    (Route("/hold", hold, methods=["GET"]), *FORM.routes("/hold/answer")),
    label="Hold test",
    path="/hold",
)
