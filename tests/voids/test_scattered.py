"""Scattered pixels: their parts and depths are those that whole pictures give (OpenCV's own functions)."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from bubblegrade.voids.scattered import AROUND_PX, Labels, depth_of, depths_of, in_tiles, nearest_of, parts_of


def blobs(spread_px: float, share: float, shape: tuple[int, int] = (210, 331)) -> np.ndarray:
    """Return a mask, 1 over a share of its pixels, of blobs as wide as a smoothing makes them."""
    rough = np.random.default_rng(3).normal(size=shape).astype(np.float32)
    smooth = cv2.GaussianBlur(rough, (0, 0), spread_px)
    return (smooth > np.quantile(smooth, 1 - share)).astype(np.uint8)


@pytest.mark.parametrize(("spread_px", "share"), [(0.6, 0.05), (0.6, 0.4), (3.0, 0.3), (12.0, 0.6)])
def test_parts_and_depths_are_those_of_the_whole_picture(spread_px: float, share: float) -> None:
    mask = blobs(spread_px, share)
    rows, cols = np.nonzero(mask)
    np.testing.assert_array_equal(depths_of(mask, rows, cols), depth_of(mask)[rows, cols])
    count, labels = cv2.connectedComponents(mask)
    pairs = np.unique(np.stack([parts_of(rows, cols), labels[rows, cols]]), axis=1)
    assert pairs.shape[1] == count - 1  # one number each, and every number one part
    assert len(np.unique(pairs[0])) == count - 1


def test_parts_are_numbered_in_the_order_of_their_first_pixels() -> None:
    part = parts_of(*np.nonzero(blobs(1.0, 0.2)))
    first = np.unique(part, return_index=True)[1]
    assert (np.diff(first) > 0).all()


def test_a_body_thicker_than_what_is_looked_at_first_has_its_depth_all_the_same() -> None:
    mask = np.zeros((300, 300), np.uint8)
    cv2.circle(mask, (150, 150), 5 * AROUND_PX, 1, -1)
    rows, cols = np.nonzero(mask)
    np.testing.assert_array_equal(depths_of(mask, rows, cols), depth_of(mask)[rows, cols])
    full = np.ones((90, 90), np.uint8)  # there is nothing that is not of it
    rows, cols = np.nonzero(full)
    np.testing.assert_array_equal(depths_of(full, rows, cols), depth_of(full)[rows, cols])


@pytest.mark.parametrize(("spread_px", "share"), [(0.6, 0.4), (3.0, 0.3), (12.0, 0.6)])
@pytest.mark.parametrize("held_share", [0.5, 0.01, 0.0002])
def test_what_is_nearest_is_what_the_whole_picture_says(spread_px: float, share: float, held_share: float) -> None:
    rows, cols = np.nonzero(blobs(spread_px, share))
    rng = np.random.default_rng(5)
    body = np.where(rng.random(len(rows)) < held_share, rng.integers(0, 9, len(rows)), -1)
    body[0] = 4
    away = np.ones((rows.max() + 1, cols.max() + 1), np.uint8)
    away[rows[body >= 0], cols[body >= 0]] = 0
    _, place = cv2.distanceTransformWithLabels(away, cv2.DIST_L2, cv2.DIST_MASK_5, labelType=cv2.DIST_LABEL_PIXEL)
    place = place[rows, cols]
    number = np.zeros(place.max() + 1, int)
    number[place[body >= 0]] = body[body >= 0]
    np.testing.assert_array_equal(nearest_of(rows, cols, body), number[place])


def test_no_pixels_have_no_parts_depths_or_tiles() -> None:
    nothing = np.empty(0, np.intp)
    assert len(parts_of(nothing, nothing)) == 0
    assert len(depths_of(np.zeros((9, 9), np.uint8), nothing, nothing)) == 0
    assert in_tiles(nothing, nothing, 8) == {}
    assert Labels((9, 9), nothing, nothing, nothing)[nothing + 1, nothing].tolist() == []
    assert Labels((9, 9), nothing, nothing, nothing)[np.array([3]), np.array([4])].tolist() == [0]


def test_labels_say_at_every_pixel_what_their_picture_shows() -> None:
    mask = blobs(2.0, 0.2)
    rows, cols = np.nonzero(mask)
    labels = Labels(mask.shape, rows, cols, parts_of(rows, cols) + 1)
    np.testing.assert_array_equal(labels[tuple(np.indices(mask.shape))], labels.drawn())
    np.testing.assert_array_equal(labels.drawn() > 0, mask > 0)


def test_each_pixel_is_in_one_tile() -> None:
    rows, cols = np.nonzero(blobs(2.0, 0.2))
    tiles = in_tiles(rows, cols, 32)
    for (down, across), mine in tiles.items():
        assert (rows[mine] // 32 == down).all()
        assert (cols[mine] // 32 == across).all()
    assert sorted(np.concatenate(list(tiles.values())).tolist()) == list(range(len(rows)))
