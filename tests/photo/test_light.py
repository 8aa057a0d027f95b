"""Code values become linear light as IEC 61966-2-1:1999 (sRGB) defines it."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from skimage.color import rgb2xyz

from bubblegrade.photo.light import EXPONENT, OFFSET, SLOPE, STRAIGHT_TO, clipped, encoded, grey_light, linear

SHARES = st.floats(0.0, 1.0)


def test_the_constants_are_those_of_the_standard() -> None:
    # IEC 61966-2-1:1999, as libpng's sRGB.h and the Android DataSpace documentation print them
    assert (SLOPE, STRAIGHT_TO, OFFSET, EXPONENT) == (12.92, 0.04045, 0.055, 2.4)


# Light of a code value; computed from the formula of the standard.
@pytest.mark.parametrize(
    ("code", "light"),
    [(0.0, 0.0), (0.04045, 0.0031308), (0.5, 0.214041), (128 / 255, 0.215861), (1.0, 1.0)],
)
def test_code_values_decode_to_the_light_of_the_standard(code: float, light: float) -> None:
    assert float(linear(code)) == pytest.approx(light, abs=6e-7)


# encode(0.18) is printed by the documentation of the colour-science package; the others are computed.
@pytest.mark.parametrize(
    ("light", "code"), [(0.18, 0.46135613), (0.9216, 0.964714), (0.0031308, 0.0404499), (0.0, 0.0), (1.0, 1.0)]
)
def test_light_encodes_to_the_code_values_of_the_standard(light: float, code: float) -> None:
    assert float(encoded(light)) == pytest.approx(code, abs=6e-7)


@given(SHARES)
def test_encoding_undoes_decoding(code: float) -> None:
    assert float(encoded(linear(code))) == pytest.approx(code, abs=1e-6)


@given(SHARES, SHARES)
def test_more_code_is_more_light(one: float, other: float) -> None:
    less, more = sorted((one, other))
    assert float(linear(less)) <= float(linear(more))


def test_the_two_parts_of_the_curve_meet() -> None:
    assert float(linear(0.04045 + 1e-12) - linear(0.04045)) == pytest.approx(0.0, abs=1e-8)


def test_every_8_bit_grey_has_the_luminance_that_skimage_gives_it() -> None:
    greys = np.arange(256, dtype=np.uint8)[None, :]
    luminance = rgb2xyz(np.repeat(greys[..., None], 3, axis=2))[0, :, 1]
    np.testing.assert_allclose(grey_light(greys)[0], luminance, atol=2e-6)


def test_a_grey_picture_of_three_channels_has_the_light_of_one() -> None:
    grey = np.arange(256, dtype=np.uint8).reshape(16, 16)
    np.testing.assert_array_equal(grey_light(np.repeat(grey[..., None], 3, axis=2)), grey_light(grey))


def test_sixteen_bits_give_the_light_of_eight_bits_to_a_millionth() -> None:
    eight = np.arange(256, dtype=np.uint8).reshape(16, 16)
    sixteen = eight.astype(np.uint16) * 257  # 65535 = 257 x 255
    np.testing.assert_allclose(grey_light(sixteen), grey_light(eight), atol=1e-6)


def test_an_even_tint_leaves_ratios_of_light_to_one_per_cent() -> None:
    # 60 % against 90 % of a tinted light is 2/3, whatever the hue
    tint = np.array([0.55, 0.8, 1.0])
    full, part = (np.rint(encoded(share * tint) * 65535).astype(np.uint16)[None, None] for share in (0.9, 0.6))
    ratio = float(grey_light(part)[0, 0] / grey_light(full)[0, 0])
    assert ratio == pytest.approx(2 / 3, rel=0.01)


@pytest.mark.parametrize(("kind", "full"), [(np.uint8, 255), (np.uint16, 65535)])
def test_a_pixel_is_clipped_where_any_colour_is_at_full_scale(kind: type, full: int) -> None:
    codes = np.zeros((1, 3, 3), kind)
    codes[0, 1, 2] = full
    codes[0, 2] = full // 2
    assert clipped(codes).tolist() == [[False, True, False]]
    assert clipped(cv2.extractChannel(codes, 2)).tolist() == [[False, True, False]]
