"""The tone that a picture states without a profile: a linear PNG has the light of the same scene in sRGB."""

from __future__ import annotations

import io
import struct
import zlib
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from bubblegrade.errors import PhotoError
from bubblegrade.photo.light import encoded, grey_light
from bubblegrade.photo.reading import read_photo

SCENE = np.broadcast_to(np.linspace(0.02, 0.98, 128), (80, 128))  # linear light


def chunk(name: bytes, content: bytes) -> bytes:
    """Return a chunk of a PNG (ISO/IEC 15948, 5.3)."""
    return struct.pack(">I", len(content)) + name + content + struct.pack(">I", zlib.crc32(name + content))


def png(path: Path, share: np.ndarray, *chunks: bytes) -> Path:
    """Write shares of full scale as a grey PNG of 16 bits with further chunks behind its header."""
    written = io.BytesIO()
    Image.fromarray(np.rint(65535 * share).astype(np.uint16)).save(written, "PNG")
    data = written.getvalue()
    path.write_bytes(data[:33] + b"".join(chunks) + data[33:])
    return path


def gamma(times_100000: int) -> bytes:
    """Return the chunk of a gamma."""
    return chunk(b"gAMA", struct.pack(">I", times_100000))


def coded(transfer: int) -> bytes:
    """Return the chunk of the numbers of ITU-T H.273: primaries of BT.709, a transfer, no matrix, full range."""
    return chunk(b"cICP", bytes([1, transfer, 0, 1]))


SRGB = chunk(b"sRGB", b"\0")


@pytest.mark.parametrize(
    ("share", "chunks"),
    [
        (SCENE, (gamma(100_000),)),
        (SCENE, (coded(8),)),
        (SCENE, (SRGB, coded(8))),
        (SCENE ** (1 / 1.8), (gamma(55_556),)),
        (SCENE ** (1 / 2.2), (coded(4),)),
        (encoded(SCENE), ()),
        (encoded(SCENE), (gamma(45_455),)),
        (encoded(SCENE), (gamma(100_000), SRGB)),
        (encoded(SCENE), (coded(13),)),
        (encoded(SCENE), (gamma(0),)),
    ],
    ids=["gamma 1", "linear", "number before sRGB", "gamma 1.8", "power 2.2", "nothing", "gamma of sRGB",
         "sRGB before gamma", "number of sRGB", "no gamma"],
)  # fmt: skip
def test_one_scene_has_one_light_however_a_png_states_its_tone(
    tmp_path: Path, share: np.ndarray, chunks: tuple[bytes, ...]
) -> None:
    photo = read_photo(png(tmp_path / "a.png", share, *chunks))
    np.testing.assert_allclose(grey_light(photo.codes, photo.tone), SCENE, rtol=5e-3)


@pytest.mark.parametrize(("transfer", "word"), [(16, "PQ"), (18, "HLG")])
def test_a_png_brighter_than_white_is_refused(tmp_path: Path, transfer: int, word: str) -> None:
    path = png(tmp_path / "a.png", SCENE, coded(transfer))
    with pytest.raises(PhotoError, match=rf"^a\.png is coded for HDR \({word}\), which has no fixed white: switch"):
        read_photo(path, name="a.png")
