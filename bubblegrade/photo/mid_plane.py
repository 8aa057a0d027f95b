"""From the plane of the light to the casting's middle, which is nearer to the camera and so looks larger.

The casting, `t` thick, lies on the plane of the scale card, or beside a disc. Seen from above, a void in its middle
lies under t/2 of resin, and resin of index n makes a depth d look like d/n (for small angles, by Snell's law) without
moving it sideways. The top face is seen where it is, so the middle looks t - t/(2n) high: two thirds of the thickness
for n = 1.5, not half. A camera `H` over the plane sees things of that height h enlarged by H / (H - h), which leaves mm
per px times (H - h) / H. A disc has a height of its own, its top edge, and only what the middle lies higher counts.

Where the camera's height is not told, it is open from far away to the nearest that the photograph allows: no nearer
than the widest lens sees as much of the light, than a tilted card's perspective tells, or than lenses focus. The scale
is that midway, and its 95 % interval reaches both.

The widest span of a flat casting with straight walls is that of its upper face, nearer to the camera by t/(2n) than the
middle looks: from there mm per px grows by t/(2n) over (H - t).
"""

from __future__ import annotations

import math
from typing import Final, Protocol

from bubblegrade.errors import InputError
from bubblegrade.optics import USUAL_INDEX
from bubblegrade.photo.lens import WIDEST_35MM, lens_from_focal
from bubblegrade.photo.perspective import LIMIT
from bubblegrade.photo.scale import Scale

INDEX_ERR: Final = 0.03  # clear resins lie between 1.49 and 1.57 (common practice)
THICKNESS_ERR_MM: Final = 0.2  # of a stated thickness, and of a casting that rocks on its foot
HEIGHT_ERR_MM: Final = 10.0  # of a stated camera height: nobody sees where in a lens to measure to
HEIGHT_ERR_SHARE: Final = 0.01
ADVISED_SHARE: Final = 1 / 15  # of the camera's height that a casting is thick at most (common practice)
THICKEST_MM: Final = 25.0  # of castings that are photographed from nearer than that (judgement)
NEAREST_MM: Final = 100.0  # of a camera of untold height: few lenses show a casting sharp from nearer (judgement)
NEAREST_THICK: Final = 4.0  # and of one of a thick casting, in thicknesses: the thickest from the nearest
BOTH_OPEN: Final = 0.7  # of the most that both leave open: of an even spread of both 95 in 100 are less
LOWEST_MM, HIGHEST_MM = 20.0, 10_000.0  # of a camera: no lens shows a whole casting from nearer (judgement)
NO_THICKNESS: Final = "the casting's thickness unknown"
NO_HEIGHT: Final = "the camera's height unknown"
AS_DRAWN: Final = "taken as printed at actual size"
NEAR: Final = (
    "mm come out small of a thin casting seen from far away, large of a thick one seen from near, within the "
    "stated doubt"
)
GRANTED: Final = {
    AS_DRAWN: f"the card is {AS_DRAWN}, and one fitted to the page is 3 to 6 % smaller, which makes mm as much too "
    "large: measure its check length and give --printed",
    NO_THICKNESS: f"{NO_THICKNESS}: {NEAR}: give --thickness",
    NO_HEIGHT: f"{NO_HEIGHT}: {NEAR}: give --camera-height",
}
ENDS: Final = 2.0 * LIMIT  # standard uncertainties from end to end of a 95 % interval
LEVEL_ERR: Final = math.radians(2.0)  # of a camera that is held level, as its height has a meaning then (judgement)
FACE_ERR_SHARE: Final = 0.15  # of the thickness: a rounded edge or a draft has the widest span lower (judgement)


class Level(Protocol):
    """The plane on which the casting lies, as something of known size on it tells."""

    @property
    def shape_px(self) -> tuple[int, int]:
        """Rows and columns of the photograph."""

    @property
    def mm_per_px(self) -> float:
        """The scale on the plane."""

    @property
    def fit_err_share(self) -> float:
        """Its standard uncertainty from measuring in the photograph, as a share."""

    @property
    def print_err_share(self) -> float:
        """And from what is known of the thing itself."""

    @property
    def top_mm(self) -> float:
        """How high over the plane the thing of known size has its edge."""

    @property
    def top_err_mm(self) -> float:
        """The standard uncertainty of that."""

    @property
    def nearest_mm(self) -> float:
        """The least height of the lens over the plane that its perspective leaves open; 0 where it tells none."""

    @property
    def camera_height_mm(self) -> float:
        """Height of the lens over the plane; NaN where it is unknown."""

    @property
    def camera_height_err_mm(self) -> float:
        """Its standard uncertainty."""


def apparent_height_mm(thickness_mm: float, *, index: float = USUAL_INDEX) -> float:
    """Return how high over the plane the middle of a casting looks, seen from above through its resin.

    >>> round(apparent_height_mm(12.0, index=1.5), 9)
    8.0
    """
    return thickness_mm * (1.0 - 1.0 / (2.0 * index))


def mid_plane_scale(
    found: Level,
    thickness_mm: float | None,
    camera_height_mm: float | None = None,
    *,
    index: float = USUAL_INDEX,
    source: str = "card",
) -> Scale:
    """Return the scale at the casting's mid plane.

    What is not known lies anywhere between its limits, and the 95 % interval reaches them: the camera's height far away
    and the nearest that the photograph leaves open, the thickness nothing and a fifteenth of the height, or what
    castings have where that is more.

    Parameters
    ----------
    found
        The card, or what else of known size lies on the plane.
    thickness_mm
        The casting's; None where it is unknown.
    camera_height_mm
        From the plane to the lens, as measured; None takes what the photograph tells.
    index
        Of the resin.
    source
        What gave the scale, in a word or two.

    Raises
    ------
    InputError
        The camera stands absurdly near or far.
    """
    lift, lift_err, words = _lift(found, thickness_mm, camera_height_mm, index)
    share = math.hypot(found.fit_err_share, found.print_err_share, lift_err / (1.0 - lift))
    mm_per_px = found.mm_per_px * (1.0 - lift)
    return Scale(
        mm_per_px=mm_per_px,
        mm_per_px_err=mm_per_px * share,
        source=f"{source}, {words}",
        height_err_share=_one_height_err(found, thickness_mm, camera_height_mm, index) / (1.0 - lift),
    )


def taken_for_granted(scale: Scale) -> tuple[str, ...]:
    """Return what a scale from the plane of the light takes for granted, and how to do without.

    >>> taken_for_granted(Scale(0.03, 0.0, "card, 8.0 mm over it to the casting's middle, 300 mm to the camera"))
    ()
    """
    return tuple(said for words, said in GRANTED.items() if words in scale.source)


def scale_below_face(
    scale: Scale, across_mm: float, thickness_mm: float, camera_height_mm: float, *, index: float
) -> Scale:
    """Return the scale at the mid plane of a flat casting from that of its upper face.

    A camera that leans sees the foot beside the face, and what it sees is wider by the thickness times the lean.

    Parameters
    ----------
    scale
        From a length on the upper face, its uncertainty that of measuring in the photograph alone.
    across_mm
        That length.
    thickness_mm
        The casting's.
    camera_height_mm
        From the plane on which it lies to the lens, as measured.
    index
        Of the resin.

    Raises
    ------
    InputError
        The camera stands absurdly near or far.

    A middle that looks 4 mm lower than a face 300 mm away:

    >>> round(scale_below_face(Scale(0.03, 0.0, "face"), 36.0, 12.0, 312.0, index=1.5).mm_per_px, 9)
    0.0304
    """
    _check_height(camera_height_mm, thickness_mm)
    away, deep = camera_height_mm - thickness_mm, thickness_mm / (2.0 * index)
    grown = 1.0 + deep / away
    off = math.hypot(
        FACE_ERR_SHARE * thickness_mm,
        THICKNESS_ERR_MM / (2.0 * index),
        deep * INDEX_ERR / index,
        deep * stated_height_err_mm(camera_height_mm) / away,
    )
    leaning = thickness_mm / across_mm * LEVEL_ERR
    share = math.hypot(scale.mm_per_px_err / scale.mm_per_px, off / away, leaning)
    words = f"{scale.source} at its upper face, {camera_height_mm:.0f} mm to the camera"
    return Scale(
        mm_per_px=scale.mm_per_px * grown,
        mm_per_px_err=scale.mm_per_px * grown * share,
        source=words,
        height_err_share=thickness_mm * _spread_of_heights(index) / away,
    )


def end_doubt(thickness_mm: float | None, camera_height_mm: float | None) -> float:
    """Return the standard uncertainty, as a share, of a scale from a span at the top or the bottom of a casting.

    Which of the two is not known: either is half the thickness off the middle, unknown ones by ADVISED_SHARE.

    >>> round(end_doubt(15.0, 307.5), 9)
    0.025

    Raises
    ------
    InputError
        The camera stands absurdly near or far.
    """
    if thickness_mm is None or camera_height_mm is None:
        return ADVISED_SHARE / 2.0
    _check_height(camera_height_mm, thickness_mm)
    return thickness_mm / 2.0 / (camera_height_mm - thickness_mm / 2.0)


def _spread_of_heights(index: float) -> float:
    """Return the standard deviation of the heights at which evenly spread voids look, over the thickness."""
    return 1.0 / (index * math.sqrt(12.0))


def _one_height_err(found: Level, thickness_mm: float | None, stated_mm: float | None, index: float) -> float:
    """Return how far a void looks above or below the middle, over the camera's height, one standard deviation."""
    height, _ = _camera_height(found, thickness_mm, stated_mm)
    evenly = math.sqrt(3.0)  # root mean square of what is evenly spread from nothing to its most
    if thickness_mm is None:
        return _spread_of_heights(index) * _thickest_share(found, height) / evenly
    if math.isnan(height):
        return _spread_of_heights(index) * thickness_mm / _nearest_for(found, thickness_mm) / evenly
    return _spread_of_heights(index) * thickness_mm / height


def _lift(found: Level, thickness_mm: float | None, stated_mm: float | None, index: float) -> tuple[float, float, str]:
    """Return the middle's apparent height over the camera's, its uncertainty, and both in words."""
    height, height_err = _camera_height(found, thickness_mm, stated_mm)
    if thickness_mm is None:
        most = apparent_height_mm(_thickest_share(found, height), index=index)
        top = found.top_mm / (2.0 * _nearest_for(found) if math.isnan(height) else height)
        return most / 2 - top, most / ENDS, NO_THICKNESS
    raised = apparent_height_mm(thickness_mm, index=index) - found.top_mm
    middle = f"{raised:.1f} mm over it to the casting's middle"
    if math.isnan(height):
        nearest = _nearest_for(found, thickness_mm)
        most = raised / nearest
        return most / 2, abs(most) / ENDS, f"{middle}, {NO_HEIGHT}, {nearest:.0f} mm or more"
    share = apparent_height_mm(1.0, index=index)
    raised_err = math.hypot(THICKNESS_ERR_MM * share, thickness_mm * INDEX_ERR / (2.0 * index**2), found.top_err_mm)
    err = math.hypot(raised_err / height, raised * height_err / height**2)
    return raised / height, err, f"{middle}, {height:.0f} mm to the camera"


def _camera_height(found: Level, thickness_mm: float | None, stated_mm: float | None) -> tuple[float, float]:
    """Return the camera's height over the plane and its uncertainty; NaN where it is unknown."""
    if stated_mm is None:
        return found.camera_height_mm, found.camera_height_err_mm
    _check_height(stated_mm, thickness_mm or 0.0)
    return stated_mm, stated_height_err_mm(stated_mm)


def _check_height(stated_mm: float, thickness_mm: float) -> None:
    """Refuse a camera that stands absurdly near or far."""
    least = max(LOWEST_MM, 2.0 * thickness_mm)
    if not least < stated_mm <= HIGHEST_MM:
        raise InputError(
            f"--camera-height {stated_mm:g}mm cannot be: give the distance from the light to the lens, "
            f"more than {least:g}mm and up to {HIGHEST_MM:g}mm, such as 300mm"
        )


def stated_height_err_mm(height_mm: float) -> float:
    """Return the standard uncertainty of a camera's height that somebody measured."""
    return math.hypot(HEIGHT_ERR_MM, HEIGHT_ERR_SHARE * height_mm)


def _thickest_share(found: Level, height_mm: float) -> float:
    """Return how thick an unknown casting may be, over the camera's height, which is NaN where it is open too."""
    share = BOTH_OPEN * THICKEST_MM / _nearest_for(found) if math.isnan(height_mm) else THICKEST_MM / height_mm
    return max(share, ADVISED_SHARE)


def _nearest_for(found: Level, thickness_mm: float = 0.0) -> float:
    """Return the least height of a camera of which nothing is told."""
    wide_mm = lens_from_focal(WIDEST_35MM, found.shape_px).focal_px * found.mm_per_px
    return max(wide_mm, found.nearest_mm, NEAREST_MM, NEAREST_THICK * thickness_mm)
