"""What is known of a lens, and the file it is kept in."""

from __future__ import annotations

import math

import pytest

from bubblegrade.errors import InputError
from bubblegrade.photo.lens import Calibration, Lens, lens_for, lens_from_focal, lens_from_text, lens_text

LENS = Lens((3000, 4000), 3100.25, 4.5, -0.081234, 0.003, 0.021, 0.004, source="calibrated")
FOUND = Calibration(LENS, rms_px=0.125, photographs=4)


def test_35_mm_on_film_are_the_diagonal_over_43_27_mm_in_px() -> None:
    # 5000 px of diagonal x 35 / 43.2666
    lens = lens_from_focal(35.0, (3000, 4000))
    assert lens.focal_px == pytest.approx(4044.7, abs=0.1)
    assert lens.is_known
    assert lens.centre_px == (1999.5, 1499.5)


@pytest.mark.parametrize("focal", [math.nan, 0.0, -1.0])
def test_no_focal_length_is_a_guess_and_says_so(focal: float) -> None:
    lens = lens_from_focal(focal, (3000, 4000))
    assert not lens.is_known
    assert lens.focal_err_px == pytest.approx(0.3 * lens.focal_px)


def test_a_lens_file_keeps_what_was_written() -> None:
    again = lens_from_text(lens_text(FOUND), name="lens.toml")
    assert (again.rms_px, again.photographs) == (0.125, 4)
    assert again.lens == Lens(**{**LENS.__dict__, "source": "lens file lens.toml"})


@pytest.mark.parametrize("shape", [(1500, 2000), (2000, 1500), (3000, 4000), (4000, 3000), (751, 1000)])
def test_pictures_of_the_same_shape_have_the_same_lens_at_their_size(shape: tuple[int, int]) -> None:
    lens = lens_for(LENS, shape)
    assert lens.focal_px == pytest.approx(3100.25 * max(shape) / 4000)
    assert (lens.k1, lens.k2, lens.shape_px) == (LENS.k1, LENS.k2, shape)


@pytest.mark.parametrize("shape", [(3000, 3000), (2250, 4000)])
def test_a_picture_of_another_shape_is_refused_with_both(shape: tuple[int, int]) -> None:
    said = (
        rf"^a\.jpg is {shape[1]} x {shape[0]} px, and the lens was calibrated on 4000 x 3000 px, of another shape: give"
    )
    with pytest.raises(InputError, match=said):
        lens_for(LENS, shape, name="a.jpg")


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        (
            "version = 1",
            "version = 2",
            r"^lens\.toml is no lens file of version 1 \(it says version 2\): make it again",
        ),
        ("version = 1", "", r"it says version nothing"),
        ("version = 1", "version 1", r"^lens\.toml is no lens file \(.*\): make one with bubblegrade lens$"),
        ("focal_px = 3100.25", "focal_px = 'wide'", r"^lens\.toml: focal_px is 'wide', which no lens has: make"),
        ("focal_px = 3100.25", "focal_px = -5", r"focal_px is -5, which"),
        ("focal_px = 3100.25", "focal_px = true", r"focal_px is True, which"),
        ("k1 = -0.081234", "k1 = nan", r"k1 is nan, which"),
        ("k2 = 0.021000", "", r"k2 is None, which"),
    ],
)
def test_a_file_that_is_no_lens_is_refused_with_the_fault(old: str, new: str, said: str) -> None:
    text = lens_text(FOUND)
    assert old in text
    with pytest.raises(InputError, match=said):
        lens_from_text(text.replace(old, new), name="lens.toml")
