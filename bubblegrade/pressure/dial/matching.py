"""Two squared dials laid on each other by their print, the needles left out."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray

from bubblegrade.pressure.dial.face import CENTRE_PX, RADIUS_PX, SIDE_PX, Face, print_of, radii
from bubblegrade.pressure.dial.needle import Needle

Floats = NDArray[np.floating[Any]]
Mask = NDArray[np.uint8]

COARSE: Final = 0.25  # of the size, at which turns are tried
TURNS_DEG: Final = np.arange(-60.0, 61.0, 3.0)  # of a camera held by hand
SIZES: Final = np.geomspace(0.78, 1.28, 11)  # of one ring over another's: rim, glass, print
SHIFT_PX: Final = 7  # by which the print may lie aside, at the coarse size: a rim stands above it
TRIED: Final = 4  # of the best turns
SURE: Final = 0.9  # correlation of two prints, from which no other turn is tried
APART_DEG: Final = 5.0  # of two turns to be two
NEEDLE_WIDE: Final = 0.09  # of the radius, to each side of a needle that is left out
HUB: Final = 0.2
MATCHED_TO: Final = 0.97  # of the radius
STEPS: Final = 60
ENOUGH: Final = 1e-5
BLOCK_PX: Final = 28  # about a number or a word
LEAST_PRINTED: Final = 12  # blocks, fewer of which prove nothing
LEAST_SEEN: Final = 0.6  # of a block's px
PRINTED: Final = 0.5  # standard deviation of a block's print, from which there is some
BLOCK_ALIKE: Final = 0.4  # correlation of two blocks that are alike
MOST_CLIPPED: Final = 0.3  # of the dial: more is the white of an overexposed face, on which print is seen
GLARE: Final = 250.0  # grey value past which there is no print


@dataclass(frozen=True, eq=False)
class Match:
    """The second dial as the first photograph would show it."""

    face: Face
    turned_deg: float  # by which it was turned, clockwise
    likeness: float  # correlation of both prints, 1 where they are the same
    odd_share: float  # of the printed blocks, that do not look alike


def match(first: Face, second: Face, needles: tuple[Needle, Needle]) -> Match | None:
    """Return the second dial laid on the first; None where no way of laying it fits."""
    masks = _print_mask(first, needles[0]), _print_mask(second, needles[1])
    prints = print_of(first), print_of(second)
    best: Match | None = None
    for start in _starts(prints, masks):
        laid = _laid(second, prints, masks, start)
        if laid is not None and (best is None or laid.likeness > best.likeness):
            best = laid
        if best is not None and best.likeness > SURE:
            break
    return best


def _laid(second: Face, prints: tuple[Face, Face], masks: tuple[Mask, Mask], start: Floats) -> Match | None:
    """Return the second dial laid on the first from a rough start; None where that leads nowhere."""
    both = np.asarray(np.where(_seen(masks[1], start) > 0, masks[0], 0), np.uint8)
    second_mask = cv2.warpPerspective(both, start, (SIDE_PX, SIDE_PX), flags=cv2.INTER_NEAREST)
    end = (cv2.TERM_CRITERIA_COUNT | cv2.TERM_CRITERIA_EPS, STEPS, ENOUGH)
    warp = start
    try:
        for motion, soft in ((cv2.MOTION_AFFINE, 15), (cv2.MOTION_HOMOGRAPHY, 5)):
            rows = 3 if motion == cv2.MOTION_HOMOGRAPHY else 2
            _, fitted = cv2.findTransformECC(*prints, warp[:rows].copy(), motion, end, second_mask, soft)
            warp = np.vstack([fitted, [0.0, 0.0, 1.0]])[:3].astype(np.float32)
    except cv2.error:
        return None
    turned = math.degrees(math.atan2(warp[1, 0] - warp[0, 1], warp[0, 0] + warp[1, 1]))
    both = np.asarray(np.where(_seen(masks[1], warp) > 0, masks[0], 0), np.uint8)
    compared = prints[0], _seen(prints[1], warp), both > 0
    return Match(_seen(second, warp), turned, _likeness(*compared), _odd_share(*compared))


def _seen(second: Any, warp: Floats) -> Any:
    """Return a picture of the second dial as the first photograph would show it."""
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    return cv2.warpPerspective(second, warp, (SIDE_PX, SIDE_PX), flags=flags, borderMode=cv2.BORDER_REPLICATE)


def _starts(prints: tuple[Face, Face], masks: tuple[Mask, Mask]) -> list[Floats]:
    """Return the turns, sizes and shifts that make both prints most alike, the best first."""
    one, two = (
        cv2.resize(fine * (mask > 0), None, fx=COARSE, fy=COARSE, interpolation=cv2.INTER_AREA)
        for fine, mask in zip(prints, masks, strict=True)
    )
    side, centre = one.shape[0], (one.shape[0] - 1) / 2.0
    piece = one[SHIFT_PX:-SHIFT_PX, SHIFT_PX:-SHIFT_PX]
    tried = []
    for deg in TURNS_DEG:
        for size in SIZES:
            # OpenCV turns counter-clockwise by positive angles.
            warp = cv2.getRotationMatrix2D((centre, centre), -deg, size)
            turned = cv2.warpAffine(two, warp, (side, side), flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP)
            found = cv2.matchTemplate(turned, piece, cv2.TM_CCORR)
            row, col = np.unravel_index(int(np.argmax(found)), found.shape)
            likeness = float(found[row, col] / (np.linalg.norm(turned) + 1e-9))
            tried.append((likeness, float(deg), float(size), int(col) - SHIFT_PX, int(row) - SHIFT_PX))
    best: list[tuple[float, float, float, int, int]] = []
    for each in sorted(tried, reverse=True):
        if all(abs(each[1] - other[1]) >= APART_DEG for other in best):
            best.append(each)
    return [_start(deg, size, right, down) for _, deg, size, right, down in best[:TRIED]]


def _start(deg: float, size: float, right: int, down: int) -> Floats:
    """Return the way from the first dial to the second of a coarse find."""
    warp = np.vstack([cv2.getRotationMatrix2D((CENTRE_PX, CENTRE_PX), -deg, size), [0.0, 0.0, 1.0]])
    shift = np.array([[1.0, 0.0, right / COARSE], [0.0, 1.0, down / COARSE], [0.0, 0.0, 1.0]])
    return np.asarray(warp @ shift, np.float32)


def _print_mask(face: Face, needle: Needle) -> Mask:
    """Return where print is to be compared, 255, and where not, 0: hub, needle and its tail, rim, reflections."""
    away = radii()
    mask = (away > HUB) & (away < MATCHED_TO)
    clipped = mask & (face >= GLARE)
    if clipped.sum() < MOST_CLIPPED * mask.sum():
        mask &= ~clipped
    rows, cols = (grid - CENTRE_PX for grid in np.mgrid[0:SIDE_PX, 0:SIDE_PX])
    angle = math.radians(needle.deg)
    aside = cols * math.cos(angle) + rows * math.sin(angle) - RADIUS_PX * needle.aside
    mask &= np.abs(aside) > NEEDLE_WIDE * RADIUS_PX
    return np.asarray(np.where(mask, 255, 0), np.uint8)


def _likeness(one: Face, two: Face, mask: NDArray[np.bool_]) -> float:
    """Return the correlation of two prints where both can be compared."""
    if not mask.any():
        return 0.0
    return float(np.corrcoef(one[mask], two[mask])[0, 1])


def _odd_share(one: Face, two: Face, mask: NDArray[np.bool_]) -> float:
    """Return the share of the printed blocks that do not look alike: other words or numbers on the same scale."""
    blocks = [_blocks(picture) for picture in (one, two, mask)]
    odd = printed = 0
    for here, there, seen in zip(*blocks, strict=True):
        if seen.mean() < LEAST_SEEN or max(here[seen].std(), there[seen].std()) < PRINTED:
            continue
        printed += 1
        odd += float(np.corrcoef(here[seen], there[seen])[0, 1]) < BLOCK_ALIKE
    return odd / printed if printed >= LEAST_PRINTED else 1.0


def _blocks(picture: Any) -> Any:
    """Return a squared picture in blocks, of shape (blocks, px)."""
    count = SIDE_PX // BLOCK_PX
    return picture.reshape(count, BLOCK_PX, count, BLOCK_PX).swapaxes(1, 2).reshape(-1, BLOCK_PX * BLOCK_PX)
