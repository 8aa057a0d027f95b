"""Every file becomes code values, upright, or one clear line."""

from __future__ import annotations

import hashlib
import io
import struct
import zlib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import tifffile
from PIL import Image, ImageOps

from bubblegrade.errors import PhotoError
from bubblegrade.photo import reading
from bubblegrade.photo.reading import is_picture, read_photo
from bubblegrade.photo.tone import NOT_UNDERSTOOD

ROWS, COLS = 70, 90


@pytest.fixture
def colour() -> np.ndarray:
    """Return a smooth picture without any symmetry, (70, 90, 3) red, green, blue."""
    y, x = np.mgrid[0 : 1 : ROWS * 1j, 0 : 1 : COLS * 1j]
    return np.stack([40 + 180 * x, 30 + 150 * y, 60 + 90 * x * y], axis=-1).round().astype(np.uint8)


@pytest.fixture
def deep(colour: np.ndarray) -> np.ndarray:
    """Return the picture in 16 bits, with values that no 8 bits hold."""
    return colour.astype(np.uint16) * 256 + 77


def saved(path: Path, pixels: np.ndarray, **options: Any) -> Path:
    """Save `pixels` with Pillow, and return the path."""
    Image.fromarray(pixels).save(path, **options)
    return path


def png(width: int, height: int, *, rows: np.ndarray | None = None, depth: int = 8, kind: int = 0) -> bytes:
    """Return a PNG after its specification (ISO/IEC 15948): signature, header, one data chunk, end."""
    raw = (
        b"" if rows is None else b"".join(b"\0" + row.astype(">u2" if depth == 16 else "u1").tobytes() for row in rows)
    )
    chunks = ((b"IHDR", struct.pack(">IIBBBBB", width, height, depth, kind, 0, 0, 0)), (b"IDAT", zlib.compress(raw)))
    parts = [
        struct.pack(">I", len(d)) + t + d + struct.pack(">I", zlib.crc32(t + d)) for t, d in (*chunks, (b"IEND", b""))
    ]
    return b"\x89PNG\r\n\x1a\n" + b"".join(parts)


def test_a_colour_png_is_read_exactly_as_blue_green_red(tmp_path: Path, colour: np.ndarray) -> None:
    photo = read_photo(saved(tmp_path / "a.png", colour))
    np.testing.assert_array_equal(photo.codes, colour[..., ::-1])
    assert photo.shape_px == (ROWS, COLS)


@pytest.mark.parametrize("name", ["a.png", "a.tif", "a.tiff"])
def test_a_grey_picture_stays_one_layer(tmp_path: Path, colour: np.ndarray, name: str) -> None:
    np.testing.assert_array_equal(read_photo(saved(tmp_path / name, colour[..., 0])).codes, colour[..., 0])


@pytest.mark.parametrize("mode", ["grey", "colour"])
def test_a_jpeg_has_the_pixels_that_pillow_decodes_to_three_codes(
    tmp_path: Path, colour: np.ndarray, mode: str
) -> None:
    path = saved(tmp_path / "a.jpg", colour[..., 0] if mode == "grey" else colour, quality=95)
    theirs = np.asarray(Image.open(path)).astype(int)
    ours = read_photo(path).codes
    assert ours.ndim == theirs.ndim
    assert np.abs((ours if mode == "grey" else ours[..., ::-1]) - theirs).max() <= 3


def test_a_colour_tiff_of_8_bits_is_read_exactly(tmp_path: Path, colour: np.ndarray) -> None:
    np.testing.assert_array_equal(read_photo(saved(tmp_path / "a.tif", colour)).codes, colour[..., ::-1])


def test_a_grey_tiff_of_16_bits_keeps_them(tmp_path: Path, deep: np.ndarray) -> None:
    tifffile.imwrite(tmp_path / "a.tif", deep[..., 0])
    photo = read_photo(tmp_path / "a.tif")
    assert photo.codes.dtype == np.uint16
    np.testing.assert_array_equal(photo.codes, deep[..., 0])


def test_a_colour_tiff_of_16_bits_keeps_them(tmp_path: Path, deep: np.ndarray) -> None:
    tifffile.imwrite(tmp_path / "a.tif", deep, photometric="rgb")
    np.testing.assert_array_equal(read_photo(tmp_path / "a.tif").codes, deep[..., ::-1])


def test_a_grey_png_of_16_bits_keeps_them(tmp_path: Path, deep: np.ndarray) -> None:
    (tmp_path / "a.png").write_bytes(png(COLS, ROWS, rows=deep[..., 0], depth=16))
    np.testing.assert_array_equal(read_photo(tmp_path / "a.png").codes, deep[..., 0])


def test_a_colour_png_of_16_bits_keeps_them(tmp_path: Path, deep: np.ndarray) -> None:
    (tmp_path / "a.png").write_bytes(png(COLS, ROWS, rows=deep.reshape(ROWS, -1), depth=16, kind=2))
    np.testing.assert_array_equal(read_photo(tmp_path / "a.png").codes, deep[..., ::-1])


def test_a_png_with_a_see_through_channel_is_read_without_it(tmp_path: Path, colour: np.ndarray) -> None:
    layers = np.dstack([colour, np.full((ROWS, COLS), 255, np.uint8)])
    np.testing.assert_array_equal(read_photo(saved(tmp_path / "a.png", layers)).codes, colour[..., ::-1])


def test_a_palette_png_is_read_with_its_colours(tmp_path: Path, colour: np.ndarray) -> None:
    flat = Image.fromarray(colour // 64 * 64).quantize(64)
    flat.save(tmp_path / "a.png")
    np.testing.assert_array_equal(read_photo(tmp_path / "a.png").codes, np.asarray(flat.convert("RGB"))[..., ::-1])


def test_a_black_and_white_png_is_read_as_grey_levels(tmp_path: Path, colour: np.ndarray) -> None:
    Image.fromarray(colour[..., 0] > 128).save(tmp_path / "a.png")
    assert set(np.unique(read_photo(tmp_path / "a.png").codes)) == {0, 255}


def test_a_jpeg_of_printing_inks_is_read_in_colour_to_a_quarter_of_full_scale(
    tmp_path: Path, colour: np.ndarray
) -> None:
    # without an ink profile there is no exact answer; it must be the picture, neither a negative nor a traceback
    Image.fromarray(colour).convert("CMYK").save(tmp_path / "a.jpg", quality=95)
    codes = read_photo(tmp_path / "a.jpg").codes
    assert codes.shape == (ROWS, COLS, 3)
    assert np.abs(codes[..., ::-1].astype(int) - colour).mean() < 64


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("mode", ["grey", "colour"])
def test_every_exif_orientation_is_undone_as_pillow_undoes_it(
    tmp_path: Path, colour: np.ndarray, orientation: int, mode: str
) -> None:
    exif = Image.Exif()
    exif[0x0112] = orientation
    path = saved(tmp_path / "a.jpg", colour[..., 0] if mode == "grey" else colour, quality=95, exif=exif)
    theirs = np.asarray(ImageOps.exif_transpose(Image.open(path))).astype(int)
    ours = read_photo(path).codes
    assert ours.shape == theirs.shape
    assert ours.flags.c_contiguous
    assert np.abs((ours if mode == "grey" else ours[..., ::-1]) - theirs).max() <= 3


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("suffix", ["png", "tif"])
def test_an_orientation_is_undone_once_in_formats_without_loss(
    tmp_path: Path, colour: np.ndarray, suffix: str, orientation: int
) -> None:
    exif = Image.Exif()
    exif[0x0112] = orientation
    path = saved(tmp_path / f"a.{suffix}", colour, exif=exif)
    theirs = np.asarray(ImageOps.exif_transpose(Image.open(path)))
    np.testing.assert_array_equal(read_photo(path).codes, theirs[..., ::-1])


def test_an_orientation_that_exif_does_not_know_turns_nothing(tmp_path: Path, colour: np.ndarray) -> None:
    exif = Image.Exif()
    exif[0x0112] = 9
    assert read_photo(saved(tmp_path / "a.jpg", colour, exif=exif)).shape_px == (ROWS, COLS)


def test_a_photo_carries_its_name_and_the_hash_of_its_bytes(tmp_path: Path, colour: np.ndarray) -> None:
    path = saved(tmp_path / "a.png", colour)
    assert read_photo(path).name == str(path)
    photo = read_photo(path, name="batch/a.png")
    assert photo.name == "batch/a.png"
    assert photo.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("a.jpg", True),
        ("A.JPEG", True),
        ("a.png", True),
        ("a.TIF", True),
        ("a.tiff", True),
        ("IMG_0001.HEIC", True),
        ("a.heif", True),
        ("a.dng", True),
        ("a.NEF", True),
        ("a.txt", False),
        ("jpg", False),
    ],
)
def test_a_picture_is_known_by_its_suffix(name: str, said: bool) -> None:  # noqa: FBT001
    assert is_picture(Path(name)) is said


def test_a_missing_file_is_said_to_be_missing(tmp_path: Path) -> None:
    with pytest.raises(PhotoError, match=r"^cup\.jpg does not exist: check the name$"):
        read_photo(tmp_path / "cup.jpg", name="cup.jpg")


def test_a_folder_is_no_photograph(tmp_path: Path) -> None:
    with pytest.raises(PhotoError, match=r"^cups cannot be opened \(.+\): check its rights$"):
        read_photo(tmp_path, name="cups")


def test_zero_bytes_are_said_to_be_empty(tmp_path: Path) -> None:
    (tmp_path / "a.jpg").touch()
    with pytest.raises(PhotoError, match=r"^a\.jpg is empty \(0 bytes\): copy the photograph again$"):
        read_photo(tmp_path / "a.jpg", name="a.jpg")


@pytest.mark.parametrize("data", [b"no picture at all", b"\xff\xd8", b"\x89PNG\r\n\x1a\n", b"GIF89a" + bytes(99)])
def test_what_is_no_picture_is_refused_with_the_cure(tmp_path: Path, data: bytes) -> None:
    (tmp_path / "a.jpg").write_bytes(data)
    with pytest.raises(PhotoError, match=r"^a\.jpg is not a JPEG, PNG or TIFF picture: save it as one of these$"):
        read_photo(tmp_path / "a.jpg", name="a.jpg")


def test_a_tiff_of_32_bits_is_not_said_to_be_none(tmp_path: Path) -> None:
    tifffile.imwrite(tmp_path / "a.tif", np.full((90, 100, 3), 0.8, np.float32), photometric="rgb")
    with pytest.raises(PhotoError, match=r"^a\.tif is a TIFF .* 32 bits a channel: save it with 8 or 16, or as PNG$"):
        read_photo(tmp_path / "a.tif", name="a.tif")


@pytest.mark.parametrize("kept", [0.3, 0.6, 0.9, 0.999])
@pytest.mark.parametrize("progressive", ["baseline", "progressive"])
def test_a_jpeg_that_was_cut_short_is_refused(tmp_path: Path, kept: float, progressive: str) -> None:
    rough = np.random.default_rng(1).integers(0, 255, (200, 300, 3), np.uint8)
    data = io.BytesIO()
    Image.fromarray(rough).save(data, "JPEG", quality=90, progressive=progressive == "progressive")
    whole = data.getvalue()
    (tmp_path / "a.jpg").write_bytes(whole[: round(kept * len(whole))])
    with pytest.raises(PhotoError, match=r"^a\.jpg is cut short \(its end is missing\): copy the photograph again$"):
        read_photo(tmp_path / "a.jpg", name="a.jpg")


def test_a_jpeg_with_more_behind_its_end_is_read(tmp_path: Path, colour: np.ndarray) -> None:
    path = saved(tmp_path / "a.jpg", colour)
    before = read_photo(path).codes
    path.write_bytes(path.read_bytes() + b"a phone's own notes" * 50)
    np.testing.assert_array_equal(read_photo(path).codes, before)


@pytest.mark.parametrize("suffix", ["png", "tif"])
@pytest.mark.parametrize("kept", [0.5, 0.9])
def test_a_png_or_tiff_that_was_cut_short_is_refused(tmp_path: Path, suffix: str, kept: float) -> None:
    rough = np.random.default_rng(1).integers(0, 255, (200, 300, 3), np.uint8)
    path = saved(tmp_path / f"a.{suffix}", rough)
    path.write_bytes(path.read_bytes()[: round(kept * path.stat().st_size)])
    with pytest.raises(PhotoError, match=r"^a\.(png|tif) .+: .+"):
        read_photo(path, name=path.name)


def test_one_pixel_is_too_small_and_the_line_says_the_size(tmp_path: Path) -> None:
    path = saved(tmp_path / "a.png", np.full((1, 1, 3), 128, np.uint8))
    with pytest.raises(PhotoError, match=r"^a\.png is 1 x 1 px: a void needs 5 px, send the original photograph$"):
        read_photo(path, name="a.png")


def test_a_header_of_30000_by_30000_px_is_refused_before_anything_is_decoded(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "a.png").write_bytes(png(30_000, 30_000))
    monkeypatch.setattr(reading.cv2, "imdecode", lambda *_: pytest.fail("it was decoded"))
    with pytest.raises(
        PhotoError, match=r"^a\.png is 30000 x 30000 px, over the limit of 400 megapixels: send a smaller"
    ):
        read_photo(tmp_path / "a.png", name="a.png")


def test_a_picture_of_fractions_is_refused_with_the_cure(tmp_path: Path) -> None:
    tifffile.imwrite(tmp_path / "a.tif", np.zeros((80, 80), np.float32))
    with pytest.raises(PhotoError, match=r"^a\.tif has float32 pixels: save it with 8 or 16 bits a channel$"):
        read_photo(tmp_path / "a.tif", name="a.tif")


def test_a_jpeg_that_holds_a_second_picture_is_read_as_its_first(tmp_path: Path, colour: np.ndarray) -> None:
    first, second = Image.fromarray(colour), Image.fromarray(colour[::-1])
    first.save(tmp_path / "a.jpg", "MPO", save_all=True, append_images=[second], quality=95)
    codes = read_photo(tmp_path / "a.jpg").codes
    assert np.abs(codes[..., ::-1].astype(int) - colour).mean() < 4


def test_a_photo_without_a_profile_is_taken_as_srgb(tmp_path: Path, colour: np.ndarray) -> None:
    photo = read_photo(saved(tmp_path / "a.jpg", colour, quality=95))
    assert photo.tone is None
    assert photo.warnings == ()


@pytest.mark.parametrize("suffix", ["jpg", "png", "tif"])
def test_the_embedded_profile_gives_the_tone(
    tmp_path: Path, colour: np.ndarray, suffix: str, icc_profile: Callable[..., bytes]
) -> None:
    path = saved(tmp_path / f"a.{suffix}", colour, icc_profile=icc_profile(gamma=1.8))
    tone = read_photo(path).tone
    assert tone is not None
    np.testing.assert_allclose(tone, (np.arange(256) / 255) ** 1.80078125, atol=1e-6)  # 461/256, as the file rounds it


def test_a_profile_of_a_picture_of_16_bits_gives_a_tone_for_every_code(
    tmp_path: Path, deep: np.ndarray, icc_profile: Callable[..., bytes]
) -> None:
    profile = icc_profile(gamma=2.2)
    tifffile.imwrite(tmp_path / "a.tif", deep, photometric="rgb", iccprofile=profile)
    tone = read_photo(tmp_path / "a.tif").tone
    assert tone is not None
    assert tone.shape == (65536,)


def test_a_profile_that_is_not_understood_is_said_and_srgb_taken(tmp_path: Path, colour: np.ndarray) -> None:
    photo = read_photo(saved(tmp_path / "a.jpg", colour, icc_profile=b"\0" * 200))
    assert photo.tone is None
    assert photo.warnings == (NOT_UNDERSTOOD,)


@pytest.mark.parametrize("suffix", ["jpg", "png", "tif"])
def test_what_the_camera_noted_is_kept(tmp_path: Path, colour: np.ndarray, suffix: str) -> None:
    exif = Image.Exif()
    exif[0x0110] = "Example One"
    if suffix != "tif":  # Pillow writes the photograph's own block into these only
        exif.get_ifd(0x8769)[0xA405] = 26
    noted = read_photo(saved(tmp_path / f"a.{suffix}", colour, exif=exif)).noted
    assert noted.camera == "Example One"
    assert noted.focal_35mm == pytest.approx(26.0 if suffix != "tif" else np.nan, nan_ok=True)


@pytest.mark.parametrize("name", ["a.png", "a.tif"])
@pytest.mark.parametrize("layers", [1, 3])
def test_a_picture_cut_out_is_refused_and_says_so(tmp_path: Path, colour: np.ndarray, name: str, layers: int) -> None:
    alpha = np.full((ROWS, COLS, 1), 255, np.uint8)
    alpha[:, :45] = 0
    path = saved(tmp_path / name, np.concatenate([colour[..., :layers], alpha], axis=-1))
    with pytest.raises(
        PhotoError, match=rf"^{name} is cut out \(50 % of it is see-through\).*: send the photograph as"
    ):
        read_photo(path, name=name)


def test_a_palette_with_a_see_through_colour_is_a_cut_out_too(tmp_path: Path, colour: np.ndarray) -> None:
    picture = Image.fromarray(np.where(np.arange(COLS) < 45, 0, colour[..., 0]).astype(np.uint8)).convert("P")
    picture.save(tmp_path / "a.png", transparency=0)
    with pytest.raises(PhotoError, match=r"is cut out \(50 % "):
        read_photo(tmp_path / "a.png")


@pytest.mark.parametrize("name", ["a.png", "a.tif"])
def test_a_picture_that_could_be_see_through_and_is_not_is_read(tmp_path: Path, colour: np.ndarray, name: str) -> None:
    opaque = np.dstack([colour, np.full((ROWS, COLS), 255, np.uint8)])
    opaque[0, :4, 3] = 0  # a round corner
    codes = read_photo(saved(tmp_path / name, opaque)).codes
    np.testing.assert_array_equal(codes[1:], colour[1:, :, ::-1])
