"""The door for other devices: the one-time code is given for a session."""

from __future__ import annotations

from urllib.parse import parse_qs

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from bubblegrade.bench.forms import NO_FAULT, FieldError, about, fault_record
from bubblegrade.bench.guard import COOKIE
from bubblegrade.bench.state import Page, bench_of, drawn, limited_body
from bubblegrade.corrected.changes import check_name


async def ask(request: Request) -> Response:
    """Show the form for the code."""
    return drawn(request, "join.html", wrong=NO_FAULT)


async def join(request: Request) -> Response:
    """Let a device in that has the code."""
    try:
        words = parse_qs((await limited_body(request)).decode("utf-8", errors="replace"))
    except ValueError:
        words = {}
    who = words.get("who", ["guest"])[0].strip()
    try:
        with about("who"):
            check_name(who, "your name")
    except FieldError as error:
        return drawn(request, "join.html", status=400, wrong=fault_record(error))
    session = bench_of(request).access.join(words.get("code", [""])[0], who)
    if session is None:
        line = "that code does not fit, or was used already: read the one that the bench shows now"
        return drawn(request, "join.html", status=403, wrong=fault_record(FieldError(line, "code")))
    answer = RedirectResponse("/", 303)
    answer.set_cookie(COOKIE, session, httponly=True, samesite="strict", path="/")
    return answer


PAGE = Page((Route("/join", ask, methods=["GET"]), Route("/join", join, methods=["POST"])))
