"""A photograph made ready: what is drawn on, and what inspection sees, has its light whatever its file's tone."""

from __future__ import annotations

import struct
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from PIL.PngImagePlugin import PngInfo

from bubblegrade.grading_run import Request
from bubblegrade.photo.light import encoded, grey_light
from bubblegrade.runs.one import Task, made_ready
from bubblegrade.settings import Settings

LIGHT = np.broadcast_to(np.linspace(0.02, 1.0, 128), (80, 128))
TASK = Task("0", Request(), Settings())


def shown(path: Path, share: np.ndarray, dtype: type, *, gamma: float | None = None) -> np.ndarray:
    """Return what is shown of a photograph of these shares of full scale, its gamma stated."""
    said = PngInfo()
    if gamma is not None:
        said.add(b"gAMA", struct.pack(">I", round(100_000 * gamma)))
    Image.fromarray(np.rint(np.iinfo(dtype).max * share).astype(dtype)).save(path, pnginfo=said)
    return made_ready(path, path.name, TASK).shown


@pytest.mark.parametrize(("dtype", "off"), [(np.uint8, 0.01), (np.uint16, 2e-4)])
def test_what_is_shown_has_the_light_of_the_photograph(tmp_path: Path, dtype: type, off: float) -> None:
    plain = shown(tmp_path / "a.png", encoded(LIGHT), dtype)
    wide = shown(tmp_path / "b.png", LIGHT ** (1 / 1.8), dtype, gamma=1 / 1.8)
    assert wide.dtype == dtype
    np.testing.assert_allclose(grey_light(wide), grey_light(plain), atol=off)
