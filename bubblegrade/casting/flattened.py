"""A photograph's linear light, freed of the unevenness of the backlight where that was photographed by itself."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from bubblegrade.casting.evidence import evidence
from bubblegrade.casting.outline import Outline, find_outline
from bubblegrade.casting.transmittance import transmittance
from bubblegrade.errors import PhotoError
from bubblegrade.photo.light import Codes, Light, clipped, grey, grey_light
from bubblegrade.photo.reading import Photo
from bubblegrade.photo.turning import as_sensed, upright
from bubblegrade.quantiles import quantile

DIMMEST: Final = 0.02  # linear light of the brightest tenth: less is no backlight
MOST_CLIPPED: Final = 0.9  # of the frame at full scale: more, and nothing is left to see
MOST_OF_BLANK: Final = 0.02  # of the bare light at full scale: how uneven it is there is not known
CASTING_HELD: Final = 0.5  # share of an outline with a step of light: flicker has less, and 2 of 194 castings had,
CASTING_SEEN: Final = 0.6  # and share of it off the frame, or it is cut there: seams and strips run across the frame
FRAME_PX: Final = 6  # coarse px: an outline that comes so near to the frame is cut by it
FEWEST_BITS: Final = 12  # of 16: a picture that fills no more was stored without being stretched
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
    """Return the linear light, (rows, cols), of a photograph of the bare backlight as the sensor saw it.

    Raises
    ------
    PhotoError
        It is dark or white all over, at full scale in places, or a casting lies on the light.
    """
    _check_light(photo)
    white = float(clipped(photo.codes[::THINNED, ::THINNED]).mean())
    if white > MOST_OF_BLANK:
        raise PhotoError(
            f"{photo.name} is at full scale over {100 * white:.0f} % of it, where its unevenness is lost: expose less, "
            "until the bare light is about 80 % of full scale"
        )
    light = Flattened(photo)[:, :]
    if _shows_casting(light):
        raise PhotoError(
            f"{photo.name} shows a casting on the light, and what it takes would be made up for: photograph the light "
            "alone, camera and place unchanged"
        )
    return np.asarray(as_sensed(light, photo.orientation), np.float32)


def _shows_casting(light: Light) -> bool:
    """Tell whether an outline is found in what should be a bare light that is a casting's, and none of the light."""
    outline = find_outline(light)
    if outline is None:
        return False
    seen = evidence(outline.coarse, outline.edge_px, outline.step_px)
    return seen.held_share > CASTING_HELD and (seen.seen_share > CASTING_SEEN or not _runs_across(outline))


def _runs_across(outline: Outline) -> bool:
    """Say whether an outline runs from one side of the frame to the opposite one."""
    near = FRAME_PX * outline.step_px
    return any(
        bool(place.min() < near and place.max() > size - 1 - near)
        for place, size in zip(outline.edge_px.T, outline.shape_px[::-1], strict=True)
    )


def blank_for(photo: Photo, sensed: Light | None) -> Light | None:
    """Return the bare light as the sensor saw it turned as a photograph is, which a camera may have noted otherwise."""
    return None if sensed is None else np.asarray(upright(sensed, photo.orientation), np.float32)


def _check_light(photo: Photo) -> None:
    """Refuse a photograph that is dark or white all over."""
    thin = Flattened(photo)[::THINNED, ::THINNED]
    if quantile(thin, 0.9) < DIMMEST:
        bits = int(photo.codes.max()).bit_length()
        if photo.codes.dtype == np.uint16 and 8 <= bits <= FEWEST_BITS:  # noqa: PLR2004
            raise PhotoError(
                f"{photo.name} fills {bits} of its 16 bits, so that full light reads as dark: save it with the values "
                "stretched to 16 bits, or expose longer"
            )
        raise PhotoError(f"{photo.name} is dark all over: switch the backlight on or expose longer")
    some: NDArray[Any] = np.ascontiguousarray(photo.codes[::THINNED, ::THINNED])
    if clipped(some).mean() > MOST_CLIPPED:
        how = "white" if clipped(grey(some)).mean() > MOST_CLIPPED else "at full scale in some colour"
        raise PhotoError(
            f"{photo.name} is {how} all over: expose less, until the bare light is about 80 % of full scale"
        )
