"""Make two further samples of a traced one: on the scale card, and as a phone saves it.

    python sample_images/make_other_samples.py

writes with-a-scale/cup-card-a.jpg from cup-60psi-a.jpg: the cup on a card on film, seen 12 degrees aside with a lens
that bends straight lines a little; and from-a-phone/cup-60psi-a.heic. The voids of both are those of cup-60psi-a in
truth.csv.
"""

from __future__ import annotations

import csv
from dataclasses import replace
from pathlib import Path
from typing import Final

import cv2
import numpy as np
import pillow_heif
from PIL import Image
from PIL.ExifTags import IFD, Base

from bubblegrade.drawn.cards import PAINT_PX_PER_MM, Sheet, Shot, paint, photograph
from bubblegrade.photo.card import make_card
from bubblegrade.photo.card_shapes import black_shapes
from bubblegrade.photo.light import grey_light
from bubblegrade.photo.reading import read_photo

HERE: Final = Path(__file__).parent
NAME: Final = "cup-60psi-a.jpg"
BARE: Final = 0.8  # percentile of the sample's light that counts as bare
FADE: Final = 0.08  # of its side, over which its light passes into that of the window
SHOT: Final = Shot(
    shape_px=(2300, 2300), focal_px=4000.0, mm_per_px=0.056, tilt_degrees=12.0, tilt_towards_degrees=40.0,
    turn_degrees=4.0, k1=-0.04, uneven=0.1, jpeg=84, seed=21,
)  # fmt: skip


def mm_per_px(name: str) -> float:
    """Return a sample's scale."""
    with (HERE / "photographs.csv").open(encoding="utf-8", newline="") as file:
        return next(float(row["mm_per_px"]) for row in csv.DictReader(file) if row["photo"] == name)


def main() -> None:
    """Write both photographs."""
    write_on_card(HERE / "with-a-scale" / "cup-card-a.jpg")
    write_heic(HERE / "from-a-phone" / "cup-60psi-a.heic")


def write_on_card(place: Path) -> None:
    """Write the cup on a card."""
    card = make_card("a4", window_mm=60.0, film=True)
    half_x, half_y = card.layout.half_mm
    sheet = paint(black_shapes(card.layout, film=True), half_mm=(half_x + 6.0, half_y + 14.0), white=0.95)
    light = grey_light(read_photo(HERE / NAME).codes)
    passed = light / np.percentile(light, 100 * BARE)
    zoom = mm_per_px(NAME) * PAINT_PX_PER_MM
    passed = cv2.resize(passed, None, fx=zoom, fy=zoom, interpolation=cv2.INTER_AREA)
    picture = photograph(_with(sheet, passed.astype(np.float32)), SHOT)
    cv2.imwrite(str(place), picture, [int(cv2.IMWRITE_JPEG_QUALITY), SHOT.jpeg])
    print(f"{place.name}: {place.stat().st_size} bytes")


def write_heic(place: Path) -> None:
    """Write the cup as a phone does, with what its camera notes."""
    exif = Image.Exif()
    exif[Base.Make], exif[Base.Model] = "Example", "Example One"
    exif.get_ifd(IFD.Exif).update({
        Base.DateTimeOriginal: "2026:05:03 14:22:10", Base.ExposureTime: 0.008, Base.FocalLengthIn35mmFilm: 26,
    })  # fmt: skip
    with Image.open(HERE / NAME) as traced:
        picture = pillow_heif.from_pillow(traced)
    picture.info["exif"] = exif.tobytes()
    picture.save(place, quality=80)
    print(f"{place.name}: {place.stat().st_size} bytes")


def _with(sheet: Sheet, passed: np.ndarray) -> Sheet:
    """Return the sheet with a casting, as it lets light through, in its middle; its border fades into the light."""
    light = sheet.light.copy()
    rows, cols = passed.shape
    y, x = (np.minimum(np.arange(n), np.arange(n)[::-1]) / (FADE * n) for n in (rows, cols))
    fade = np.clip(np.minimum(y[:, None], x[None, :]), 0.0, 1.0).astype(np.float32)
    passed = 1.0 + (passed - 1.0) * fade
    top, left = (light.shape[0] - rows) // 2, (light.shape[1] - cols) // 2
    light[top : top + rows, left : left + cols] *= passed
    return replace(sheet, light=light)


if __name__ == "__main__":
    main()
