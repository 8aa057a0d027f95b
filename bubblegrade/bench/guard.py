"""Who may ask: only this page, under this machine's own name, and from elsewhere only with the one-time code.

A page of another site can make a browser send things here, and a name of its own can be made to lead here. So the
Host must be one that this server was started under, whatever changes anything must come from this page's own Origin
with the token that only its pages hold, and nothing may be loaded from elsewhere (Content Security Policy, level 3).
"""

from __future__ import annotations

import ipaddress
import secrets
import threading
from collections.abc import Iterable
from dataclasses import dataclass, field
from http.cookies import CookieError, SimpleCookie
from typing import Any, Final

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

COOKIE: Final = "bench_session"
TOKEN_HEADER: Final = "x-bench-token"  # noqa: S105 - its name
JOIN: Final = "/join"
LOOPBACK: Final = ("127.0.0.1", "localhost", "[::1]")
CODE_SIGNS: Final = "abcdefghjkmnpqrstuvwxyz23456789"  # none that is taken for another
CODE_LENGTH: Final = 8  # 39 bits: with MOST_WRONG tries each, a guess succeeds once in 10^11
MOST_WRONG: Final = 5  # codes that are wrong before a new one is made
MOST_SESSIONS: Final = 20
CHANGING: Final = ("POST", "PUT", "DELETE", "PATCH")
OPEN_TO_ALL: Final = (JOIN, "/static/")  # paths that need no session
HEADERS: Final = {
    # data: is for the blank tile that the picture component holds inside itself; nothing of it is fetched.
    "content-security-policy": "default-src 'self'; img-src 'self' data:; object-src 'none'; base-uri 'none'; "
    "form-action 'self'; frame-ancestors 'none'",
    "x-content-type-options": "nosniff",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
}


@dataclass(eq=False)
class Access:
    """Under which hosts the server answers, and who was let in."""

    hosts: frozenset[str]  # as a browser writes them, with the port
    who: str  # whoever sits at this machine
    shared: bool = False
    token: str = field(default_factory=lambda: secrets.token_urlsafe(24))
    _code: str = field(default_factory=lambda: new_code())  # noqa: PLW0108 - defined below
    _wrong: int = 0
    _sessions: dict[str, str] = field(default_factory=dict)
    _lock: Any = field(default_factory=threading.Lock)

    @property
    def code(self) -> str:
        """The code that lets the next device in."""
        return self._code

    def join(self, code: str, who: str) -> str | None:
        """Return a new session for the one-time `code`, which is used up; None where it is wrong."""
        with self._lock:
            right = secrets.compare_digest(code.strip().lower().encode(), self._code.encode())
            self._wrong += not right
            if right or self._wrong >= MOST_WRONG:
                self._code, self._wrong = new_code(), 0
            if not right:
                return None
            session = secrets.token_urlsafe(32)
            self._sessions[session] = who
            if len(self._sessions) > MOST_SESSIONS:
                del self._sessions[next(iter(self._sessions))]
            return session

    def who_asks(self, scope: Scope) -> str | None:
        """Return who sends a request; None where nobody that was let in does."""
        if not self.shared or _is_loopback(scope):
            return self.who
        return self._sessions.get(_session_of(Headers(scope=scope)))


def new_code() -> str:
    """Return a random code that can be read out."""
    return "".join(secrets.choice(CODE_SIGNS) for _ in range(CODE_LENGTH))


def allowed_hosts(port: int, addresses: Iterable[str] = ()) -> frozenset[str]:
    """Return the Host headers of a server on `port` of this machine, whose `addresses` others reach.

    >>> sorted(allowed_hosts(8750))
    ['127.0.0.1:8750', '[::1]:8750', 'localhost:8750']
    """
    return frozenset(f"{name}:{port}" for name in (*LOOPBACK, *addresses))


@dataclass(eq=False)
class Guard:
    """The door in front of every page."""

    app: ASGIApp
    access: Access

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request in, or say why not; every answer gets the headers that keep the page to itself."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        answer = self._refusal(scope) or self.app
        await answer(scope, receive, _with_headers(send, private=not scope["path"].startswith("/static/")))

    def _refusal(self, scope: Scope) -> Response | None:
        headers = Headers(scope=scope)
        host = headers.get("host", "").lower()
        if host not in self.access.hosts:
            return PlainTextResponse("this bench does not answer under that name: use the address it printed\n", 421)
        if scope["method"] in CHANGING:
            if headers.get("origin", "").lower() != f"http://{host}":
                return PlainTextResponse("changes are taken from the bench's own page only: open it again\n", 403)
            joins = scope["path"] == JOIN
            if not joins and not secrets.compare_digest(
                headers.get(TOKEN_HEADER, "").encode(), self.access.token.encode()
            ):
                return PlainTextResponse("this page is from an earlier run of the bench: load it again\n", 403)
        who = self.access.who_asks(scope)
        if who is None and not scope["path"].startswith(OPEN_TO_ALL):
            return RedirectResponse(JOIN, 303)
        scope.setdefault("state", {})["who"] = who
        return None


def _with_headers(send: Send, *, private: bool) -> Send:
    async def sent(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in HEADERS.items():
                headers.setdefault(name, value)
            if private:
                headers.setdefault("cache-control", "no-store")
        await send(message)

    return sent


def _is_loopback(scope: Scope) -> bool:
    """Say whether a request comes from this machine."""
    client = scope.get("client")
    try:
        return client is not None and ipaddress.ip_address(client[0]).is_loopback
    except ValueError:
        return False


def _session_of(headers: Headers) -> str:
    try:
        held = SimpleCookie(headers.get("cookie", "")).get(COOKIE)
    except CookieError:
        return ""
    return "" if held is None else held.value
