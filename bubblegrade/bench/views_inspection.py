"""Inspection: which pieces pass the maker's own limits, and why others do not."""

from __future__ import annotations

from typing import Final

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from bubblegrade.bench.answers import answer
from bubblegrade.bench.asking import Answer, Form
from bubblegrade.bench.forms import Asked, keep, keep_text, kept
from bubblegrade.bench.inspecting import (
    ASKED,
    LIMITS,
    check_asked,
    inspection,
    left_out,
    limits_place,
    limits_text,
    zones_text,
)
from bubblegrade.bench.state import Bench, Page, bench_of, drawn, part
from bubblegrade.bench.turns import Turn
from bubblegrade.errors import InputError
from bubblegrade.results.corrections import BENCH_FOLDER
from bubblegrade.runs.limit_presets import PRESETS

HINT: Final = "Begin with a preset, set every number to what you accept, and keep it."


def inspect(request: Request) -> Response:
    """Show the limits."""
    bench = bench_of(request)
    seen = FORM.version(bench)
    asked, fault = Asked(), ""
    try:
        asked = _kept(bench)
    except InputError as error:
        fault = str(error)
    return drawn(
        request,
        "inspection.html",
        asked=asked,
        graded=[name for name in bench.folder.photographs if bench.folder.is_graded(name)],
        out=left_out(asked),
        seen=seen,
        presets=PRESETS,
        zoned=[name for name in bench.folder.photographs if _has_zones(bench, name)],
        kept_fault=fault,
    )


def zones(request: Request) -> Response:
    """Tell how the zones drawn on a casting stand in limits.

    Raises
    ------
    InputError
        The casting is not graded.
    """
    name = request.query_params.get("of", "")
    found = bench_of(request).castings.of(name)
    if found is None:
        raise InputError(f"{name} is not graded yet: grade it on the tray")
    top, below = zones_text(found, name)
    return JSONResponse({"top": top, "below": below})


def _keep(bench: Bench, asked: Asked) -> None:
    text = asked.words.get("limits", "").replace("\r\n", "\n")
    check_asked(asked, text)
    keep_text(limits_place(bench), text)
    rows = tuple(row for row in asked.rows if row.get("photo", "") in left_out(asked))
    words = {name: asked[name] for name in ("pieces", "batch", "quality")}
    keep(bench.folder.path / BENCH_FOLDER / ASKED, Asked(words, rows))


def _kept(bench: Bench) -> Asked:
    asked = kept(bench.folder.path / BENCH_FOLDER / ASKED)
    return Asked({**asked.words, "limits": limits_text(bench)}, asked.rows)


def _told(bench: Bench, turn: Turn) -> Answer:
    """Tell what comes of the limits that are kept."""
    asked = _kept(bench)
    if not asked["limits"]:
        return {"answer": part("hint.html", hint=HINT)}
    found = inspection(bench, asked, asked.words["limits"], turn)
    left = f"Not graded, and not inspected: {', '.join(found.not_graded)}" if found.not_graded else ""
    return {"answer": answer(bench, found.report) + (part("hint.html", hint=left) if left else "")}


def _has_zones(bench: Bench, name: str) -> bool:
    try:
        found = bench.castings.of(name)
    except InputError:
        return False  # its own page says why
    return found is not None and bool(found.corrected.zones)


FORM: Final = Form((LIMITS, ASKED), _kept, _keep, _told)
PAGE: Final = Page(
    (
        Route("/inspection", inspect, methods=["GET"]),
        *FORM.routes("/inspection/answer"),
        Route("/inspection/zones", zones, methods=["GET"]),
    ),
    label="Inspection",
    path="/inspection",
)
