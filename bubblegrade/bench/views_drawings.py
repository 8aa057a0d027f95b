"""The plots and pictures of answers."""

from __future__ import annotations

from typing import Final

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from bubblegrade.bench.drawings import ADDRESS
from bubblegrade.bench.state import Page, bench_of

# A plot is an image, with the style that matplotlib writes into it and nothing else.
PLOT: Final = {"content-security-policy": "default-src 'none'; style-src 'unsafe-inline'"}


def drawing(request: Request) -> Response:
    """Send a drawing."""
    kind, data = bench_of(request).drawings.of(request.path_params["key"])
    return Response(data, media_type=kind, headers=PLOT)


PAGE: Final = Page((Route(f"{ADDRESS}/{{key}}", drawing, methods=["GET"]),))
