"""Exposure: light at full scale or lost in black, no backlight, and the colour of the light."""

from __future__ import annotations

import math
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray

from bubblegrade.casting.outline import Mask
from bubblegrade.fitness.check import Limit, Measured, Test
from bubblegrade.fitness.places import region
from bubblegrade.fitness.view import View, some
from bubblegrade.photo.light import clipped, grey_light
from bubblegrade.quantiles import median, quantile

COLOURS: Final = ("blue", "green", "red")  # in the order of the codes
DIMMEST: Final = 0.02  # linear light of the clear resin: less is no backlight
LEAST_BARE: Final = 50  # coarse px of bare light that tell of it
GAP_PX: Final = 5  # coarse px: grain of a photograph's noise
BRIDGED_PX: Final = 25  # coarse px: narrower dark marks do not count as dark resin
CLEAR: Final = 0.75  # quantile of the judged area's light: most of it is clear resin
DARKEST: Final = 1e-6  # light that is taken for the least
# Linear light below which one step of 8-bit sRGB is more than a tenth of the light: code 19 of 255 (IEC 61966-2-1).
COARSE_STEPS: Final = 0.0065
FULL_SHARE: Final = 0.005  # of the clipped places that one colour alone must make up to be named


def clipped_casting(view: View) -> Measured:
    """Measure the share of the judged area in which any colour is at full scale."""
    return _clipped(view, view.outline.clear, "of the judged area")


def clipped_backlight(view: View) -> Measured:
    """Measure the share of the bare light in which any colour is at full scale."""
    if view.bare.sum() < LEAST_BARE:
        return Measured(math.nan, "no bare light is seen")
    return _clipped(view, view.bare, "of the bare light")


def dim(view: View) -> Measured:
    """Measure the light of the clear resin, as a share of full scale."""
    judged = view.outline.clear
    if not judged.any():
        return Measured(0.0, "nothing is lit")
    return Measured(median(some(view.thin_light, judged)), "the casting is hardly lit")


def crushed(view: View) -> Measured:
    """Measure the share of the judged area whose clear resin is so dark that its tones lie far apart.

    The level of the clear resin around dark marks counts, so that rings of voids and hardware are not taken for it, and
    the weighed grey, so that a deep tint that leaves one colour dark is not.
    """
    judged = view.outline.clear
    if not judged.any():
        return Measured(math.nan, "nothing is lit")
    level = cv2.morphologyEx(
        cv2.blur(view.thin_light, (GAP_PX, GAP_PX)), cv2.MORPH_CLOSE, np.ones((BRIDGED_PX, BRIDGED_PX), np.uint8)
    )
    lost = judged & (level < COARSE_STEPS)
    share = float(lost.sum() / judged.sum())
    return Measured(
        share, f"{100 * share:.0f} % of the judged area is lost in black", region(lost, view.outline.step_px)
    )


def backlight(view: View) -> Measured:
    """Measure the light around the casting over that of its clear resin."""
    judged = view.outline.clear
    if not view.has_outline or not view.bare.any() or view.behind is None or not judged.any():
        return Measured(math.nan, "too little bare light is seen")
    passed = some(view.coarse, judged) / np.maximum(some(view.behind, judged), DARKEST)
    ratio = 1.0 / max(quantile(passed, CLEAR), DARKEST)
    said = "the ground is darker than the casting, so no light comes from behind"
    return Measured(ratio, said, region(view.bare, view.outline.step_px))


def colour_cast(view: View) -> Measured:
    """Measure the darkest colour of the bare light over its brightest."""
    if view.photo.codes.ndim == 2:  # noqa: PLR2004
        return Measured(math.nan, "the photograph is grey")
    if view.bare.sum() < LEAST_BARE:
        return Measured(math.nan, "no bare light is seen")
    middle = np.array([median(codes) for codes in some(view.thin_codes, view.bare).T]).astype(view.thin_codes.dtype)
    levels = [float(grey_light(code[None, None], view.photo.tone)[0, 0]) for code in middle]
    weak, strong = COLOURS[int(np.argmin(levels))], COLOURS[int(np.argmax(levels))]
    ratio = min(levels) / max(*levels, DARKEST)
    return Measured(ratio, f"the light is {strong}: its {weak} has {100 * ratio:.0f} % of it")


def _clipped(view: View, inside: Mask, of_what: str) -> Measured:
    """Measure the share of a coarse mask that is at full scale."""
    if not inside.any():
        return Measured(math.nan, "nothing is lit")
    at_top = (clipped(view.thin_codes) & inside).astype(np.uint8)
    share = float(at_top.sum() / inside.sum())
    if share == 0.0:
        return Measured(share)
    where = cv2.morphologyEx(at_top, cv2.MORPH_CLOSE, np.ones((GAP_PX, GAP_PX), np.uint8)).astype(bool)
    said = f"{100 * share:.0f} % {of_what} is at full scale{_alone(view, inside)}"
    return Measured(share, said, region(where, view.outline.step_px))


def _alone(view: View, inside: Mask) -> str:
    """Return which colour alone is at full scale; nothing where several are, or the picture is grey."""
    codes: NDArray[Any] = view.thin_codes
    if codes.ndim == 2:  # noqa: PLR2004
        return ""
    shares = [float(clipped(np.ascontiguousarray(codes[..., colour]))[inside].mean()) for colour in range(3)]
    full = [name for name, share in zip(COLOURS, shares, strict=True) if share > FULL_SHARE]
    return f" in {full[0]}" if len(full) == 1 else ""


TESTS: Final = (
    Test(
        "clipped_casting",
        "light at full scale in the casting",
        "share",
        Limit(0.02, 0.10),
        "faint voids are lost there and rings look too bright",
        "expose less, and let no lamp or window mirror in it",
        clipped_casting,
    ),
    Test(
        "clipped_backlight",
        "bare light at full scale",
        "share",
        Limit(0.05),
        "the share that the resin lets through comes out too large",
        "expose less, until the bare light is about 80 % of full scale",
        clipped_backlight,
    ),
    Test(
        "clear_light",
        "light of the clear resin",
        "share",
        Limit(0.05, DIMMEST, least=True),
        "noise hides small and faint voids",
        "expose longer",
        dim,
    ),
    Test(
        "crushed",
        "resin lost in black",
        "share",
        Limit(0.02, 0.10),
        "voids there are not found and diameters beside it are off",
        "expose longer, with the camera's plain tone curve",
        crushed,
    ),
    Test(
        "backlight",
        "light around the casting over that in it",
        "ratio",
        Limit(0.95, 0.80, least=True),
        "voids do not show as dark rings, so their diameters mean nothing",
        "put the light behind the casting, in a room without other lamps",
        backlight,
    ),
    Test(
        "colour_cast",
        "darkest colour of the light over its brightest",
        "ratio",
        Limit(0.30, 0.05, least=True),
        "noise rises, as one colour carries the picture",
        "use white light, or balance the camera for it",
        colour_cast,
    ),
)
