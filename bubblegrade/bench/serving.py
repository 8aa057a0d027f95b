"""The server: which addresses it answers under, and how it is run."""

from __future__ import annotations

import socket
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import uvicorn

from bubblegrade.bench.app import bench_app
from bubblegrade.bench.guard import Access, allowed_hosts
from bubblegrade.errors import InputError

HERE, EVERYWHERE = "127.0.0.1", "0.0.0.0"  # noqa: S104 - only with --share, and then behind a code
PORT: Final = 8750
ELSEWHERE: Final = ("192.0.2.1", 9)  # RFC 5737: an address of nobody; nothing is sent to it
CLOSING_S: Final = 3  # that open connections have when the server ends


@dataclass(frozen=True, eq=False)
class Told:
    """Where a bench that runs can be reached."""

    url: str  # from this machine
    shared_url: str = ""  # from others
    code: str = ""  # for the first of them


def serve(
    folder: Path,
    *,
    port: int | None,
    share: bool,
    who: str,
    version: str,
    tell: Callable[[Told], None],
    log: Path | None = None,
) -> None:
    """Serve a folder, with the casting log in `log`, until Ctrl-C; `tell` is called when pages can be asked for.

    Raises
    ------
    InputError
        The port is taken.
    """
    listening = listening_on(EVERYWHERE if share else HERE, port)
    taken = int(listening.getsockname()[1])
    address = own_address() if share else None
    access = Access(allowed_hosts(taken, [address] if address else []), who, shared=share)
    app = bench_app(folder, access, version=version, log=log)
    config = uvicorn.Config(
        app, log_level="warning", access_log=False, server_header=False, timeout_graceful_shutdown=CLOSING_S, ws="none",
        proxy_headers=False,
    )  # fmt: skip
    with listening:
        shared_url = f"http://{address}:{taken}/" if address else ""
        tell(Told(f"http://{HERE}:{taken}/", shared_url, access.code if share else ""))
        with suppress(KeyboardInterrupt):  # the way to end it; uvicorn raises it again when all is closed
            uvicorn.Server(config).run(sockets=[listening])


def own_address() -> str | None:
    """Return this machine's address on its network; None where it has none."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asked:
        try:
            asked.connect(ELSEWHERE)
        except OSError:
            return None
        return str(asked.getsockname()[0])


def listening_on(host: str, port: int | None) -> socket.socket:
    """Return a socket on `port`; without one on the usual port, or on any that is free.

    Raises
    ------
    InputError
        The port is taken.
    """
    for one in (PORT, 0) if port is None else (port,):
        listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listening.bind((host, one))
            listening.listen()
        except OSError:
            listening.close()
            continue
        return listening
    raise InputError(f"port {port} is taken: name another with --port, or none at all")
