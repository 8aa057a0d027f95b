"""Masks worked on where they hold something only: how deep their squares lie, and which bodies are held."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

Mask = NDArray[np.bool_]
Image = NDArray[np.float32]


def rectangle(mask: Mask) -> tuple[slice, slice]:
    """Return the rows and columns of the least rectangle around the squares of `mask`, (rows, cols); empty for none."""
    x, y, wide, high = cv2.boundingRect(mask.view(np.uint8))
    return slice(y, y + high), slice(x, x + wide)


def depth(mask: Mask) -> Image:
    """Return how far each square of `mask` lies from the nearest that is not in it, (rows, cols); 0 out of it.

    Beyond the picture nothing is in it:

    >>> depth(np.ones((3, 4), bool)).tolist()
    [[1.0, 1.0, 1.0, 1.0], [1.0, 2.0, 2.0, 1.0], [1.0, 1.0, 1.0, 1.0]]
    """
    deep = np.zeros(mask.shape, np.float32)
    part = rectangle(mask)
    if deep[part].size:
        padded = np.pad(mask[part], 1).view(np.uint8)
        deep[part] = cv2.distanceTransform(padded, cv2.DIST_L2, cv2.DIST_MASK_PRECISE)[1:-1, 1:-1]
    return deep


def touching(mask: Mask, seeds: Mask) -> Mask:
    """Return the bodies of `mask`, (rows, cols), of which a square is among the `seeds`; corners join.

    >>> touching(np.array([[True, True, False, True]]), np.array([[True, False, True, False]])).tolist()
    [[True, True, False, False]]
    """
    found, part = np.zeros_like(mask), rectangle(mask)
    if found[part].size:
        count, labels = cv2.connectedComponents(mask[part].view(np.uint8), connectivity=8)
        held = np.zeros(count, bool)
        held[labels[seeds[part]]] = True
        held[0] = False
        found[part] = held.take(np.asarray(labels, np.intp))
    return found
