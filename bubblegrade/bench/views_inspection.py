"""Inspection: which pieces pass the maker's own limits, and why others do not."""

from __future__ import annotations

from typing import Final

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from bubblegrade.bench.answers import answer, no_answer
from bubblegrade.bench.folder import RESULTS
from bubblegrade.bench.forms import Asked, keep, keep_text, kept, sent
from bubblegrade.bench.inspecting import (
    ASKED,
    check_asked,
    inspection,
    limits_place,
    limits_text,
    zones_text,
)
from bubblegrade.bench.state import Bench, Page, bench_of, drawn, part
from bubblegrade.errors import InputError
from bubblegrade.runs.limit_presets import PRESETS

HINT: Final = "Begin with a preset, set every number to what you accept, and keep it."


def inspect(request: Request) -> Response:
    """Show the limits."""
    bench = bench_of(request)
    text, asked, fault = "", Asked(), ""
    try:
        text, asked = limits_text(bench), _asked(bench)
    except InputError as error:
        fault = str(error)
    return drawn(
        request,
        "inspection.html",
        text=text,
        asked=asked,
        presets=PRESETS,
        zoned=[name for name in bench.folder.photographs if _has_zones(bench, name)],
        kept_fault=fault,
    )


def told(request: Request) -> Response:
    """Tell what comes of the limits that are kept."""
    bench = bench_of(request)
    return _told(bench, _asked(bench))


async def ask(request: Request) -> Response:
    """Keep limits, and tell what comes of them."""
    bench, asked = bench_of(request), await sent(request)
    await run_in_threadpool(_keep, bench, asked)
    return await run_in_threadpool(_told, bench, asked)


def zones(request: Request) -> Response:
    """Tell how the zones drawn on a casting stand in limits."""
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
    keep(bench.folder.path / RESULTS / ASKED, Asked({name: asked[name] for name in ("pieces", "batch", "quality")}))


def _told(bench: Bench, asked: Asked) -> Response:
    text = limits_text(bench)
    if not text:
        return JSONResponse({"answer": part("hint.html", hint=HINT)})
    try:
        found = inspection(bench, asked, text)
    except InputError as error:
        return no_answer(error)
    left = f"Not graded, and not inspected: {', '.join(found.not_graded)}" if found.not_graded else ""
    return JSONResponse({"answer": answer(bench, found.report) + (part("hint.html", hint=left) if left else "")})


def _asked(bench: Bench) -> Asked:
    return kept(bench.folder.path / RESULTS / ASKED)


def _has_zones(bench: Bench, name: str) -> bool:
    try:
        found = bench.castings.of(name)
    except InputError:
        return False  # its own page says why
    return found is not None and bool(found.corrected.zones)


PAGE: Final = Page(
    (
        Route("/inspection", inspect, methods=["GET"]),
        Route("/inspection/answer", told, methods=["GET"]),
        Route("/inspection/answer", ask, methods=["POST"]),
        Route("/inspection/zones", zones, methods=["GET"]),
    ),
    label="Inspection",
    path="/inspection",
)
