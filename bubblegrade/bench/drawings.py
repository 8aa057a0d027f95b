"""Plots and pictures that an answer shows, kept until others need their place; the page asks for them by address."""

from __future__ import annotations

import threading
from collections import OrderedDict
from dataclasses import dataclass, field
from hashlib import sha256
from typing import Any, Final

from bubblegrade.bench.folder import NotHereError

SVG, JPEG = "image/svg+xml", "image/jpeg"
HELD: Final = 200  # drawings in memory; one takes 20 to 200 kB
ADDRESS: Final = "/drawing"


@dataclass(eq=False)
class Drawings:
    """The drawings of the latest answers, each under the hash of its bytes."""

    drawing: Any = field(default_factory=threading.Lock)  # the plots' style holds for the process: one draws at a time
    _held: OrderedDict[str, tuple[str, bytes]] = field(default_factory=OrderedDict)
    _lock: Any = field(default_factory=threading.Lock)

    def keep(self, data: bytes, kind: str) -> str:
        """Hold a drawing, and return the address that it is sent under."""
        key = sha256(data).hexdigest()[:24]
        with self._lock:
            self._held[key] = kind, data
            self._held.move_to_end(key)
            while len(self._held) > HELD:
                self._held.popitem(last=False)
        return f"{ADDRESS}/{key}"

    def of(self, key: str) -> tuple[str, bytes]:
        """Return a drawing's kind and bytes.

        Raises
        ------
        NotHereError
            It is not held, or no longer.
        """
        with self._lock:
            if key not in self._held:
                raise NotHereError("this picture is not held any more: load the page again")
            return self._held[key]
