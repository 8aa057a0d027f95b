"""HEIC pictures: the same codes, turned upright, with their notes and profile, or one clear line."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pillow_heif
import pytest
from PIL import Image

from bubblegrade.errors import PhotoError
from bubblegrade.photo import decoded
from bubblegrade.photo.reading import read_photo
from bubblegrade.photo.turning import upright

ROWS, COLS = 70, 90


@pytest.fixture
def colour() -> np.ndarray:
    """Return a smooth picture without any symmetry, (70, 90, 3) red, green, blue."""
    y, x = np.mgrid[0 : 1 : ROWS * 1j, 0 : 1 : COLS * 1j]
    return np.stack([40 + 180 * x, 30 + 150 * y, 60 + 90 * x * y], axis=-1).round().astype(np.uint8)


def saved(path: Path, pixels: np.ndarray, *, orientation: int = 1, profile: bytes | None = None) -> Path:
    """Save a picture as HEIC, as a phone does, and return the path."""
    exif = Image.Exif()
    exif[0x0110] = "Example One"
    exif[0x0112] = orientation
    picture = pillow_heif.from_pillow(Image.fromarray(pixels))
    picture.info["exif"] = exif.tobytes()
    if profile is not None:
        picture.info["icc_profile"] = profile
    picture.save(path, quality=95, chroma=444)
    return path


@pytest.mark.parametrize("name", ["a.heic", "A.HEIF", "renamed.jpg"])
def test_a_heic_picture_is_read_whatever_it_is_called(tmp_path: Path, colour: np.ndarray, name: str) -> None:
    photo = read_photo(saved(tmp_path / "a.heic", colour).rename(tmp_path / name))
    assert photo.codes.shape == (ROWS, COLS, 3)
    assert np.abs(photo.codes[..., ::-1].astype(int) - colour).mean() < 2
    assert photo.noted.camera == "Example One"


def test_a_grey_heic_picture_is_read_as_one_layer_or_three_alike(tmp_path: Path, colour: np.ndarray) -> None:
    codes = read_photo(saved(tmp_path / "a.heic", colour[..., 0])).codes
    layers = codes if codes.ndim == 2 else codes[..., 1]
    assert np.abs(layers.astype(int) - colour[..., 0]).mean() < 2


@pytest.mark.parametrize("orientation", range(1, 9))
def test_a_turned_or_mirrored_heic_picture_is_upright_once(
    tmp_path: Path, colour: np.ndarray, orientation: int
) -> None:
    photo = read_photo(saved(tmp_path / "a.heic", colour, orientation=orientation))
    assert photo.orientation == orientation  # by which a photograph of the bare light is laid over it
    assert np.abs(photo.codes[..., ::-1].astype(int) - upright(colour, orientation)).mean() < 2
    if (turns := {3: 2, 6: 3, 8: 1}.get(orientation)) is not None:  # against the clock (EXIF 2.32)
        assert np.array_equal(upright(colour, orientation), np.rot90(colour, turns))


def test_the_profile_of_a_phone_gives_the_tone(
    tmp_path: Path, colour: np.ndarray, icc_profile: Callable[..., bytes]
) -> None:
    tone = read_photo(saved(tmp_path / "a.heic", colour, profile=icc_profile(gamma=1.5))).tone
    assert tone is not None
    np.testing.assert_allclose(tone, (np.arange(256) / 255) ** 1.5, atol=1e-6)


def test_ten_bits_are_kept_in_sixteen(tmp_path: Path, colour: np.ndarray) -> None:
    deep = colour.astype(np.uint16) * 257
    pillow_heif.from_bytes("RGB;16", (COLS, ROWS), deep.tobytes()).save(tmp_path / "a.heic", quality=95, chroma=444)
    codes = read_photo(tmp_path / "a.heic").codes
    assert codes.dtype == np.uint16
    assert np.abs(codes[..., ::-1].astype(int) - deep).mean() < 2 * 257


def test_a_linear_heic_picture_is_followed_to_its_light(tmp_path: Path, colour: np.ndarray) -> None:
    pillow_heif.from_pillow(Image.fromarray(colour)).save(
        tmp_path / "a.heic", quality=95, save_nclx_profile=True, color_primaries=1, transfer_characteristics=8
    )
    photo = read_photo(tmp_path / "a.heic")
    assert photo.tone == pytest.approx(np.linspace(0.0, 1.0, 256))


def test_a_picture_coded_for_hdr_is_refused_with_the_cure(tmp_path: Path, colour: np.ndarray) -> None:
    picture = pillow_heif.from_bytes("RGB;16", (COLS, ROWS), (colour.astype(np.uint16) * 257).tobytes())
    picture.save(
        tmp_path / "a.heic", quality=95, save_nclx_profile=True, color_primaries=9, transfer_characteristics=16
    )
    with pytest.raises(PhotoError, match=r"^a\.heic is coded for HDR \(PQ\), .* switch HDR off, or save it as JPEG$"):
        read_photo(tmp_path / "a.heic", name="a.heic")


def test_a_heic_picture_without_its_extra_says_how_to_get_it(
    tmp_path: Path, colour: np.ndarray, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = saved(tmp_path / "a.heic", colour)
    monkeypatch.setitem(sys.modules, "pillow_heif", None)
    with pytest.raises(PhotoError, match=r"^a\.heic needs what reads HEIC: pip install 'bubblegrade\[heic\]', or "):
        read_photo(path, name="a.heic")


@pytest.mark.parametrize("kept", [20, 300, -40])
def test_a_damaged_heic_picture_is_said_to_be(tmp_path: Path, colour: np.ndarray, kept: int) -> None:
    path = saved(tmp_path / "a.heic", colour)
    path.write_bytes(path.read_bytes()[:kept])
    with pytest.raises(PhotoError, match=r"^a\.heic is .*copy the photograph again$"):
        read_photo(path, name="a.heic")


@pytest.mark.parametrize("major", [b"avif", b"mif1"])
def test_an_avif_picture_is_said_to_be_one_whatever_its_name(tmp_path: Path, colour: np.ndarray, major: bytes) -> None:
    Image.fromarray(colour).save(tmp_path / "a.avif")
    data = (tmp_path / "a.avif").read_bytes()
    for name in ("a.heic", "a.jpg", "a.avif"):
        (tmp_path / name).write_bytes(data[:8] + major + data[12:])
        with pytest.raises(PhotoError, match=rf"^{name} is an AVIF picture, .*: save it as JPEG, PNG or TIFF$"):
            read_photo(tmp_path / name, name=name)


def test_a_heic_picture_that_names_avif_among_its_kinds_is_read(tmp_path: Path, colour: np.ndarray) -> None:
    data = saved(tmp_path / "a.heic", colour).read_bytes()
    kinds = int.from_bytes(data[:4])
    assert b"hei" in data[8 : kinds - 4]  # heic or heix, by the version of the library
    (tmp_path / "a.heic").write_bytes(data[: kinds - 4] + b"avif" + data[kinds:])
    assert read_photo(tmp_path / "a.heic").codes.shape[:2] == colour.shape[:2]


def test_a_picture_whose_box_of_brands_has_a_spoiled_size_is_not_searched_for_them(tmp_path: Path) -> None:
    (tmp_path / "a.heic").write_bytes(b"\xff\xff\xff\xffftypmif1" + bytes(4000) + b"avif")
    with pytest.raises(PhotoError, match=r"^a\.heic is .*copy the photograph again$"):
        read_photo(tmp_path / "a.heic", name="a.heic")


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "TIFF"])
def test_a_plain_picture_named_heic_is_read_as_what_it_is(tmp_path: Path, colour: np.ndarray, kind: str) -> None:
    Image.fromarray(colour).save(tmp_path / "a.heic", kind)
    assert np.abs(read_photo(tmp_path / "a.heic").codes[..., ::-1].astype(int) - colour).mean() < 2


def test_a_heic_header_over_the_limit_is_refused(
    tmp_path: Path, colour: np.ndarray, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(decoded, "MOST_PIXELS", 1_000)
    with pytest.raises(PhotoError, match="over the limit"):
        read_photo(saved(tmp_path / "a.heic", colour))


def test_a_heic_picture_cut_out_is_refused_and_says_so(tmp_path: Path, colour: np.ndarray) -> None:
    alpha = np.full((ROWS, COLS), 255, np.uint8)
    alpha[:, :45] = 0
    with pytest.raises(PhotoError, match=r"^a\.heic is cut out \(50 % of it is see-through\)"):
        read_photo(saved(tmp_path / "a.heic", np.dstack([colour, alpha])), name="a.heic")


def test_of_several_heic_pictures_the_one_that_viewers_show_is_read_and_that_is_said(
    tmp_path: Path, colour: np.ndarray
) -> None:
    several = pillow_heif.HeifFile()
    for pixels in (colour[:64, :64], colour):
        several.add_from_pillow(Image.fromarray(pixels))
    several.save(tmp_path / "a.heic", quality=95, chroma=444, primary_index=1)
    photo = read_photo(tmp_path / "a.heic")
    assert photo.shape_px == (ROWS, COLS)
    assert photo.warnings == (
        "the file holds more than one picture, and the one that viewers show is measured: save each as a file",
    )
