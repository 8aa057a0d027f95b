"""The routes of all pages put together behind the guard, and the one place where errors become answers."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from http import HTTPStatus
from pathlib import Path
from typing import Final

from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Mount
from starlette.staticfiles import StaticFiles

from bubblegrade.bench import (
    views_beside,
    views_casting,
    views_drawings,
    views_hold,
    views_inspection,
    views_join,
    views_log,
    views_tray,
    views_trial,
    views_turns,
)
from bubblegrade.bench.arriving import TooLargeError
from bubblegrade.bench.castings import Castings, ChangedMeanwhileError
from bubblegrade.bench.folder import BenchFolder, NotHereError
from bubblegrade.bench.forms import fault_record
from bubblegrade.bench.guard import Access, Guard
from bubblegrade.bench.pictures import Pictures
from bubblegrade.bench.state import Bench, Page, drawn
from bubblegrade.bench.versions import NewerKeptError
from bubblegrade.bench.work import Work
from bubblegrade.errors import BubblegradeError, OutputError
from bubblegrade.records.place import log_place

# A new page goes here; the navigation is in this order.
PAGES: Final[tuple[Page, ...]] = (
    views_tray.PAGE,
    views_casting.PAGE,
    views_beside.PAGE,
    views_trial.PAGE,
    views_inspection.PAGE,
    views_hold.PAGE,
    views_log.PAGE,
    views_drawings.PAGE,
    views_turns.PAGE,
    views_join.PAGE,
)
STATIC: Final = Path(__file__).parent / "static"
STATUS: Final[dict[type[BubblegradeError], HTTPStatus]] = {
    NotHereError: HTTPStatus.NOT_FOUND,
    ChangedMeanwhileError: HTTPStatus.CONFLICT,
    NewerKeptError: HTTPStatus.CONFLICT,
    TooLargeError: HTTPStatus.REQUEST_ENTITY_TOO_LARGE,
    OutputError: HTTPStatus.INSUFFICIENT_STORAGE,
}


def bench_app(
    folder: Path, access: Access, *, version: str, work: Work | None = None, log: Path | None = None
) -> Starlette:
    """Return the application for a folder, and for the casting log in the file `log`, or the user's own."""
    place, working = BenchFolder(folder), work or Work()
    bench = Bench(place, Castings(place), Pictures(), working, access, version, PAGES, log_place(log))

    @asynccontextmanager
    async def lifespan(_: Starlette) -> AsyncIterator[None]:
        working.start()
        yield
        working.stop()

    app = Starlette(
        routes=[*(route for page in PAGES for route in page.routes), Mount("/static", StaticFiles(directory=STATIC))],
        middleware=[Middleware(Guard, access=access)],
        exception_handlers={BubblegradeError: _told, HTTPStatus.NOT_FOUND: _nowhere},
        lifespan=lifespan,
    )
    app.router.redirect_slashes = False  # a name is what it is
    app.state.bench = bench
    return app


async def _told(request: Request, error: Exception) -> Response:
    """Answer with the one line of an error: as a page where a page was asked for."""
    status = next((code for kind, code in STATUS.items() if isinstance(error, kind)), HTTPStatus.BAD_REQUEST)
    record = fault_record(error)
    if "text/html" in request.headers.get("accept", ""):
        return drawn(request, "fault.html", status=status, fault=record["fault"])
    newer = {"newer": error.newer} if isinstance(error, NewerKeptError) else {}
    return JSONResponse({**record, **newer}, status_code=status)


async def _nowhere(request: Request, _: Exception) -> Response:
    """Answer for an address that leads nowhere."""
    fault = "There is nothing at this address: go back to the tray"
    return drawn(request, "fault.html", status=HTTPStatus.NOT_FOUND, fault=fault)
