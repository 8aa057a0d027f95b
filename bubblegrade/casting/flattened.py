"""A photograph's linear light, freed of the unevenness of the backlight where that was photographed by itself."""

from __future__ import annotations

from typing import Final

import numpy as np

from bubblegrade.casting.transmittance import transmittance
from bubblegrade.errors import PhotoError
from bubblegrade.photo.light import Light, clipped, grey_light
from bubblegrade.photo.reading import Photo
from bubblegrade.quantiles import quantile

DIMMEST: Final = 0.02  # linear light of the brightest tenth: less is no backlight
MOST_CLIPPED: Final = 0.9  # of the frame at full scale: more, and nothing is left to see
THINNED: Final = 8  # pixels each way of which one tells whether there is light


def flattened(photo: Photo, blank: Light | None) -> Light:
    """Return the photograph's linear light, (rows, cols), divided by the bare light if that was photographed.

    Raises
    ------
    PhotoError
        The photograph is dark or white all over, or the blank is of another size.
    """
    light = grey_light(photo.codes, photo.tone)
    if quantile(light[::THINNED, ::THINNED], 0.9) < DIMMEST:
        raise PhotoError(f"{photo.name} is dark all over: switch the backlight on or expose longer")
    if clipped(photo.codes[::THINNED, ::THINNED]).mean() > MOST_CLIPPED:
        raise PhotoError(
            f"{photo.name} is white all over: expose less, until the bare light is about 80 % of full scale"
        )
    if blank is None:
        return light
    if blank.shape != light.shape:
        rows, cols = blank.shape
        raise PhotoError(
            f"{photo.name}: the blank is {cols} x {rows} px: photograph both with the same camera and size"
        )
    return np.nan_to_num(transmittance(light, blank), nan=0.0, copy=False)
