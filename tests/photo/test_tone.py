"""The tone of an embedded profile: every kind of curve, against LittleCMS and against the curves' own formulas."""

from __future__ import annotations

import io
from collections.abc import Callable

import numpy as np
import pytest
from PIL import Image, ImageCms
from skimage.color import rgb2lab

from bubblegrade.photo.light import grey_light, linear
from bubblegrade.photo.tone import tone_of

Maker = Callable[..., bytes]
SRGB = (3, (2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045))
# A camera's profiles: Display P3 has the curve of sRGB, Adobe RGB (1998) a power of 563/256 (both from memory).
CAMERAS = {"P3": {"parameters": SRGB, "primaries": "P3"}, "Adobe": {"gamma": 563 / 256, "primaries": "Adobe"}}


def to_srgb(codes: np.ndarray, profile: bytes) -> np.ndarray:
    """Return (rows, cols, 3) red, green, blue codes as LittleCMS brings them from a profile to sRGB."""
    shown = ImageCms.profileToProfile(
        Image.fromarray(codes), ImageCms.ImageCmsProfile(io.BytesIO(profile)), ImageCms.createProfile("sRGB")
    )
    assert shown is not None
    return np.asarray(shown)


@pytest.mark.parametrize("name", CAMERAS)
def test_greys_have_the_light_that_littlecms_gives_them(icc_profile: Maker, name: str) -> None:
    profile = icc_profile(**CAMERAS[name])
    ramp = np.repeat(np.arange(256, dtype=np.uint8)[None, :, None], 3, axis=2)
    theirs = to_srgb(ramp, profile)[0, :, 1] / 255
    ours = tone_of(profile, 255)
    # LittleCMS rounds to a code: half a code either way, and the curve's own slope
    assert (ours <= linear(np.minimum(theirs + 0.6 / 255, 1.0)) + 1e-6).all()
    assert (ours >= linear(np.maximum(theirs - 0.6 / 255, 0.0)) - 1e-6).all()


@pytest.mark.parametrize("name", CAMERAS)
@pytest.mark.parametrize("tint", [(1.0, 1.0, 1.0), (1.0, 0.85, 0.6)], ids=["clear", "amber"])
def test_a_transmittance_is_the_one_of_the_picture_brought_to_srgb(
    icc_profile: Maker, name: str, tint: tuple[float, float, float]
) -> None:
    profile = icc_profile(**CAMERAS[name])
    passed = np.array([0.1, 0.25, 0.5, 0.8])
    bare = np.array([0.7, 0.7, 0.7]) * tint
    power = 2.4 if name == "P3" else 563 / 256
    lit = np.concatenate([bare[None, :], passed[:, None] * bare[None, :]])
    shares = 1.055 * lit ** (1 / 2.4) - 0.055 if name == "P3" else lit ** (1 / power)
    codes = np.rint(255 * shares).astype(np.uint8)[None]
    through = [
        grey_light(codes[..., ::-1].copy(), tone_of(profile, 255)),
        grey_light(to_srgb(codes, profile)[..., ::-1].copy()),
    ]
    ours, theirs = ((light / light[0, 0])[0, 1:] for light in through)
    np.testing.assert_allclose(ours, theirs, rtol=0.02)  # a code at a tenth of the light is 1 %
    np.testing.assert_allclose(ours, passed, rtol=0.02)


@pytest.mark.parametrize(
    ("numbers", "light"),
    [
        ((0, (2.2,)), lambda x: x**2.2),
        ((1, (2.0, 1.25, -0.25)), lambda x: np.where(x >= 0.2, np.maximum(1.25 * x - 0.25, 0) ** 2, 0.0)),
        ((2, (2.0, 1.0, 0.0, 0.0)), lambda x: x**2),
        ((3, SRGB[1]), linear),
        ((4, (2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045, 0.0, 0.0)), linear),
    ],
    ids=["power", "offset", "lifted", "straight", "full"],
)
def test_every_kind_of_parametric_curve_follows_its_formula(
    icc_profile: Maker, numbers: tuple[int, tuple[float, ...]], light: Callable[[np.ndarray], np.ndarray]
) -> None:
    share = np.arange(256) / 255
    np.testing.assert_allclose(tone_of(icc_profile(parameters=numbers), 255), light(share), atol=1e-4)


def test_a_table_is_read_between_its_steps(icc_profile: Maker) -> None:
    tone = tone_of(icc_profile(table=(0, 16384, 65535)), 4)
    np.testing.assert_allclose(tone, [0.0, 0.125, 0.25, 0.625, 1.0], atol=1e-4)


def test_a_table_without_steps_is_linear_light(icc_profile: Maker) -> None:
    np.testing.assert_allclose(tone_of(icc_profile(), 10), np.arange(11) / 10, atol=1e-6)


def test_a_grey_profile_has_its_own_curve(icc_profile: Maker) -> None:
    tone = tone_of(icc_profile(gamma=2.0, space=b"GRAY"), 2)
    np.testing.assert_allclose(tone, [0.0, 0.25, 1.0], atol=1e-6)


def tables_in_place_of_a_curve(profile: bytes, steps: int = 33) -> bytes:
    """Return `profile` with a table from sRGB codes to CIELAB, lut8Type of ICC.1:2022, and no curve of green."""
    grid = np.stack(np.meshgrid(*[np.linspace(0.0, 1.0, steps)] * 3, indexing="ij"), axis=-1)
    lab = rgb2lab(grid) * (2.55, 1.0, 1.0) + (0.0, 128.0, 128.0)
    straight = bytes(range(256)) * 3
    matrix = np.eye(3).ravel()
    table = b"mft1\0\0\0\0" + bytes([3, 3, steps, 0]) + b"".join(int(65536 * x).to_bytes(4, "big") for x in matrix)
    table += straight + np.rint(np.clip(lab, 0, 255)).astype(np.uint8).tobytes() + straight
    head = bytearray(profile.replace(b"gTRC", b"A2B0"))
    head[20:24] = b"Lab "
    place = head.index(b"A2B0") + 4
    head[place : place + 8] = len(head).to_bytes(4, "big") + len(table).to_bytes(4, "big")
    head[0:4] = (len(head) + len(table)).to_bytes(4, "big")
    return bytes(head) + table


def test_a_profile_with_tables_in_place_of_a_curve_is_sampled_through_littlecms(icc_profile: Maker) -> None:
    # scikit-image's CIELAB fills the tables; two of its steps are lost to 8 bits on the way there and back
    tone = tone_of(tables_in_place_of_a_curve(icc_profile(gamma=1.0)), 255)
    share = np.arange(256) / 255
    assert np.abs(tone - linear(share)).max() < 0.02
    assert np.abs(tone - share).max() > 0.2


@pytest.mark.parametrize(
    "harm",
    [
        lambda _: b"",
        lambda good: good[:100],
        lambda good: good[:140],
        lambda good: good.replace(b"acsp", b"acsq"),
        lambda good: good.replace(b"RGB ", b"CMYK"),
        lambda good: good.replace(b"para", b"parb"),
        lambda good: good.replace(b"para\0\0\0\0\0\3", b"para\0\0\0\0\0\7"),
        lambda good: good.replace(b"gTRC", b"gTRX"),
    ],
    ids=["empty", "header cut", "tags cut", "no profile", "inks", "unknown curve", "unknown kind", "no curve"],
)
def test_a_damaged_profile_is_refused(icc_profile: Maker, harm: Callable[[bytes], bytes]) -> None:
    with pytest.raises(ValueError, match=r"ICC|curve|kind"):
        tone_of(harm(icc_profile(parameters=SRGB)), 255)


@pytest.mark.parametrize("table", [(65535, 30000, 0), (0, 40000, 30000), (30000, 65535)])
def test_a_curve_that_does_not_rise_from_black_to_white_is_refused(icc_profile: Maker, table: tuple[int, ...]) -> None:
    with pytest.raises(ValueError, match="does not rise"):
        tone_of(icc_profile(table=table), 255)


def test_a_curve_cut_short_is_refused(icc_profile: Maker) -> None:
    good = icc_profile(table=(0, 65535))
    with pytest.raises(ValueError, match="cut short"):
        tone_of(good.replace(b"curv\0\0\0\0\0\0\0\2", b"curv\0\0\0\0\0\0\xff\2"), 255)
