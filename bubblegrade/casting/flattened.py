"""A photograph's linear light, freed of the unevenness of the backlight where that was photographed by itself."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from bubblegrade.casting.outline import find_outline
from bubblegrade.casting.transmittance import transmittance
from bubblegrade.errors import PhotoError
from bubblegrade.photo.light import Codes, Light, clipped, grey, grey_light
from bubblegrade.photo.reading import Photo
from bubblegrade.quantiles import quantile

DIMMEST: Final = 0.02  # linear light of the brightest tenth: less is no backlight
MOST_CLIPPED: Final = 0.9  # of the frame at full scale: more, and nothing is left to see
THINNED: Final = 8  # pixels each way of which one tells whether there is light


@dataclass(frozen=True, eq=False)
class Flattened:
    """The linear light of a photograph, (rows, cols), of which each part is worked out when it is asked for.

    The whole of it takes more memory than the photograph.
    """

    photo: Photo
    blank: Light | None = None  # linear light of the bare backlight; what it divides is 0 where it is dark

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        return self.photo.shape_px

    def __getitem__(self, part: Any) -> Light:
        """Return the light of some rows, or of some rows and columns."""
        codes: Codes = np.ascontiguousarray(self._codes(part))
        light = grey_light(codes, self.photo.tone)
        if self.blank is None:
            return light
        return np.nan_to_num(transmittance(light, self.blank[part]), nan=0.0, copy=False)

    def _codes(self, part: Any) -> NDArray[Any]:
        """Return the codes of a part; columns are thinned out in grey, which takes a quarter of the time in colour."""
        codes: NDArray[Any] = self.photo.codes
        if not isinstance(part, tuple) or part[1].step is None:
            return np.asarray(codes[part])
        rows, cols = part
        return grey(codes[rows])[:, cols]


def flattened(photo: Photo, blank: Light | None) -> Light:
    """Return the photograph's linear light, (rows, cols), divided by the bare light if that was photographed.

    Raises
    ------
    PhotoError
        The photograph is dark or white all over, or the blank is of another size.
    """
    _check_light(photo)
    if blank is not None and blank.shape != photo.shape_px:
        rows, cols = blank.shape
        raise PhotoError(
            f"{photo.name}: the blank is {cols} x {rows} px: photograph both with the same camera and size"
        )
    return Flattened(photo, blank)[:, :]


def bare_light_of(photo: Photo) -> Light:
    """Return the linear light, (rows, cols), of a photograph of the bare backlight.

    Raises
    ------
    PhotoError
        It is dark or white all over, or a casting lies on the light.
    """
    _check_light(photo)
    light = Flattened(photo)[:, :]
    if find_outline(light) is not None:
        raise PhotoError(
            f"{photo.name} shows a casting on the light, and what it takes would be made up for: photograph the light "
            "alone, camera and place unchanged"
        )
    return light


def _check_light(photo: Photo) -> None:
    """Refuse a photograph that is dark or white all over."""
    thin = Flattened(photo)[::THINNED, ::THINNED]
    if quantile(thin, 0.9) < DIMMEST:
        raise PhotoError(f"{photo.name} is dark all over: switch the backlight on or expose longer")
    if clipped(photo.codes[::THINNED, ::THINNED]).mean() > MOST_CLIPPED:
        raise PhotoError(
            f"{photo.name} is white all over: expose less, until the bare light is about 80 % of full scale"
        )
