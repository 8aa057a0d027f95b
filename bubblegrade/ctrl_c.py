"""Ctrl-C while processes are started: it is for who starts them."""

from __future__ import annotations

import signal
import threading
from collections.abc import Generator
from contextlib import contextmanager


@contextmanager
def left_alone() -> Generator[None, None, None]:
    """Let Ctrl-C do nothing until the end of the block, and never anything to processes that are started in it.

    One that is still loading its libraries, and has not learned to leave Ctrl-C alone, would end with a traceback in
    the user's face. Only the main thread decides what Ctrl-C does; in others nothing changes.
    """
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)
