"""Millimetres per pixel, with their uncertainty."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from bubblegrade.errors import InputError

LEAST_MM_PER_PX: Final = 1e-4  # a tenth of the wavelength of light: no camera does that
MOST_MM_PER_PX: Final = 2.0  # coarser than any photograph of a casting
LEAST_SPAN_PX: Final = 20.0  # a shorter one gives no scale to 5 %
POINTING_PX: Final = 0.7  # standard uncertainty of a point that a person reads off a screen
EDGE_PLACING_PX: Final = 0.5  # standard uncertainty of each end of a measured span
# The widest span lies at an unknown height in the casting, its voids on average at the middle. With the camera 15 times
# as far as the casting is thick (nearer is not advised, common practice) top and bottom differ by 1/15 in scale:
# half of that to either side of the middle, evenly spread.
HEIGHT_DOUBT: Final = 1 / 15 / 2 / 3**0.5

STATED: Final = "stated"  # the source of a scale that the user states

SpanPx = tuple[tuple[float, float], tuple[float, float]]  # x and y of both ends of what gave a scale


@dataclass(frozen=True)
class Scale:
    """How large a pixel is at the casting's mid plane."""

    mm_per_px: float
    mm_per_px_err: float  # one standard uncertainty
    source: str  # in words: where it came from
    enlarged: float = 1.0  # by how much voids look larger for being seen from aside
    enlarged_err: float = 0.0  # one standard uncertainty of that
    enlarged_along: float = 0.0  # direction of it, radians from the picture's x axis to its y axis
    height_err_share: float = 0.0  # of one void's size, which hangs on how high in the casting it lies


@dataclass(frozen=True)
class Span:
    """Two points in the photograph, px, and the length between them."""

    x_px: float
    y_px: float
    other_x_px: float
    other_y_px: float
    long_mm: float

    @property
    def long_px(self) -> float:
        """Distance of the points in px."""
        return math.hypot(self.other_x_px - self.x_px, self.other_y_px - self.y_px)


def stated_scale(mm_per_px: float) -> Scale:
    """Return the scale that the user states; its error is not known and is taken as none.

    Raises
    ------
    InputError
        The scale is not a number between LEAST_MM_PER_PX and MOST_MM_PER_PX.

    >>> stated_scale(0.0375).mm_per_px
    0.0375
    """
    if not LEAST_MM_PER_PX <= mm_per_px <= MOST_MM_PER_PX:
        raise InputError(
            f"--mm-per-px {mm_per_px:g} is not a usable scale: give millimetres per pixel "
            f"between {LEAST_MM_PER_PX:g} and {MOST_MM_PER_PX:g}, such as 0.0375"
        )
    return Scale(mm_per_px=mm_per_px, mm_per_px_err=0.0, source=STATED)


def scale_from_width(
    width_mm: float, span_px: float, *, height_doubt: float = HEIGHT_DOUBT, span_doubt: float = 0.0
) -> Scale:
    """Return the scale from the casting's known widest span and that span in the photograph.

    `height_doubt` is the standard uncertainty that the height of that span in the casting brings, as a share, and
    `span_doubt` that of the span in the photograph beside what its ends bring.

    Raises
    ------
    InputError
        The scale that follows is absurd.

    >>> scale_from_width(44.0, 1100.0).mm_per_px
    0.04
    """
    mm_per_px = width_mm / span_px
    if not LEAST_MM_PER_PX <= mm_per_px <= MOST_MM_PER_PX:
        raise InputError(f"--width {width_mm:g}mm over {span_px:.0f} px is {mm_per_px:.3g} mm per px: check the width")
    err = mm_per_px * math.hypot(EDGE_PLACING_PX * 2**0.5 / span_px, height_doubt, span_doubt)
    between = ", between the length and the width of its outline" if span_doubt else ""
    return Scale(mm_per_px=mm_per_px, mm_per_px_err=err, source=f"widest span of the casting, {width_mm:g} mm{between}")


def scale_from_span(span: Span) -> Scale:
    """Return the scale from two points in the photograph and the length between them.

    Raises
    ------
    InputError
        The points are too near each other, or the scale that follows is absurd.

    >>> scale_from_span(Span(0.0, 0.0, 300.0, 400.0, 20.0)).mm_per_px
    0.04
    """
    if span.long_px < LEAST_SPAN_PX:
        raise InputError(
            f"--span from {span.x_px:g},{span.y_px:g} to {span.other_x_px:g},{span.other_y_px:g} is "
            f"{span.long_px:.1f} px long: take two points at least {LEAST_SPAN_PX:.0f} px apart"
        )
    mm_per_px = span.long_mm / span.long_px
    if not LEAST_MM_PER_PX <= mm_per_px <= MOST_MM_PER_PX:
        raise InputError(
            f"--span {span.long_mm:g}mm over {span.long_px:.0f} px is {mm_per_px:.3g} mm per px: "
            "check points and length"
        )
    err = mm_per_px * ((POINTING_PX * 2**0.5 / span.long_px) ** 2 + HEIGHT_DOUBT**2) ** 0.5
    return Scale(mm_per_px=mm_per_px, mm_per_px_err=err, source=f"two points {span.long_mm:g} mm apart")
