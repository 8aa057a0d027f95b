"""A page that asks: its form kept in the folder, never over a newer one unseen, and the answer that can be stopped."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from bubblegrade.bench.answers import no_answer
from bubblegrade.bench.forms import Asked, sent
from bubblegrade.bench.state import Bench, bench_of
from bubblegrade.bench.turns import Turn
from bubblegrade.bench.versions import check_seen, version_of
from bubblegrade.errors import InputError
from bubblegrade.results.corrections import BENCH_FOLDER

Answer = dict[str, Any]  # the answer as a part of a page, or why there is none


@dataclass(frozen=True)
class Form:
    """A form: the files of FOLDER/bench that hold it, how it is read and kept, and what follows from it."""

    files: tuple[str, ...]
    kept: Callable[[Bench], Asked]
    keep: Callable[[Bench, Asked], None]
    answer: Callable[[Bench, Turn], Answer]

    def version(self, bench: Bench) -> str:
        """Return the version of what is kept; to be asked before it is read, so that it is never too new."""
        return version_of(bench.folder.path / BENCH_FOLDER / file for file in self.files)

    def routes(self, path: str) -> tuple[Route, Route]:
        """Return where the answer is asked for: to what is kept, and to what is sent and kept first."""
        return Route(path, self._told, methods=["GET"]), Route(path, self._asked, methods=["POST"])

    def _told(self, request: Request) -> Response:
        return JSONResponse(self._answered(bench_of(request), _turn(request)))

    async def _asked(self, request: Request) -> Response:
        bench, asked = bench_of(request), await sent(request)
        seen = await run_in_threadpool(self._kept, bench, asked)
        answer = await run_in_threadpool(self._answered, bench, _turn(request))
        return JSONResponse({**answer, "seen": seen})

    def _kept(self, bench: Bench, asked: Asked) -> str:
        """Keep what is asked, and return its version."""
        with bench.keeping:
            now = self.version(bench)
            if asked.seen not in {"", now}:
                check_seen(self.kept(bench), asked, now)
            self.keep(bench, asked)
            return self.version(bench)

    def _answered(self, bench: Bench, turn: Turn) -> Answer:
        try:
            return self.answer(bench, turn)
        except InputError as error:
            return no_answer(error)


def _turn(request: Request) -> Turn:
    return bench_of(request).turns.of(request.query_params.get("turn", ""))
