"""Tiles hold the photograph, and nothing of what the camera noted."""

from __future__ import annotations

import io
import itertools
from collections.abc import Callable
from pathlib import Path

import cv2
import numpy as np
import pytest
from PIL import Image

from bubblegrade.bench.pictures import HELD, SMALL_PX, TILE_PX, Pictures, pyramid, sides_px
from bubblegrade.errors import PhotoError


def decoded(data: bytes) -> np.ndarray:
    return np.asarray(cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_COLOR))


def test_the_tiles_of_the_last_level_are_the_photograph(tmp_path: Path, photograph: Callable[..., Path]) -> None:
    path = photograph(tmp_path / "cup.png", size_px=700, casting_px=250.0)
    held, photo = Pictures().of(path), cv2.imread(str(path))
    assert photo is not None
    zoom = len(held.levels("photograph")) - 1
    rows = []
    for row in range(3):
        tiles = [held.tile("photograph", zoom, col, row) for col in range(3)]
        rows.append(np.hstack([decoded(tile) for tile in tiles if tile is not None]))
    whole = np.vstack(rows)
    assert whole.shape == photo.shape
    assert np.abs(whole.astype(float) - photo).mean() < 1.5  # of 255: what JPEG leaves


def test_outside_the_picture_there_is_no_tile(tmp_path: Path, photograph: Callable[..., Path]) -> None:
    held = Pictures().of(photograph(tmp_path / "cup.png"))
    for at in ((9, 0, 0), (-1, 0, 0), (1, 2, 0), (1, 0, 2), (1, -1, 0), (1, 0, -1)):
        assert held.tile("photograph", *at) is None


def test_every_level_is_half_the_one_before_and_the_first_fits_a_tile() -> None:
    sides = sides_px(pyramid(np.zeros((999, 1601, 3), np.uint8)))
    assert sides[-1] == (1601, 999)
    assert max(sides[0]) <= TILE_PX
    for (width, height), (next_width, next_height) in itertools.pairwise(sides):
        assert width == -(-next_width // 2)
        assert height == -(-next_height // 2)


def test_the_transmittance_is_white_where_resin_is_clear(tmp_path: Path, photograph: Callable[..., Path]) -> None:
    held = Pictures().of(photograph(tmp_path / "cup.png"))
    middle = held.levels("transmittance")[0][190:210, 120:140]
    assert np.median(middle) > 0.93 * 255


def test_where_it_was_taken_does_not_leave_with_a_picture(tmp_path: Path, photograph: Callable[..., Path]) -> None:
    picture = Image.open(photograph(tmp_path / "cup.png"))
    exif = Image.Exif()
    exif.get_ifd(0x8825).update({1: "N", 2: (51.0, 28.0, 38.0)})  # GPS block of EXIF 2.32
    exif[0x010F] = "Some Camera"
    path = tmp_path / "located.jpg"
    picture.save(path, exif=exif)
    assert b"Some Camera" in path.read_bytes()
    held = Pictures().of(path)
    for data in (held.small, held.tile("photograph", 0, 0, 0), held.tile("transmittance", 0, 0, 0)):
        assert data is not None
        assert b"Exif" not in data
        assert b"Some Camera" not in data
        assert not Image.open(io.BytesIO(data)).getexif()


def test_the_small_picture_is_small(tmp_path: Path, photograph: Callable[..., Path]) -> None:
    path = photograph(tmp_path / "cup.png", size_px=1100, casting_px=400.0)
    assert max(decoded(Pictures().of(path).small).shape) == SMALL_PX


def test_a_photograph_that_changed_on_the_disk_is_read_again(tmp_path: Path, photograph: Callable[..., Path]) -> None:
    pictures, path = Pictures(), tmp_path / "cup.png"
    first = pictures.of(photograph(path)).photo.sha256
    assert pictures.of(photograph(path, level=0.5)).photo.sha256 != first


def test_the_memory_holds_only_the_last_few(tmp_path: Path, photograph: Callable[..., Path]) -> None:
    pictures = Pictures()
    first = pictures.of(photograph(tmp_path / "0.png"))
    for number in range(1, HELD + 1):
        pictures.of(photograph(tmp_path / f"{number}.png"))
    assert pictures.of(tmp_path / "0.png") is not first


def test_what_cannot_be_read_is_said(tmp_path: Path) -> None:
    with pytest.raises(PhotoError, match="does not exist"):
        Pictures().of(tmp_path / "none.png")
