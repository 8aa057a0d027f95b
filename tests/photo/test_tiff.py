"""TIFF in every layout: the picture that was written, upright, or one clear line; never another picture."""

from __future__ import annotations

import struct
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import tifffile

from bubblegrade.errors import PhotoError
from bubblegrade.photo.light import grey
from bubblegrade.photo.reading import read_photo

COLS = 128
SCENE = np.add.outer(np.arange(96) * 200, np.arange(COLS) * 300).astype(np.uint16)  # every place another code
COLOUR = np.dstack([SCENE, SCENE // 2 + 9, SCENE // 3 + 99])
NEGATIVE = {"photometric": "miniswhite"}
TILES = {"photometric": "rgb", "tile": (32, 32)}


def turned(orientation: int) -> dict[str, Any]:
    """Return the tag of an orientation."""
    return {"extratags": [(274, 3, 1, orientation, True)]}


@pytest.mark.parametrize("dtype", [np.uint8, np.uint16])
def test_where_white_is_zero_the_picture_is_no_negative(tmp_path: Path, dtype: type) -> None:
    scene = (SCENE // 257).astype(dtype) if dtype is np.uint8 else SCENE
    tifffile.imwrite(tmp_path / "a.tif", ~scene, **NEGATIVE)
    np.testing.assert_array_equal(grey(read_photo(tmp_path / "a.tif").codes), scene)


@pytest.mark.parametrize(
    ("codes", "how"),
    [
        (np.moveaxis(COLOUR // 257, 2, 0).astype(np.uint8), {"photometric": "rgb", "planarconfig": "separate"}),
        (COLOUR, TILES | turned(1)),
        ((COLOUR // 257).astype(np.uint8), TILES | turned(1)),
    ],
    ids=["8 bits apart", "16 bits in tiles", "8 bits in tiles"],
)
def test_a_layout_that_is_decoded_gives_the_picture(tmp_path: Path, codes: np.ndarray, how: dict[str, Any]) -> None:
    tifffile.imwrite(tmp_path / "a.tif", codes, **how)
    read = read_photo(tmp_path / "a.tif").codes
    np.testing.assert_array_equal(read[..., ::-1], COLOUR // 257 if codes.dtype == np.uint8 else COLOUR)


@pytest.mark.parametrize(
    ("codes", "how", "line"),
    [
        (np.moveaxis(COLOUR, 2, 0), {"photometric": "rgb", "planarconfig": "separate"}, "holds each colour apart"),
        ((COLOUR // 257).astype(np.uint8), TILES | turned(3), "is in tiles and not upright"),
        (COLOUR, {"photometric": "rgb", "subfiletype": 1}, "begins with a preview"),
    ],
    ids=["apart", "turned tiles", "preview"],
)
def test_a_layout_that_would_give_another_picture_is_refused(
    tmp_path: Path, codes: np.ndarray, how: dict[str, Any], line: str
) -> None:
    tifffile.imwrite(tmp_path / "a.tif", codes, **how)
    with pytest.raises(PhotoError, match=rf"^a\.tif {line}.*: save (it|the picture) .+"):
        read_photo(tmp_path / "a.tif", name="a.tif")


def test_16_bits_without_a_profile_are_said_to_be_taken_as_srgb(
    tmp_path: Path, icc_profile: Callable[..., bytes]
) -> None:
    def warnings(codes: np.ndarray, **how: Any) -> tuple[str, ...]:
        tifffile.imwrite(tmp_path / "a.tif", codes, **how)
        return read_photo(tmp_path / "a.tif").warnings

    profile = icc_profile(gamma=1.0, space=b"GRAY")
    assert "a linear picture comes out wrong" in " ".join(warnings(SCENE))
    assert warnings(SCENE, extratags=[(34675, 7, len(profile), profile, True)]) == ()
    assert warnings((SCENE // 257).astype(np.uint8)) == ()


@pytest.mark.parametrize(("kind", "said"), [(0, True), (1, False)], ids=["picture", "preview"])
def test_a_second_picture_is_said_to_be_left_out_and_a_preview_is_none(
    tmp_path: Path, kind: int, *, said: bool
) -> None:
    codes = (COLOUR // 257).astype(np.uint8)
    with tifffile.TiffWriter(tmp_path / "a.tif") as file:
        file.write(codes, photometric="rgb")
        file.write(codes[::-1], photometric="rgb", subfiletype=kind)
    photo = read_photo(tmp_path / "a.tif")
    np.testing.assert_array_equal(photo.codes[..., ::-1], codes)
    assert ("the one that viewers show is measured" in " ".join(photo.warnings)) == said


def test_a_picture_longer_than_the_decoder_takes_is_one_line(tmp_path: Path) -> None:
    path = tmp_path / "a.tif"
    tifffile.imwrite(path, (COLOUR // 257).astype(np.uint8), photometric="rgb", metadata=None)
    data = bytearray(path.read_bytes())
    with tifffile.TiffFile(path) as file:
        entry = file.pages[0].tags[257].offset
    data[entry + 2 : entry + 12] = struct.pack("<HII", 4, 1, 2_500_000)  # rows
    path.write_bytes(data)
    with pytest.raises(PhotoError, match=r"^a\.tif cannot be decoded: save it again as JPEG, PNG or TIFF$"):
        read_photo(path, name="a.tif")
