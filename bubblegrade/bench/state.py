"""What all pages of one server share, and how a page is made from its template."""

from __future__ import annotations

import hashlib
import os
import threading
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any, Final

from jinja2 import Environment, PackageLoader, StrictUndefined
from starlette.requests import Request
from starlette.responses import HTMLResponse
from starlette.routing import BaseRoute

from bubblegrade.bench.castings import Castings
from bubblegrade.bench.drawings import Drawings
from bubblegrade.bench.folder import BenchFolder
from bubblegrade.bench.guard import Access
from bubblegrade.bench.pictures import Pictures
from bubblegrade.bench.turns import Turns
from bubblegrade.bench.work import Work

BODY_BYTES: Final = 200_000  # of a change or a form: 500 corners take 20 kB


@dataclass(frozen=True)
class Page:
    """A page: its routes, and its place in the navigation; without a `label` it has none there."""

    routes: tuple[BaseRoute, ...]
    label: str = ""
    path: str = ""


@dataclass(frozen=True, eq=False)
class Bench:
    """One server: its folder, what works on it, and who may ask."""

    folder: BenchFolder
    castings: Castings
    pictures: Pictures
    work: Work
    access: Access
    version: str
    pages: tuple[Page, ...]
    log: Path  # the casting log's file
    drawings: Drawings = field(default_factory=Drawings)
    turns: Turns = field(default_factory=Turns)
    keeping: Any = field(default_factory=threading.Lock)  # a form is compared with what is kept and written in one go

    @property
    def place(self) -> str:
        """What tells this folder and log from others, without saying where they are."""
        places = (os.path.realpath(each) for each in (self.folder.path, self.log))
        return hashlib.sha256(os.fsencode("\0".join(places))).hexdigest()


def bench_of(request: Request) -> Bench:
    """Return the bench that a request is for."""
    bench = request.app.state.bench
    assert isinstance(bench, Bench)  # noqa: S101 - `app` has put it there
    return bench


def who_of(request: Request) -> str:
    """Return who sends a request, as the guard found."""
    return str(request.state.who)


def drawn(request: Request, template: str, *, status: int = 200, **facts: Any) -> HTMLResponse:
    """Return a page from its template; everything in `facts` is escaped."""
    bench = bench_of(request)
    text = templates().get_template(template).render(bench=bench, here=request.url.path, **facts)
    return HTMLResponse(text, status_code=status)


def part(template: str, **facts: Any) -> str:
    """Return a part of a page from its template."""
    return templates().get_template(template).render(**facts)


@cache
def templates() -> Environment:
    """Return the templates of this package."""
    return Environment(
        loader=PackageLoader("bubblegrade.bench"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


async def limited_body(request: Request) -> bytes:
    """Return the body of a change.

    Raises
    ------
    ValueError
        It is longer than BODY_BYTES.
    """
    taken = bytearray()
    async for piece in request.stream():
        taken += piece
        if len(taken) > BODY_BYTES:
            raise ValueError(f"over {BODY_BYTES} bytes")
    return bytes(taken)
