"""The scale card found in a photograph: its markers, its fine marks, its plane, and the scale that follows.

Markers are looked for in a reduced picture, which is fast and forgives noise. They say roughly where the fine marks
are; those are placed in the photograph as taken, and only they give the scale: a marker's own corners move inwards or
outwards with blur and exposure.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray

from bubblegrade.errors import InputError, PhotoError
from bubblegrade.photo.card import CHECK_MM, Layout, dictionary, layout_of
from bubblegrade.photo.card_plane import Plane, agreeing, fit_plane
from bubblegrade.photo.fine_marks import placed_marks
from bubblegrade.photo.lens import Lens, lens_for, lens_from_focal
from bubblegrade.photo.light import Codes
from bubblegrade.photo.perspective import LIMIT, focal_shares

Floats = NDArray[np.float64]
Grey = NDArray[np.uint8]

LONGEST_PX: Final = (1600, 3200)  # sides of the reduced pictures, tried in this order before the whole one
MOST_DOUBLED_PX: Final = 1600  # of a small picture, in which small markers are easier seen twice as large
MOST_SHARE: Final = 2 / 3  # of the markers: that many are enough at any size
LARGE_ENOUGH_PX: Final = 40.0  # markers of this side in a reduced picture: what is not seen there is hidden
LEAST_MARKERS: Final = 4
LEAST_MARKS: Final = 8  # fine marks: as many numbers as a homography has need half of that
LEAST_WIDTH_SHARE: Final = 0.1  # of their length that the marks must be wide, or they lie on one line
PRINTED_MM: Final = (90.0, 110.0)  # a check length that a printer can have made of 100 mm
READING_ERR_MM: Final = 0.15  # of a length read from a steel rule to a quarter of a mm at both ends
UNMEASURED_ERR_MM: Final = 0.5  # of 100 mm where nobody measured; a printer set to actual size (judgement)
MOST_OPEN: Final = 1.5  # ratio of the heights that the perspective leaves open at which it still tells the height
UNEVEN_ERR_SHARE: Final = 0.0005  # a print's two directions differ by about a thousandth (judgement)
TILT_ERR_DEGREES: Final = 0.3  # of a card that does not lie quite flat
ROUNDS: Final = 2  # of placing the marks where the last ones say
# More patient than OpenCV's own, for small, blurred, unevenly lit markers; what is none agrees with no others.
DETECTION: Final = {
    "cornerRefinementMethod": cv2.aruco.CORNER_REFINE_SUBPIX,
    "adaptiveThreshWinSizeMin": 5,
    "adaptiveThreshWinSizeMax": 45,
    "adaptiveThreshWinSizeStep": 20,
    "perspectiveRemovePixelPerCell": 8,
    "perspectiveRemoveIgnoredMarginPerCell": 0.3,
    "maxErroneousBitsInBorderRate": 0.5,
    "errorCorrectionRate": 1.0,
}
OTHER_KINDS: Final = (
    cv2.aruco.DICT_4X4_1000,
    cv2.aruco.DICT_5X5_1000,
    cv2.aruco.DICT_6X6_1000,
    cv2.aruco.DICT_7X7_1000,
    cv2.aruco.DICT_APRILTAG_36h11,
)


@dataclass(frozen=True, eq=False)
class FoundCard:
    """A card in a photograph. Places on it are those of the print as measured."""

    layout: Layout
    shape_px: tuple[int, int]
    plane: Plane
    lens: Lens  # what was known of it beforehand
    print_factor: float  # how much larger than drawn it was printed
    places_mm: Floats  # (n, 2) of the fine marks used
    points_px: Floats  # (n, 2) where they are seen
    markers_seen: int
    spot_mm: Floats  # (2,) where the scale holds: the window's middle; with a strip the picture's middle
    mm_per_px: float  # at the card's plane, at that spot
    fit_err_share: float  # its uncertainty from the marks and the unknown lens, as a share
    print_err_share: float  # and from the print
    tilt_degrees: float  # of the camera's axis against the upright over the card
    tilt_err_degrees: float
    view_cosine: float  # of the angle from the upright at which that spot is seen
    view_cosine_err: float
    view_along: float  # direction on the card along which it is seen, radians from the x axis to the y axis
    camera_height_mm: float  # of the lens over the card; NaN where neither focal length nor perspective tells it
    camera_height_err_mm: float
    nearest_mm: float = 0.0  # the least height that the card's perspective leaves open
    top_mm: float = 0.0  # a print has no height
    top_err_mm: float = 0.0

    @property
    def mm_per_px_err(self) -> float:
        """One standard uncertainty of the scale."""
        return self.mm_per_px * math.hypot(self.fit_err_share, self.print_err_share)

    @property
    def rms_px(self) -> float:
        """Root mean square distance of the fine marks, each direction, from where the plane has them."""
        return float(np.sqrt(np.mean((self.plane.seen_px(self.places_mm) - self.points_px) ** 2)))


def find_card(
    codes: Codes, *, printed_mm: float | None = None, lens: Lens | None = None, name: str = "the photograph"
) -> FoundCard:
    """Find the scale card.

    Parameters
    ----------
    codes
        (rows, cols) or (rows, cols, 3), uint8 or uint16.
    printed_mm
        The check length as measured on the print; None for a print that nobody measured.
    lens
        From a lens file or the focal length noted in the photograph; None where nothing is known.
    name
        Of the photograph, for errors.

    Raises
    ------
    InputError
        The printed length is absurd, or the lens is that of another picture.
    PhotoError
        There is no card, one of another kind, or too little of it is seen.
    """
    factor = _print_factor(printed_mm)
    shape = (int(codes.shape[0]), int(codes.shape[1]))
    lens = lens_from_focal(math.nan, shape) if lens is None else lens_for(lens, shape, name=name)
    grey = _grey(codes)
    layout, corners = _seen_markers(grey, name)
    plane, used, points = _plane_of(grey, layout, corners, factor, lens)
    places = layout.fine_marks[used] * factor
    if len(points) < LEAST_MARKS or not _is_spread(places):
        raise PhotoError(
            f"{name}: {len(points)} fine marks of the card are sharp enough, and {LEAST_MARKS} are needed on both "
            "sides of it: show more of the card, in focus"
        )
    spot = np.zeros(2) if layout.hole else plane.place_mm(np.array(lens.centre_px))
    scale, fit_err = plane.mm_per_px(spot)
    tilt, height = plane.tilt_and_height(spot)
    height_mm, height_err_mm, nearest_mm = _heights(plane, lens, height)
    cosine, away, along = plane.view(spot)
    focal_share = lens.focal_err_px / lens.focal_px
    return FoundCard(
        layout=layout,
        shape_px=shape,
        plane=plane,
        lens=lens,
        print_factor=factor,
        places_mm=places,
        points_px=points,
        markers_seen=len(corners),
        spot_mm=spot,
        mm_per_px=scale,
        fit_err_share=fit_err / scale,
        print_err_share=_print_err_share(printed_mm),
        tilt_degrees=tilt,
        tilt_err_degrees=tilt * focal_share + TILT_ERR_DEGREES,
        view_cosine=cosine,
        view_cosine_err=math.hypot(2.0 * UNEVEN_ERR_SHARE, away**2 * (focal_share if lens.is_known else 0.5)),
        view_along=along,
        camera_height_mm=height_mm,
        camera_height_err_mm=height_err_mm,
        nearest_mm=nearest_mm,
    )


def _heights(plane: Plane, lens: Lens, height_mm: float) -> tuple[float, float, float]:
    """Return the lens's height over the card, NaN if it is open, its uncertainty, and the least that it may be.

    `height_mm` is that at the focal length with which the plane was fitted.
    """
    if lens.is_known:
        return height_mm, height_mm * lens.focal_err_px / lens.focal_px, 0.0
    least, most = (height_mm * share for share in focal_shares(plane, UNEVEN_ERR_SHARE))
    if most > MOST_OPEN * least:
        return math.nan, math.nan, least
    return (least + most) / 2, (most - least) / (2.0 * LIMIT), least


def _print_err_share(printed_mm: float | None) -> float:
    """Return the standard uncertainty of the print's size, as a share."""
    return math.hypot((UNMEASURED_ERR_MM if printed_mm is None else READING_ERR_MM) / CHECK_MM, UNEVEN_ERR_SHARE)


def _print_factor(printed_mm: float | None) -> float:
    """Return how much larger than drawn the card was printed."""
    least, most = PRINTED_MM
    if printed_mm is not None and not least <= printed_mm <= most:
        raise InputError(
            f"--printed {printed_mm:g}mm is no print of the {CHECK_MM:g} mm check length: measure it again, or print "
            f"the card at actual size (between {least:g} and {most:g} mm can be corrected)"
        )
    return 1.0 if printed_mm is None else printed_mm / CHECK_MM


def _grey(codes: Codes) -> Grey:
    """Return the photograph as one layer of 8 bits."""
    grey: NDArray[Any] = codes if codes.ndim == 2 else cv2.cvtColor(codes, cv2.COLOR_BGR2GRAY)  # noqa: PLR2004
    return np.asarray(grey if grey.dtype == np.uint8 else grey >> 8, np.uint8)


def _seen_markers(grey: Grey, name: str) -> tuple[Layout, dict[int, Floats]]:
    """Return the layout and its markers' corners, (4, 2) px each."""
    best: tuple[Layout | None, dict[int, Floats]] = (None, {})
    longest = max(grey.shape)
    for side in _sizes(longest):
        found = _detected(grey, longest / side)
        layout = layout_of(found)
        found = {number: found[number] for number in found if layout and number in layout.markers}
        if len(found) >= len(best[1]):
            best = (layout, found)
        if layout and len(found) >= LEAST_MARKERS and _is_all(layout, found, side / longest):
            break
    layout, found = best
    if layout is None or len(found) < LEAST_MARKERS:
        raise PhotoError(_no_card_line(grey, name, layout, len(found)))
    return layout, found


def _is_all(layout: Layout, found: dict[int, Floats], share: float) -> bool:
    """Say whether a larger picture, this one reduced to `share`, would hardly show more markers."""
    return len(found) >= MOST_SHARE * len(layout.markers) or _side_px(found) * share >= LARGE_ENOUGH_PX


def _sizes(longest: int) -> Iterator[int]:
    """Give the longer sides of the pictures to look for markers in."""
    yield from (side for side in LONGEST_PX if side < longest)
    yield longest
    if longest < MOST_DOUBLED_PX:
        yield 2 * longest


def _side_px(found: dict[int, Floats]) -> float:
    """Return the usual side of a marker."""
    return float(np.median([np.linalg.norm(corners[0] - corners[2]) for corners in found.values()]) / 2**0.5)


def _detected(grey: Grey, factor: float, kind: cv2.aruco.Dictionary | None = None) -> dict[int, Floats]:
    """Return the corners of every marker in the picture reduced by `factor`, in px of the whole picture."""
    small = grey
    if factor != 1.0:
        size = tuple(round(side / factor) for side in grey.shape[::-1])
        how = cv2.INTER_AREA if factor > 1.0 else cv2.INTER_CUBIC
        small = np.asarray(cv2.resize(grey, size, interpolation=how), np.uint8)
    settings = cv2.aruco.DetectorParameters()
    for key, value in DETECTION.items():
        setattr(settings, key, value)
    detector = cv2.aruco.ArucoDetector(kind or dictionary(), settings)
    corners, ids, _ = detector.detectMarkers(small)
    if ids is None:
        return {}
    stretch = np.array(grey.shape[::-1]) / small.shape[::-1]
    places = [(np.asarray(quad, np.float64).reshape(4, 2) + 0.5) * stretch - 0.5 for quad in corners]
    return dict(zip((int(number) for number in np.ravel(ids)), places, strict=True))


def _no_card_line(grey: Grey, name: str, layout: Layout | None, seen: int) -> str:
    """Return why there is no card."""
    factor = max(1.0, max(grey.shape) / LONGEST_PX[0])
    if len(_detected(np.ascontiguousarray(grey[:, ::-1]), factor)) >= LEAST_MARKERS:
        return f"{name} shows the card mirrored: lay it with the print up, and do not flip the photograph"
    if layout is not None:
        return (
            f"{name}: {seen} of the card's {len(layout.markers)} markers are seen, and {LEAST_MARKERS} are needed: "
            "show more of the card, in focus and evenly lit"
        )
    others = (_detected(grey, factor, cv2.aruco.getPredefinedDictionary(kind)) for kind in OTHER_KINDS)
    if any(len(found) >= LEAST_MARKERS for found in others):
        return f"{name} shows a card of another kind: print one with bubblegrade card"
    return (
        f"{name}: no scale card is found (0 markers seen, {LEAST_MARKERS} needed): show the card from above, "
        "in focus and evenly lit"
    )


def _plane_of(
    grey: Grey, layout: Layout, corners: dict[int, Floats], factor: float, lens: Lens
) -> tuple[Plane, NDArray[np.bool_], Floats]:
    """Return the card's plane, which fine marks were used, and where they are seen."""
    known = np.concatenate([layout.markers[number] * factor for number in corners])
    plane = fit_plane(known, np.concatenate(list(corners.values())), lens)
    marks = layout.fine_marks * factor
    used, points = placed_marks(grey, plane, marks, layout, factor)
    for _ in range(ROUNDS):
        if used.sum() < LEAST_MARKS or not _is_spread(marks[used]):
            break
        plane = fit_plane(marks[used], points[used], lens)
        used, points = placed_marks(grey, plane, marks, layout, factor)
        used &= agreeing(plane, marks, points)
    if used.sum() >= LEAST_MARKS and _is_spread(marks[used]):
        plane = fit_plane(marks[used], points[used], lens)
    return plane, used, points[used]


def _is_spread(places: Floats) -> bool:
    """Say whether places lie far enough from one line."""
    if len(places) < LEAST_MARKS:
        return False
    short, long = np.sqrt(np.linalg.eigvalsh(np.cov(places.T)))
    return bool(short > LEAST_WIDTH_SHARE * long)
