"""A picture turned upright and back again, after EXIF."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageOps

from bubblegrade.photo.reading import read_photo
from bubblegrade.photo.turning import as_sensed, upright

PICTURE = np.arange(70 * 90 * 3, dtype=np.uint32).reshape(70, 90, 3).astype(np.uint8)


@pytest.mark.parametrize("orientation", range(1, 9))
def test_a_picture_is_turned_as_pillow_turns_it_and_back_to_what_it_was(orientation: int) -> None:
    noted = Image.fromarray(PICTURE)
    noted.getexif()[0x0112] = orientation
    turned = upright(PICTURE, orientation)
    np.testing.assert_array_equal(turned, np.asarray(ImageOps.exif_transpose(noted)))
    np.testing.assert_array_equal(as_sensed(turned, orientation), PICTURE)


@pytest.mark.parametrize("name", ["a.jpg", "a.png", "a.tif"])
def test_a_photograph_keeps_the_orientation_that_its_camera_noted(tmp_path: Path, name: str) -> None:
    exif = Image.Exif()
    exif[0x0112] = 8
    Image.fromarray(PICTURE).save(tmp_path / name, exif=exif)
    photo = read_photo(tmp_path / name)
    assert (photo.orientation, photo.shape_px) == (8, (90, 70))
