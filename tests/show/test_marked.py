"""The marked photograph."""

from __future__ import annotations

from collections.abc import Callable

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bubblegrade.errors import PhotoError
from bubblegrade.grading_run import Casting
from bubblegrade.show.legend import ALARM, bar_length
from bubblegrade.show.marked import LONGEST_SIDE_PX, marked, marked_jpeg
from bubblegrade.show.size_classes import LIMITS_MM, STYLES, size_classes

MakeCasting = Callable[..., Casting]
GREY = np.full((200, 300), 200, np.uint8)


def near(picture: np.ndarray, x: float, y: float, radius: float) -> np.ndarray:
    """Return the pixels within `radius` of a point."""
    rows, cols = np.indices(picture.shape[:2])
    return np.asarray(picture[np.hypot(cols - x, rows - y) <= radius])


def test_the_photograph_stands_at_the_top_left_pixel_for_pixel(known_casting: MakeCasting) -> None:
    picture = marked(GREY, known_casting())
    assert picture.shape[0] > 200
    assert picture.shape[1] >= 300
    assert (picture[:15, :15] == 200).all()  # outside of every mark


def test_an_outline_does_not_hide_its_void(known_casting: MakeCasting) -> None:
    casting = known_casting()
    picture = marked(GREY, casting)
    for x, y, d in zip(casting.voids.x_px, casting.voids.y_px, casting.voids.diameter_px, strict=True):
        assert (near(picture, x, y, d / 2) == 200).all()
        assert (near(picture, x, y, d / 2 + 6) != 200).any()


def test_every_size_class_has_its_colour(known_casting: MakeCasting) -> None:
    casting = known_casting()
    picture = marked(GREY, casting)[:200, :300]
    for one in size_classes(casting):
        shown = (np.abs(picture.astype(int) - one.style.colour[::-1]).sum(axis=2) < 40).any()
        assert shown == one.members.any()


def test_size_classes_tell_themselves_apart_without_colour() -> None:
    assert len({(style.heavy, style.double, style.ticks) for style in STYLES}) == len(STYLES)


def test_a_size_on_a_limit_belongs_to_the_class_above(known_casting: MakeCasting) -> None:
    # 0.4, 0.8 and 1.5 mm; a limit of 1 mm
    assert [int(one.members.sum()) for one in size_classes(known_casting())] == [0, 1, 1, 1]
    assert [one.label for one in size_classes(known_casting())] == [
        "under 0.2 mm",
        "0.2 to 0.5 mm",
        "0.5 to 1 mm",
        "1 mm and more",
    ]
    assert LIMITS_MM[-1] == 1.0


def test_without_a_scale_classes_are_in_px(known_casting: MakeCasting) -> None:
    assert size_classes(known_casting(scale=None))[0].label == "under 10 px"


def test_what_is_set_aside_is_marked_too(known_casting: MakeCasting) -> None:
    picture = marked(GREY, known_casting())
    for x, y in ((100.0, 150.0), (200.0, 50.0)):
        assert (near(picture, x, y, 2) == 200).all()
        assert (near(picture, x, y, 12) != 200).any()


def test_an_unfit_photograph_is_framed_and_says_so(known_casting: MakeCasting) -> None:
    fit, unfit = marked(GREY, known_casting()), marked(GREY, known_casting(unfit=("cut by the frame " * 9,)))
    alarm = np.array(ALARM[::-1])
    assert (unfit[1, 150] == alarm).all()
    assert not (fit == alarm).all(axis=2).any()
    assert unfit.shape[0] > fit.shape[0]
    assert ((unfit[200:] == alarm).all(axis=2).sum()) > 300


def test_a_span_that_gave_the_scale_is_shown_at_its_ends(known_casting: MakeCasting) -> None:
    bare = marked(GREY, known_casting())
    spanned = marked(GREY, known_casting(span_px=((20.0, 100.0), (280.0, 100.0))))
    changed = (bare[:200, :300] != spanned[:200, :300]).any(axis=2)
    assert changed[80:120, 10:70].any()
    assert changed[80:120, 230:290].any()
    assert not changed[:, 80:220].any()


def test_grey_colour_and_16_bits_look_the_same(known_casting: MakeCasting) -> None:
    casting = known_casting()
    grey = marked(GREY, casting)
    assert (marked(np.repeat(GREY[..., None], 3, 2), casting) == grey).all()
    assert (marked(GREY.astype(np.uint16) * 257, casting) == grey).all()


def test_the_photograph_itself_is_not_drawn_on(known_casting: MakeCasting) -> None:
    codes = np.repeat(GREY[..., None], 3, 2)
    marked(codes, known_casting())
    assert (codes == 200).all()


def test_nothing_found_still_has_a_legend(empty_casting: MakeCasting) -> None:
    picture = marked(GREY, empty_casting(judged_px=(np.array([[1.0, 1.0]]),)))
    assert picture.shape[0] > 240


def test_a_jpeg_keeps_the_full_size(known_casting: MakeCasting) -> None:
    data = marked_jpeg(GREY, known_casting())
    back = cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_COLOR)
    assert back is not None
    assert back.shape == marked(GREY, known_casting()).shape


def test_a_picture_longer_than_a_jpeg_can_be_is_one_line(
    empty_casting: MakeCasting, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert LONGEST_SIDE_PX == 65_500  # libjpeg's own limit; one that is reached sooner is tested below
    monkeypatch.setattr("bubblegrade.show.marked.LONGEST_SIDE_PX", 1500)
    codes = np.full((64, 1501), 200, np.uint8)
    with pytest.raises(
        PhotoError, match=r"cup\.jpg: its marked picture has 1501 x \d+ px, more than the 1500 of a JPEG"
    ):
        marked_jpeg(codes, empty_casting(shape_px=codes.shape, judged_px=()))


@given(st.floats(64, 30_000), st.floats(1e-4, 2.0))
def test_a_scale_bar_has_a_round_length_that_fits(width_px: float, mm_per_px: float) -> None:
    long = bar_length(width_px, mm_per_px)
    assert 0.075 * width_px * mm_per_px < long <= 0.2000001 * width_px * mm_per_px
    assert f"{long:e}"[0] in "125"
