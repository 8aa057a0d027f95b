"""A photograph as tiles of 256 px at every zoom, encoded anew: nothing that the camera noted leaves with them."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray

from bubblegrade.casting.flattened import flattened
from bubblegrade.casting.transmittance import darkness
from bubblegrade.optics import USUAL_INDEX
from bubblegrade.photo.light import Codes
from bubblegrade.photo.on_card import OnCard, square_view
from bubblegrade.photo.reading import Photo, read_photo
from bubblegrade.show.marked import in_colour

TILE_PX: Final = 256
QUALITY: Final = 88  # of a tile's JPEG
HELD: Final = 3  # photographs in memory; one of 24 megapixels takes about 200 MB with both its layers
SMALL_PX: Final = 480  # longer side of the picture in the tray
LAYERS: Final = ("photograph", "transmittance")
WHITE: Final = 255.0

Picture = NDArray[np.uint8]
Key = tuple[str, OnCard | None, int, int]  # path, the card that it is squared to, time of change in ns, bytes
Levels = tuple[Picture, ...]  # the full picture first, each next one half as wide and high


@dataclass(eq=False)
class Held:
    """A photograph in memory, its layers made when they are asked for."""

    photo: Photo
    layers: dict[str, Levels] = field(default_factory=dict)
    lock: Any = field(default_factory=threading.Lock)

    @property
    def size_px(self) -> tuple[int, int]:
        """Columns and rows."""
        rows, cols = self.photo.shape_px
        return cols, rows

    def levels(self, layer: str) -> Levels:
        """Return a layer's pictures.

        Raises
        ------
        PhotoError
            It is the transmittance of a photograph without light.
        """
        with self.lock:
            if layer not in self.layers:
                self.layers[layer] = pyramid(_drawn(self.photo, layer))
            return self.layers[layer]

    @property
    def small(self) -> bytes:
        """A small picture as JPEG."""
        levels = self.levels(LAYERS[0])
        near = next((level for level in reversed(levels) if max(level.shape) >= SMALL_PX), levels[0])
        zoom = min(1.0, SMALL_PX / max(near.shape))
        return _jpeg(near if zoom == 1.0 else cv2.resize(near, None, fx=zoom, fy=zoom, interpolation=cv2.INTER_AREA))

    def tile(self, layer: str, zoom: int, col: int, row: int) -> bytes | None:
        """Return a tile as JPEG; `zoom` 0 is the smallest level; None where there is none."""
        levels = self.levels(layer)
        if not 0 <= zoom < len(levels) or col < 0 or row < 0:
            return None
        top, left = row * TILE_PX, col * TILE_PX
        cut = levels[len(levels) - 1 - zoom][top : top + TILE_PX, left : left + TILE_PX]
        return _jpeg(cut) if cut.size else None


@dataclass(eq=False)
class Pictures:
    """The photographs looked at last."""

    _held: OrderedDict[Key, Held] = field(default_factory=OrderedDict)
    _lock: Any = field(default_factory=threading.Lock)

    def of(self, path: Path, card: OnCard | None = None) -> Held:
        """Return a photograph, or what it shows squared to the scale `card`, read where it is not held.

        Raises
        ------
        PhotoError
            It cannot be read, or shows no card.
        """
        with self._lock:
            key = _key(path, card)
            if key not in self._held:
                self._keep(key, Held(_read(path, card)))
            self._held.move_to_end(key)
            return self._held[key]

    def keep(self, path: Path, photo: Photo) -> None:
        """Hold a photograph that was just read."""
        with self._lock:
            self._keep(_key(path, None), Held(photo))

    def _keep(self, key: Key, held: Held) -> None:
        self._held[key] = held
        while len(self._held) > HELD:
            self._held.popitem(last=False)


def pyramid(picture: Picture) -> Levels:
    """Return the picture and its halves, down to one that fits a tile; an odd side is made even first.

    >>> [level.shape[:2] for level in pyramid(np.zeros((300, 513, 3), np.uint8))]
    [(300, 513), (150, 257), (75, 129)]
    """
    levels = [picture]
    while max(levels[-1].shape[:2]) > TILE_PX:
        last = levels[-1]
        rows, cols = last.shape[:2]
        even = cv2.copyMakeBorder(last, 0, rows % 2, 0, cols % 2, cv2.BORDER_REPLICATE)
        half = cv2.resize(even, (even.shape[1] // 2, even.shape[0] // 2), interpolation=cv2.INTER_AREA)
        levels.append(np.asarray(half, np.uint8))
    return tuple(levels)


def sides_px(levels: Sequence[Picture]) -> list[tuple[int, int]]:
    """Return columns and rows of each level, the smallest first, as `tile` numbers them."""
    return [(level.shape[1], level.shape[0]) for level in reversed(levels)]


def _drawn(photo: Photo, layer: str) -> Picture:
    """Return a layer at full size: the photograph, or how much of the clear resin's light passes, white for all."""
    if layer == LAYERS[0]:
        return in_colour(photo.shown)
    passes = 1.0 - darkness(flattened(photo, None))
    grey: Codes = np.clip(WHITE * passes, 0.0, WHITE).astype(np.uint8)
    return np.asarray(grey, np.uint8)


def _jpeg(picture: Any) -> bytes:
    done, data = cv2.imencode(".jpg", picture, [int(cv2.IMWRITE_JPEG_QUALITY), QUALITY])
    assert done  # noqa: S101 - a picture of 8 bits can be encoded
    return bytes(data.tobytes())


def _read(path: Path, card: OnCard | None) -> Photo:
    photo = read_photo(path, name=path.name)
    if card is None:
        return photo
    # How the card is squared hangs on neither thickness nor resin: these only move the scale.
    return square_view(photo, card, thickness_mm=None, index=USUAL_INDEX)[0]


def _key(path: Path, card: OnCard | None) -> Key:
    try:
        known = path.stat()
    except OSError:
        return str(path), card, 0, 0  # reading says what is wrong
    return str(path), card, known.st_mtime_ns, known.st_size
