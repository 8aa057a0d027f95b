"""What the camera noted is kept, what is damaged is left out, and where it was taken is never read."""

from __future__ import annotations

import datetime
import math
import struct
import warnings
from typing import Any

import pytest
from PIL import Image
from PIL.TiffImagePlugin import IFDRational

from bubblegrade.photo.noted import Noted, camera_name, noted_in, orientation_in, positive


def exif_of(picture: dict[int, Any], photograph: dict[int, Any]) -> Image.Exif:
    """Return EXIF notes after a round trip through their bytes."""
    exif = Image.Exif()
    exif.update(picture)
    exif.get_ifd(0x8769).update(photograph)
    again = Image.Exif()
    again.load(exif.tobytes())
    return again


def test_every_note_is_read() -> None:
    exif = exif_of(
        {0x010F: "Example", 0x0110: "One"},
        {
            0x829A: IFDRational(1, 125),
            0x829D: IFDRational(18, 10),
            0x8827: 100,
            0x9003: "2026:05:03 14:22:10",
            0x9011: "+02:00",
            0x920A: IFDRational(57, 10),
            0xA405: 26,
        },
    )
    zone = datetime.timezone(datetime.timedelta(hours=2))
    taken = datetime.datetime(2026, 5, 3, 14, 22, 10, tzinfo=zone)
    noted = noted_in(exif)
    assert noted == Noted("Example One", taken, noted.exposure_s, noted.f_number, 100.0, noted.focal_mm, 26.0)
    assert (noted.exposure_s, noted.f_number, noted.focal_mm) == pytest.approx((0.008, 1.8, 5.7))


def test_a_damaged_note_of_many_parts_is_left_out_without_a_word() -> None:
    exif = Image.Exif()
    make = struct.pack("<HHLL", 0x010F, 3, 4, 26)  # the maker as four numbers instead of text
    exif.load(b"Exif\0\0II*\0" + struct.pack("<LH", 8, 1) + make + struct.pack("<L4H", 0, 1, 2, 3, 4))
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        assert noted_in(exif).camera is None


def test_nothing_noted_is_nothing_known() -> None:
    noted = noted_in(Image.Exif())
    assert (noted.camera, noted.taken) == (None, None)
    assert math.isnan(noted.exposure_s)
    assert math.isnan(noted.focal_35mm)


@pytest.mark.parametrize("text", ["2026:13:03 14:22:10", "yesterday", "0000:00:00 00:00:00", "2026:05:03", ""])
def test_a_time_that_is_none_is_left_out(text: str) -> None:
    assert noted_in(exif_of({}, {0x9003: text})).taken is None


def test_a_zone_that_is_none_is_left_out() -> None:
    noted = noted_in(exif_of({}, {0x9003: "2026:05:03 14:22:10", 0x9011: "CEST"}))
    assert noted.taken == datetime.datetime(2026, 5, 3, 14, 22, 10)


@pytest.mark.parametrize("value", [0, -1.0, "wide", None, math.inf, math.nan, IFDRational(1, 0), (1, 2)])
def test_what_is_no_number_above_0_is_unknown(value: object) -> None:
    assert math.isnan(positive(value))


def test_a_camera_name_is_text_that_a_terminal_can_be_given() -> None:
    assert camera_name("Exa\x1b[31mmple\n", "One\0") == "Exa [31mmple One"
    assert len(camera_name("Example", "x" * 500) or "") <= 80
    assert camera_name(None, 7) is None


@pytest.mark.parametrize(("noted", "read"), [(6, 6), (0, 1), (9, 1), ("6", 1), (None, 1)])
def test_an_orientation_out_of_its_range_turns_nothing(noted: object, read: int) -> None:
    exif = Image.Exif()
    if noted is not None:
        exif[0x0112] = noted
    assert orientation_in(exif) == read


def test_where_it_was_taken_is_in_no_field() -> None:
    exif = exif_of({0x0110: "One"}, {0x8827: 100})
    exif.get_ifd(0x8825).update({1: "N", 2: (52.0, 31.0, 12.0), 3: "E", 4: (13.0, 24.0, 36.0)})
    said = repr(noted_in(exif))
    assert "One" in said
    for part in ("52", "31", "13.0", "24.0", "36"):
        assert part not in said
