"""JPEG damage: the step by which the picture's finest tones were rounded, read from the pixels.

JPEG (ITU-T T.81, ISO/IEC 10918-1) rounds each wave of an 8 x 8 block to a multiple of its own step. In the picture as
decoded the waves of many blocks therefore lie on a comb, whose teeth are that step apart. A picture that was cropped or
resized since shows no comb.
"""

from __future__ import annotations

from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray

from bubblegrade.fitness.check import Limit, Measured, Test
from bubblegrade.fitness.view import View

Floats = NDArray[np.float32]

BLOCK_PX: Final = 8
MOST_BLOCKS: Final = 2000  # looked at
BUSIEST: Final = 300  # of them that tell most
WAVES: Final = ((0, 1), (1, 0), (1, 1), (0, 2), (2, 0))  # down, across: the slowest, that casting and voids are made of
STEPS: Final = np.arange(2, 81)  # codes of 255; larger ones leave nothing to measure
LEAST_BLOCKS: Final = 16  # whose wave is not rounded to nothing
COMB: Final = 0.75  # mean cosine on a comb: 1 where all lie on its teeth, 0 without one
NONE: Final = 1.0  # step of what was never rounded but to whole codes


def rounding(view: View) -> Measured:
    """Measure the middle step, in codes of 255, to which slow waves of the picture were rounded."""
    blocks = _blocks(view.photo.codes)
    if len(blocks) < LEAST_BLOCKS:
        return Measured(NONE)
    basis = np.stack([_wave(down, across).ravel() for down, across in WAVES], axis=1)
    waves = blocks @ basis
    step = float(np.median([comb_step(wave) for wave in waves.T]))
    return Measured(step, f"JPEG has rounded the picture in steps of {step:.0f} codes")


def comb_step(wave: Floats) -> float:
    """Return the distance of the teeth of the comb that values lie on, 1 where there is none.

    >>> comb_step(np.float32(7) * (np.arange(200, dtype=np.float32) % 9 - 4))
    7.0
    """
    told = np.abs(wave) > STEPS[:, None] / 2
    enough = np.count_nonzero(told, axis=1) >= LEAST_BLOCKS
    told, steps = told[enough], STEPS[enough]
    near = (np.cos(2 * np.pi / steps[:, None] * wave) * told).sum(axis=1) / np.count_nonzero(told, axis=1)
    return float(max(steps[near > COMB], default=NONE))


def _blocks(codes: NDArray[Any]) -> Floats:
    """Return blocks spread over the picture in luminance, (N, 64), busiest first, codes of 255."""
    rows, cols = codes.shape[0] // BLOCK_PX, codes.shape[1] // BLOCK_PX
    every = max(1, rows * cols // MOST_BLOCKS)
    lines = codes[: rows * BLOCK_PX].reshape(rows, BLOCK_PX, *codes.shape[1:])[::every, :, : cols * BLOCK_PX]
    some = np.ascontiguousarray(lines.reshape(-1, *lines.shape[2:]))
    eight = some if some.dtype == np.uint8 else (some >> 8).astype(np.uint8)
    grey = eight if eight.ndim == 2 else cv2.cvtColor(eight, cv2.COLOR_BGR2GRAY)  # noqa: PLR2004
    split = np.asarray(grey, np.float32).reshape(-1, BLOCK_PX, cols, BLOCK_PX).swapaxes(1, 2)
    blocks = split.reshape(-1, BLOCK_PX * BLOCK_PX)
    return np.asarray(blocks[np.argsort(-blocks.std(axis=1), kind="stable")[:BUSIEST]])


def _wave(down: int, across: int) -> Floats:
    """Return one wave of the discrete cosine transform, (8, 8), orthonormal (ITU-T T.81, A.3.3)."""
    place = (2 * np.arange(BLOCK_PX) + 1) * np.pi / (2 * BLOCK_PX)
    parts = [np.cos(order * place) * np.sqrt((1 if order == 0 else 2) / BLOCK_PX) for order in (down, across)]
    return np.asarray(np.outer(*parts), np.float32)


TESTS: Final = (
    Test(
        "jpeg_step", "rounding by JPEG", "code", Limit(8.0, 35.0),
        "faint voids vanish and small ones lose their shape",
        "store at the best quality and send the original file", rounding,
    ),
)  # fmt: skip
