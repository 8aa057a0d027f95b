"""Sharpness in the casting: how wide its edges are, motion, and a second exposure."""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from bubblegrade.fitness.check import UNMEASURED, Fitness, Limit, Measured, Place, Test
from bubblegrade.fitness.edges import Edges
from bubblegrade.fitness.noise import countable_in_noise_px
from bubblegrade.fitness.places import box
from bubblegrade.fitness.smear import LENGTHS, smear_of
from bubblegrade.fitness.twin import twin_of
from bubblegrade.fitness.view import View

MOVED_PX: Final = (4.5, 14.0)  # motion, and
COUNTABLE_PX: Final = (6.0, 20.0)  # the diameters from which on 90 % of the voids are found in such photographs
BLURRED_PX: Final = (3.5, 5.0)  # edge width as measured, which blur of 2.5 and 4 px makes (standard deviation), and
COUNTABLE_BLURRED_PX: Final = (6.0, 9.0)  # diameters from which on sizes hold there; below, they read 10 to 30 % large
SOFT_PX: Final = (1.4, 2.8)  # blur of the rings of voids, standard deviation, and
COUNTABLE_SOFT_PX: Final = (5.0, 15.0)  # the diameters from which on 90 % of the voids of a sharp photograph are found
DISC_BLURS: Final = 0.6  # of its radius R: a disc and a Gaussian both leave 0.2 of the detail at 0.49 / R
PARTLY_PX: Final = 2.0  # blur of a part beyond that of the rest: of 191 photographs none shows more than 1.8
UNFIT_WIDTH_PX: Final = 5.0  # edge width in castings of this size or a smaller one, and
USUAL_SIZE_PX: Final = 1100.0  # root of its area: larger ones bear as many times more, as voids are larger in them
THINNED: Final = (2, 4)  # squares of so many px each way: wide edges that tiles do not show are looked for in them,
GROSS: Final = (
    4.5  # and the least width there, in squares, that tells of blur: none of 353 photographs that are fit shows it
)
GAUSSIAN_SLOPE: Final = 1.02  # slope of an edge times its width over its height at most, as of a Gaussian's
TOO_LITTLE: Final = "too little detail is seen in the casting"


def edge_width(view: View) -> Measured:
    """Measure the 10 to 90 % width of the sharper edges in the casting."""
    edges = view.edges
    if math.isnan(view.blur_px):
        edges = _gross(view) or edges
    width = edges.width_px
    if math.isnan(width):
        return Measured(width, TOO_LITTLE)
    corners = (float(edges.x_px.min()), float(edges.y_px.min()), float(edges.x_px.max()), float(edges.y_px.max()))
    unfit = math.nan if math.isnan(view.blur_px) else UNFIT_WIDTH_PX * _larger(view)  # the rings tell what edges do not
    return Measured(width, f"edges in the casting are {width:.1f} px wide or more", box(*corners), unfit)


def _gross(view: View) -> Edges | None:
    """Return edges so wide that only a thinned picture shows them, None where there are none or sharper ones.

    Blurred by more than a tile's margin, edges hardly rise above the noise, which is then taken for sharp ones.
    """
    if view.edges.steepest > GAUSSIAN_SLOPE / (THINNED[0] * GROSS):
        return None
    thinned = {thin: view.edges_thinned(thin) for thin in THINNED if thin <= view.outline.step_px}
    gross = [edges for thin, edges in thinned.items() if edges.width_px > thin * GROSS]
    return max(gross, key=lambda edges: edges.width_px, default=None)


def void_blur(view: View) -> Measured:
    """Measure the standard deviation of the blur that the rings of voids show."""
    if not math.isnan(view.disc_px):
        said = f"the lens, out of focus, drew each point as a disc of {view.disc_px:.1f} px in radius"
        return Measured(DISC_BLURS * view.disc_px, said)
    if math.isnan(view.blur_px):
        return Measured(math.nan, UNMEASURED)
    return Measured(view.blur_px, f"voids are blurred by {view.blur_px:.2f} px")


def partial_blur(view: View) -> Measured:
    """Measure the standard deviation of the blur that voids beside one another have beyond that of the sharper ones."""
    softest = view.softest
    if math.isnan(softest.further_px):
        return Measured(math.nan, UNMEASURED)
    (left, top), (right, bottom) = softest.at_px.min(axis=0), softest.at_px.max(axis=0)
    said = f"a part of the photograph is blurred by {softest.further_px:.1f} px or more beyond the rest"
    return Measured(softest.further_px, said, box(left, top, right, bottom))


def motion(view: View) -> Measured:
    """Measure the length over which the casting moved during the exposure."""
    smear = smear_of(view.detail, view.fade)
    if math.isnan(smear.direction):
        return Measured(math.nan, TOO_LITTLE)
    if math.isnan(smear.length_px):
        return Measured(math.nan, "what is seen in the casting lies along one direction, as motion would draw it")
    top, left, side = view.window
    half = side / 4 * np.array([math.cos(smear.direction), math.sin(smear.direction)])
    middle = np.array([left + side / 2, top + side / 2])
    more = "" if smear.notched and smear.length_px < LENGTHS[-1] else " or more"
    said = f"the casting moved by about {smear.length_px:.0f} px{more} during the exposure"
    return Measured(smear.length_px, said, Place("line", (np.stack([middle - half, middle + half]),)))


def countable_px(fitness: Fitness) -> float:
    """Return the diameter in px from which on motion, blur and noise leave voids to be found, and their sizes right."""
    return max(
        countable_in_noise_px(fitness.value("noise")),
        countable_in_motion_px(fitness.value("motion")),
        countable_in_blur_px(fitness.value("edge_width")),
        countable_in_void_blur_px(fitness.value("void_blur")),
    )


def countable_in_motion_px(motion_px: float) -> float:
    """Return the diameter in px from which on 90 % of the voids are found in a photograph with this motion.

    0 where motion, or what it cannot be told by, leaves that to contrast, noise and blur.

    >>> round(countable_in_motion_px(9.0), 1), countable_in_motion_px(3.0), countable_in_motion_px(math.nan)
    (10.6, 0.0, 0.0)
    """
    return _countable(motion_px, MOVED_PX, COUNTABLE_PX)


def countable_in_blur_px(edge_width_px: float) -> float:
    """Return the diameter in px from which on voids are found, and of the size they have, where edges are so wide.

    0 where edges are sharper, or cannot be told.

    >>> countable_in_blur_px(5.0), countable_in_blur_px(3.0), countable_in_blur_px(math.nan)
    (9.0, 0.0, 0.0)
    """
    return _countable(edge_width_px, BLURRED_PX, COUNTABLE_BLURRED_PX)


def countable_in_void_blur_px(blur_px: float) -> float:
    """Return the diameter in px from which on 90 % of the voids are found that a sharp photograph shows.

    0 where the voids' blur is less, or cannot be told.

    >>> [round(countable_in_void_blur_px(blur), 1) for blur in (1.4, 2.0, 2.8, 4.0, math.nan)]
    [0.0, 8.0, 15.0, 21.4, 0.0]
    """
    return _countable(blur_px, SOFT_PX, COUNTABLE_SOFT_PX)


def _countable(value: float, between: tuple[float, float], sizes_px: tuple[float, float]) -> float:
    """Return the diameter that goes with a value: 0 up to the lower one, in proportion to it beyond the upper one."""
    if not value > between[0]:
        return 0.0
    beyond = max(value / between[1], 1.0)
    return float(round(beyond * np.exp(np.interp(value, between, np.log(sizes_px))), 6))


def second_exposure(view: View) -> Measured:
    """Measure the share of the light that a second, shifted picture of the casting has."""
    twin = twin_of(view.detail * view.fade)
    if math.isnan(twin.share):
        return Measured(math.nan, TOO_LITTLE)
    top, left, side = view.window
    where = box(left, top, left + side - 1, top + side - 1)
    return Measured(twin.share, f"everything is seen twice, {twin.shift_px:.0f} px apart", where)


def _larger(view: View) -> float:
    """Return how many times the casting is larger than the usual one in pixels, at least 1."""
    return max(math.sqrt(view.outline.area_px) / USUAL_SIZE_PX, 1.0)


TESTS: Final = (
    Test(
        "edge_width", "width of edges, 10 to 90 %", "px", Limit(3.5, UNFIT_WIDTH_PX),
        "voids under 9 px come out up to 8 % too large and the smallest are not found",
        "focus on the casting's middle and close the aperture", edge_width,
    ),
    Test(
        "void_blur", "blur of voids", "px", Limit(1.8, 5.0),
        "the smallest voids are not found and others come out up to 8 % off",
        "focus on the casting's middle and close the aperture, or go nearer", void_blur,
    ),
    Test(
        "partial_blur", "blur of a part beyond the rest", "px", Limit(PARTLY_PX, 5.0),
        "voids there of more than the smallest countable size are not found, and others come out up to 5 % off",
        "wipe the lens, hold the camera level and close the aperture", partial_blur,
    ),
    Test(
        "motion", "motion during the exposure", "px", Limit(5.5, 12.0),
        "voids come out longer along it and the smallest are not found",
        "put the camera on a stand and use its timer", motion,
    ),
    Test(
        "second_exposure", "light of a second, shifted picture", "share", Limit(0.15, 0.15),
        "every void is counted twice or taken for another kind",
        "put the camera on a stand and switch its stacking and wide-range modes off", second_exposure,
    ),
)  # fmt: skip
