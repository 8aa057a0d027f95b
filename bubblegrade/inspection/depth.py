"""Masks worked on where they hold something only: how deep their squares lie, and which bodies are held."""

from __future__ import annotations

import math
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from bubblegrade.distances import distances

Mask = NDArray[np.bool_]
Image = NDArray[np.float32]

SLOPE: Final = 0.9  # per square: depth grows by less along a ridge and by more everywhere else


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
        deep[part] = distances(np.pad(mask[part], 1))[1:-1, 1:-1]
    return deep


def fitting(deep: Image, most: float) -> Image:
    """Return the radius of the largest disc within a mask that holds each square, (rows, cols), from its `depth`.

    Discs larger than `most` are taken for as large as that. A strip of 3 squares holds discs no wider than itself,
    wherever in it they lie:

    >>> fitting(depth(np.ones((3, 5), bool)), 9.0)[:, 2].tolist()
    [2.0, 2.0, 2.0]

    This is the local thickness of Hildebrand and Ruegsegger (J. Microsc. 185 (1997) 67-75): the discs around the
    mask's ridges, the larger drawn over the smaller.
    """
    whole, part = deep.copy(), rectangle(deep > 0)
    if not whole[part].size:
        return whole
    deep = deep[part]
    small = (deep > 0) & (deep < most) & (cv2.dilate(deep, np.ones((3, 3), np.uint8)) - deep < SLOPE)
    rows, cols = np.nonzero(small)
    held = deep.copy()
    for place in np.argsort(deep[rows, cols], kind="stable"):
        radius = float(deep[rows[place], cols[place]])
        cv2.circle(held, (int(cols[place]), int(rows[place])), math.ceil(radius) - 1, radius, -1)
    away = cv2.distanceTransform((deep < most).view(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_5)
    held[away < most] = most
    whole[part] = held
    return whole


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
