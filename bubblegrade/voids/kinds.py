"""What is dark and no void: flake, fibre, hardware, unsure; each with its reason."""

from __future__ import annotations

from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from bubblegrade.voids.lost import discs
from bubblegrade.voids.table import Voids

Image = NDArray[np.float32]
Mask = NDArray[np.bool_]

DARK: Final = 0.25  # darkness of a mark worth naming
LEAST_AREA_PX: Final = 8
COMPACT_AREA_PX: Final = 20  # of a mark without a kind, a disc of 5 px; a smaller one may be a void too small to count
HALO: Final = 1.3  # radii of a void that are its own
LONG: Final = 4.0  # length over width of a fibre at least
OPAQUE: Final = 0.5  # mean darkness of a flake at least
COMPACT: Final = 0.55  # share of its smallest enclosing rectangle that a flake fills at least
WIRE_SHARE: Final = (
    0.01  # of the casting's size: a long line is a wire from this thickness on, thinner a hair or scratch
)
HARDWARE_SHARE: Final = 0.04  # of the casting's size: a dark body thicker than this is hardware


def dark_marks(darkness: Image, voids: Voids, judged: Mask, *, inside: Mask, casting_px: float) -> tuple[Voids, Mask]:
    """Return the dark marks that no void explains, and the pixels that belong to them.

    Parameters
    ----------
    darkness
        (rows, cols).
    voids
        What was counted.
    judged
        (rows, cols): where to look.
    inside
        (rows, cols): the part of it that is clear of the border's own shade; a mark without a pixel there is that shade
        and has no row.
    casting_px
        The casting's size, square root of its area.
    """
    dark = judged & (darkness > DARK) & ~discs(darkness.shape, voids, HALO)
    count, labels, stats, centres = cv2.connectedComponentsWithStats(dark.astype(np.uint8), connectivity=8)
    large = np.flatnonzero(stats[:, cv2.CC_STAT_AREA] >= LEAST_AREA_PX)
    large = large[large > 0]
    if not len(large):
        return Voids.none(), np.zeros(darkness.shape, bool)
    named = [_name(np.asarray(labels, np.int32), darkness, stats[i], int(i), casting_px) for i in large]
    telling = np.array([kind != "unsure" for kind, _, _ in named]) | (stats[large, cv2.CC_STAT_AREA] >= COMPACT_AREA_PX)
    large, named = large[telling], [named[i] for i in np.flatnonzero(telling)]
    kept = np.zeros(count, bool)
    kept[large] = True
    whole = np.bincount(labels[dark & inside], minlength=count)[large] > 0
    area = stats[large, cv2.CC_STAT_AREA]
    table = Voids.of(
        x_px=centres[large, 0],
        y_px=centres[large, 1],
        diameter_px=np.sqrt(4 * area / np.pi),
        contrast=[mean for _, _, mean in named],
        kind=[kind for kind, _, _ in named],
        reason=[reason for _, reason, _ in named],
    )
    return table[whole], kept[labels]


def _name(
    labels: NDArray[np.int32], darkness: Image, stat: NDArray[np.int32], label: int, casting_px: float
) -> tuple[str, str, float]:
    """Return kind, reason and mean darkness of one mark."""
    x, y, w, h, area = (int(v) for v in stat)
    box = (slice(y, y + h), slice(x, x + w))
    mask = labels[box] == label
    mean = float(darkness[box][mask].mean())
    thickness = 2 * float(cv2.distanceTransform(np.pad(mask, 1).astype(np.uint8), cv2.DIST_L2, 3).max())
    rows, cols = np.nonzero(mask)
    (_, (a, b), _) = cv2.minAreaRect(np.stack([cols, rows], axis=1).astype(np.float32))
    long, wide = max(a, b) + 1, min(a, b) + 1
    if thickness > HARDWARE_SHARE * casting_px:
        return "hardware", f"solid and {thickness:.0f} px thick", mean
    if area / thickness > LONG * thickness:
        wire = long > casting_px / 3 and thickness > WIRE_SHARE * casting_px
        kind = "hardware" if wire else "fibre"
        return kind, f"{area / thickness:.0f} px long, {thickness:.0f} px thick", mean
    if mean > OPAQUE and area / (long * wide) > COMPACT:
        return "flake", f"opaque ({100 * mean:.0f} % dark) without a bright core", mean
    return "unsure", "dark, but neither ring, flake nor fibre", mean
