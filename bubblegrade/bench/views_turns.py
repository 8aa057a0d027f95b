"""How far an answer is, and that it is not wanted any more."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from bubblegrade.bench.state import Page, bench_of
from bubblegrade.bench.turns import Turn


def progress(request: Request) -> Response:
    """Tell how far an answer is."""
    doing, done, of = _turn(request).progress
    return JSONResponse({"doing": doing, "done": done, "of": of})


def cancel(request: Request) -> Response:
    """Stop what answers."""
    _turn(request).cancel()
    return progress(request)


def _turn(request: Request) -> Turn:
    return bench_of(request).turns.of(request.path_params["name"])


PAGE = Page(
    (
        Route("/turn/{name}", progress, methods=["GET"]),
        Route("/turn/{name}/cancel", cancel, methods=["POST"]),
    )
)
