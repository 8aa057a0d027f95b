"""The piece's own frame: axes against scikit-image, head and belly however it lies."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from skimage.draw import polygon2mask
from skimage.measure import regionprops

from bubblegrade.inspection.frame import lie_of, moments

NOTHING = np.empty((0, 2))
THICK, ROUND = ("thick end",), ("round side",)


def placed(points: np.ndarray, degrees: float, size: float, *, mirrored: bool = False) -> np.ndarray:
    """Return points mirrored, turned, resized and shifted."""
    turn = math.radians(degrees)
    matrix = np.array([[math.cos(turn), math.sin(turn)], [-math.sin(turn), math.cos(turn)]])
    return size * (points * [-1.0 if mirrored else 1.0, 1.0]) @ matrix + [400.0, 300.0]


def test_moments_are_those_of_scikit_image(drop: np.ndarray) -> None:
    part = regionprops(polygon2mask((200, 300), drop[:, ::-1]).astype(int))[0]
    area, middle, spread = moments(drop)
    assert area == pytest.approx(part.area, rel=0.01)
    assert middle[::-1] == pytest.approx(part.centroid, abs=0.2)
    assert 4 * math.sqrt(np.linalg.eigvalsh(spread)[1]) == pytest.approx(part.axis_major_length, rel=0.005)


@given(st.floats(0, 360), st.floats(0.3, 4.0), st.booleans())
def test_a_place_on_the_piece_keeps_its_fractions_however_it_lies(degrees: float, size: float, mirrored: bool) -> None:  # noqa: FBT001
    along = np.linspace(0.0, 1.0, 121)
    girth = np.sqrt(along) * (1 - along)
    drop = np.concatenate(
        [np.stack([240 * along, -50 * girth], axis=1), np.stack([240 * along, 180 * girth], axis=1)[-2:0:-1]]
    )
    spot = np.array([[60.0, 20.0], [200.0, -2.0]])
    before, after = (
        lie_of(line, NOTHING, THICK, ROUND) for line in (drop, placed(drop, degrees, size, mirrored=mirrored))
    )
    assert (len(before.frames), len(after.frames)) == (1, 1)
    assert (after.head_by, after.belly_by) == ("thick end", "round side")
    where = after.frames[0].fractions(placed(spot, degrees, size, mirrored=mirrored))
    assert where == pytest.approx(before.frames[0].fractions(spot), abs=1e-6)
    assert after.frames[0].mirrored is (before.frames[0].mirrored ^ mirrored)


def test_points_go_to_fractions_and_back(drop: np.ndarray) -> None:
    frame = lie_of(drop, NOTHING, THICK, ROUND).frames[0]
    assert frame.points_px(frame.fractions(drop)) == pytest.approx(drop)
    assert frame.fractions(drop).min(axis=0) == pytest.approx([0.0, 0.0], abs=1e-9)
    assert frame.fractions(drop).max(axis=0) == pytest.approx([1.0, 1.0])


def test_the_head_is_at_the_thick_end_the_eye_or_where_the_maker_says(drop: np.ndarray) -> None:
    def head_x(*rules: str, hardware: np.ndarray = NOTHING) -> float:
        lie = lie_of(drop, hardware, rules, ROUND)
        assert lie.head_by == rules[-1]
        return float(lie.frames[0].points_px(np.array([[0.0, 0.5]]))[0, 0])

    assert head_x("thick end") < 50
    assert head_x("thin end") > 250
    assert head_x("right") > 250
    assert head_x("up", "left") < 50
    assert head_x("eye", hardware=np.array([[240.0, 72.0], [150.0, 72.0]])) > 250


def test_hardware_at_both_ends_does_not_tell_the_head(drop: np.ndarray) -> None:
    lie = lie_of(drop, np.array([[60.0, 80.0], [250.0, 72.0]]), ("eye",), ROUND)
    assert (lie.head_by, len(lie.frames)) == ("", 2)


def test_a_bar_tells_neither_head_nor_belly_and_a_disc_has_no_length() -> None:
    bar = np.array([[0.0, 0.0], [100.0, 0.0], [100.0, 30.0], [0.0, 30.0]])
    lie = lie_of(bar, NOTHING, ("eye", "thick end"), ("round side",))
    assert (len(lie.frames), lie.head_by, lie.belly_by) == (4, "", "")
    turn = np.linspace(0, 2 * math.pi, 100, endpoint=False)
    assert lie_of(np.stack([np.cos(turn), np.sin(turn)], axis=1), NOTHING, THICK, ROUND).frames == ()


def test_the_flat_side_is_the_other_side(drop: np.ndarray) -> None:
    told = [lie_of(drop, NOTHING, THICK, (rule,)).frames[0].across[1] for rule in ("round side", "flat side", "up")]
    assert [round(down) for down in told] == [1, -1, -1]
