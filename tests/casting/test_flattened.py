"""The light of a photograph, worked out in parts, is that of the whole."""

from __future__ import annotations

import numpy as np
import pytest

from bubblegrade.casting.flattened import Flattened, bare_light_of, flattened
from bubblegrade.drawn.pictures import Scene, draw
from bubblegrade.errors import PhotoError
from bubblegrade.photo.light import grey_light
from bubblegrade.photo.reading import Photo


def photo(depth: type = np.uint8) -> Photo:
    """Return a photograph of 90 x 70 px of random colours."""
    full = np.iinfo(depth).max
    return Photo("a", np.random.default_rng(2).integers(0, full, (70, 90, 3), endpoint=True, dtype=depth), "0" * 64)


def as_read(codes: np.ndarray) -> Photo:
    """Return a picture as if it was read from a file."""
    return Photo("a", codes, "0" * 64)


@pytest.mark.parametrize("part", [np.s_[:, :], np.s_[10:30], np.s_[5:60, 40:], np.s_[:, ::7], np.s_[::8, ::8]])
@pytest.mark.parametrize("depth", [np.uint8, np.uint16])
def test_a_part_is_what_the_whole_light_shows_there(part: tuple[slice, slice], depth: type) -> None:
    taken = photo(depth)
    np.testing.assert_array_equal(Flattened(taken)[part], grey_light(taken.codes)[part])
    blank = np.random.default_rng(1).random((70, 90)).astype(np.float32)
    blank[20:25] = 0.0
    lit = Flattened(taken, blank)
    np.testing.assert_array_equal(lit[part], flattened(taken, blank)[part])
    np.testing.assert_array_equal(lit[20:25], np.zeros((5, 90)))
    assert lit.shape == (70, 90)


def test_a_blank_of_another_size_is_refused() -> None:
    with pytest.raises(PhotoError, match="the blank is 80 x 70 px"):
        flattened(photo(), np.ones((70, 80), np.float32))


@pytest.mark.parametrize("level", [0.3, 0.7])
def test_an_uneven_light_by_itself_is_a_bare_one(level: float) -> None:
    bare = as_read(draw(Scene(200, 160, casting_px=0.0, level=level, gradient=0.5, vignette=0.3)).picture)
    assert bare_light_of(bare).shape == (160, 200)


def bare_light_with(ripple: np.ndarray) -> Photo:
    """Return a bare light, 640 x 640 px, as bright as this along its rows, with a camera's noise."""
    noise = np.random.default_rng(1).normal(0.0, 1.2, (640, 640, 1))
    return as_read(np.clip(np.repeat(200.0 * ripple[None, :, None] + noise, 3, axis=2), 0, 255).astype(np.uint8))


@pytest.mark.parametrize("period_px", [20, 32, 50])
@pytest.mark.parametrize("depth", [0.01, 0.02, 0.05, 0.1])
def test_flicker_and_rows_of_lamps_are_a_bare_light(period_px: int, depth: float) -> None:
    ripple = 1.0 + depth * np.sin(2 * np.pi * np.arange(640) / period_px)
    assert bare_light_of(bare_light_with(ripple)).shape == (640, 640)


@pytest.mark.parametrize("dimmer", [0.02, 0.05, 0.1])
def test_a_light_of_two_panels_is_a_bare_one(dimmer: float) -> None:
    bare_light_of(bare_light_with(np.where(np.arange(640) < 300, 1.0 - dimmer, 1.0)))


CUTS = {"whole": np.s_[:, :], "head": np.s_[:, :300], "less than half": np.s_[:, :190], "corner": np.s_[:220, :220]}


@pytest.mark.parametrize("cut", CUTS)
def test_a_light_with_a_casting_in_view_is_no_bare_one_though_the_frame_cuts_it(cut: str) -> None:
    scene = Scene(400, 400, casting_px=150.0, x_px=[180.0], y_px=[210.0], diameter_px=[30.0])
    with pytest.raises(PhotoError, match="shows a casting on the light"):
        bare_light_of(as_read(draw(scene).picture[CUTS[cut]]))


def test_a_light_with_the_casting_still_on_it_is_no_bare_one() -> None:
    seen = as_read(draw(Scene(400, 400, casting_px=150.0, x_px=[180.0], y_px=[210.0], diameter_px=[30.0])).picture)
    with pytest.raises(PhotoError, match=r"shows a casting on the light, and .*: photograph the light alone"):
        bare_light_of(seen)


@pytest.mark.parametrize(("code", "words"), [(3, "dark"), (255, "white")])
def test_a_light_that_is_dark_or_white_all_over_is_no_bare_one(code: int, words: str) -> None:
    with pytest.raises(PhotoError, match=f"is {words} all over"):
        bare_light_of(as_read(np.full((80, 80, 3), code, np.uint8)))


def test_a_light_at_full_scale_in_places_tells_no_unevenness_there() -> None:
    bare = np.full((80, 100, 3), 200, np.uint8)
    bare[:, :5] = 255
    with pytest.raises(PhotoError, match="is at full scale over 8 % of it, where its unevenness is lost"):
        bare_light_of(as_read(bare))


def test_twelve_bits_stored_in_sixteen_are_told_from_a_dark_light() -> None:
    twelve = np.full((80, 80, 3), 3000, np.uint16)
    with pytest.raises(PhotoError, match=r"fills 12 of its 16 bits, .*: save it with the values stretched to 16 bits"):
        flattened(as_read(twelve), None)
