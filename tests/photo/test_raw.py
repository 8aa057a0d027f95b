"""Camera raw: the sensor's own light, evenly developed, upright, with the camera's notes, or one clear line."""

from __future__ import annotations

import datetime
import sys
from pathlib import Path

import numpy as np
import pytest
import tifffile

from bubblegrade.errors import PhotoError
from bubblegrade.photo.light import grey_light, linear
from bubblegrade.photo.reading import read_photo

ROWS, COLS = 120, 160
IDENTITY = np.eye(3)
FROM_XYZ = np.array([[0.7, -0.15, -0.06], [-0.45, 1.25, 0.22], [-0.08, 0.2, 0.65]])  # as those of cameras are
COLOURS = {"R": 0, "G": 1, "B": 2}


def dng(
    path: Path,
    light: np.ndarray,
    *,
    orientation: int = 1,
    bits: int = 14,
    black: int = 0,
    pattern: str = "RGGB",
    matrix: np.ndarray = IDENTITY,
) -> Path:
    """Write linear light as a sensor sees it, (rows, cols) or what passes its red, green and blue filters (DNG 1.4)."""
    white = 2**bits - 1
    places = tuple(COLOURS[name] for name in pattern)
    tags = [
        (50706, "B", 4, bytes([1, 4, 0, 0]), True),
        (33421, "H", 2, (2, 2), True),
        (33422, "B", 4, bytes(places), True),
        (50708, "s", 0, "Example One", True),
        (50714, "H", 1, black, True),
        (50717, "I", 1, white, True),
        (50721, "2i", 9, tuple(int(part) for value in matrix.ravel() for part in (1e4 * value, 1e4)), True),
        (50728, "2I", 3, (1, 1, 1, 1, 1, 1), True),
        (50778, "H", 1, 21, True),
        (274, "H", 1, orientation, True),
        (271, "s", 0, "Example", True),
        (272, "s", 0, "Example One", True),
        (306, "s", 0, "2026:05:03 14:22:10", True),
    ]
    filtered = light if light.ndim == 3 else np.repeat(light[..., None], 3, axis=2)
    mosaic = filtered[..., 1].copy()
    for place, colour in enumerate(places):
        mosaic[place // 2 :: 2, place % 2 :: 2] = filtered[place // 2 :: 2, place % 2 :: 2, colour]
    sensed = np.rint(black + mosaic * (white - black)).astype(np.uint16)
    tifffile.imwrite(path, sensed, photometric=32803, extratags=tags, metadata=None, software=False)
    return path


@pytest.fixture
def ramp() -> np.ndarray:
    """Return light that rises from left to right, 0.2 to 0.8, (120, 160)."""
    return np.broadcast_to(np.linspace(0.2, 0.8, COLS), (ROWS, COLS))


def test_the_light_is_the_sensors_own(tmp_path: Path, ramp: np.ndarray) -> None:
    photo = read_photo(dng(tmp_path / "a.dng", ramp))
    assert photo.codes.dtype == np.uint16
    light = grey_light(photo.codes, photo.tone)
    np.testing.assert_allclose(light[20:100, 20:140], ramp[20:100, 20:140], rtol=2e-3)


@pytest.mark.parametrize("pattern", ["BGGR", "GRBG", "GBRG"])
def test_any_order_of_filters_bits_and_black_level_give_the_same_light(
    tmp_path: Path, ramp: np.ndarray, pattern: str
) -> None:
    photo = read_photo(dng(tmp_path / "a.dng", ramp[:-1, :-1], bits=12, black=256, pattern=pattern))
    assert photo.shape_px == (ROWS - 1, COLS - 1)
    np.testing.assert_allclose(grey_light(photo.codes)[20:100, 20:140], ramp[20:100, 20:140], rtol=3e-3)


@pytest.mark.parametrize("colours", [(0.9, 0.2, 0.1), (0.2, 0.9, 0.2), (0.1, 0.2, 0.9)])
def test_light_of_colours_beyond_what_screens_show_is_the_sensors_own(
    tmp_path: Path, ramp: np.ndarray, colours: tuple[float, float, float]
) -> None:
    light = ramp[..., None] * np.array(colours)
    codes = read_photo(dng(tmp_path / "a.dng", light, matrix=FROM_XYZ)).codes
    seen = np.stack([linear(codes[20:100, 20:140, layer] / 65535) for layer in (2, 1, 0)], axis=-1)
    np.testing.assert_allclose(seen, light[20:100, 20:140], rtol=0.02)


def test_a_dim_picture_is_not_brightened(tmp_path: Path, ramp: np.ndarray) -> None:
    light = grey_light(read_photo(dng(tmp_path / "a.dng", ramp / 8)).codes)
    np.testing.assert_allclose(light[20:100, 20:140], ramp[20:100, 20:140] / 8, rtol=5e-3)


def test_what_the_sensor_clipped_is_at_full_scale(tmp_path: Path, ramp: np.ndarray) -> None:
    clipped = np.where(ramp > 0.5, 1.0, ramp)
    codes = read_photo(dng(tmp_path / "a.dng", clipped)).codes
    assert (codes[20:100, 120:140] == 65535).all()


@pytest.mark.parametrize("orientation", [1, 3, 6, 8])
def test_the_orientation_of_a_raw_picture_is_kept(tmp_path: Path, ramp: np.ndarray, orientation: int) -> None:
    assert read_photo(dng(tmp_path / "a.dng", ramp, orientation=orientation)).orientation == orientation


def test_a_turned_raw_picture_is_upright(tmp_path: Path, ramp: np.ndarray) -> None:
    codes = read_photo(dng(tmp_path / "a.dng", ramp, orientation=6)).codes
    assert codes.shape == (COLS, ROWS, 3)
    assert codes[-20, 60, 1] > 1.5 * codes[20, 60, 1]  # left is up


def test_the_cameras_notes_are_kept(tmp_path: Path, ramp: np.ndarray) -> None:
    noted = read_photo(dng(tmp_path / "a.dng", ramp)).noted
    assert noted.camera == "Example One"
    assert noted.taken == datetime.datetime(2026, 5, 3, 14, 22, 10)


def test_a_raw_picture_without_its_extra_says_how_to_get_it(
    tmp_path: Path, ramp: np.ndarray, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = dng(tmp_path / "a.dng", ramp)
    monkeypatch.setitem(sys.modules, "rawpy", None)
    with pytest.raises(PhotoError, match=r"^a\.dng needs what reads camera raw: pip install 'bubblegrade\[raw\]', or "):
        read_photo(path, name="a.dng")


@pytest.mark.parametrize("content", [b"no raw picture" * 20, b"II*\0" + b"\0" * 200])
def test_a_damaged_raw_picture_is_said_to_be(tmp_path: Path, content: bytes) -> None:
    (tmp_path / "a.nef").write_bytes(content)
    with pytest.raises(PhotoError, match=r"^a\.nef is no raw picture that can be read: "):
        read_photo(tmp_path / "a.nef", name="a.nef")


def test_a_raw_picture_too_small_is_refused(tmp_path: Path, ramp: np.ndarray) -> None:
    with pytest.raises(PhotoError, match="a void needs 5 px"):
        read_photo(dng(tmp_path / "a.dng", ramp[:40, :40]))
