"""Where the voids lie, as evidence on what went wrong in casting: each question against random placement.

The voids of a photograph are compared with as many of the same sizes scattered at random over the same ground. Where
they crowd, stand in a line, wreathe the hardware, line the wall or float at the top more than chance would have it,
the pattern speaks for a cause. Of random patterns at most 5 in 100 raise any alarm, whatever the outline.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bubblegrade.grading.pattern_causes import suspects
from bubblegrade.grading.pattern_chance import Chance, Scatter, Score, against_chance, holm, scattered
from bubblegrade.grading.pattern_ground import Ground
from bubblegrade.grading.pattern_lines import Lines
from bubblegrade.grading.pattern_record import (
    FALSE_ALARMS,
    LEAST_VOIDS,
    Answer,
    Cause,
    Pattern,
    Place,
    Question,
    Suspect,
)
from bubblegrade.grading.pattern_scores import Bands, Circles, Nearest, Sides

__all__ = [
    "FALSE_ALARMS",
    "LEAST_VOIDS",
    "Answer",
    "Cause",
    "Ground",
    "Pattern",
    "Place",
    "Question",
    "Suspect",
    "void_pattern",
]

Floats = NDArray[np.floating[Any]]

MANY_VOIDS: Final = 500
SIMULATIONS: Final = 499  # p down to 0.002, and 2 random patterns above still clear seven questions at 5 %
SIMULATIONS_OF_MANY: Final = 249  # beyond MANY_VOIDS, to keep the time: p down to 0.004
WIDEST_WREATH: Final = 0.3  # of the ground: a band around hardware that takes in more is no wreath
WIDEST_WALL: Final = 0.4
WIDEST_CRUST: Final = 0.3


@dataclass(frozen=True, eq=False)
class _Asked:
    """The questions that can be asked of a ground."""

    nearest: Nearest
    circles: Circles
    line: Lines
    bands: dict[Question, Bands | Sides]

    @property
    def scores(self) -> dict[str, Score]:
        """Each question's score."""
        return {
            "nearest": self.nearest.score,
            "pairs": self.circles.pairs,
            "clusters": self.circles.fullest,
            "line": self.line.score,
            **{name: band.score for name, band in self.bands.items()},
        }

    def places(self, question: Question, found: Scatter, least: float) -> tuple[Place, ...]:
        """Return where a finding lies; near neighbours and pairs have no place."""
        if question in ("nearest", "pairs"):
            return ()
        if question == "clusters":
            return self.circles.places(found, least)
        return ((self.line if question == "line" else self.bands[question]).place(found),)


def void_pattern(centres_px: ArrayLike, diameters_px: ArrayLike, ground: Ground, *, seed: int) -> Pattern:
    """Return where voids lie on their ground, beside random placement.

    Parameters
    ----------
    centres_px
        (n, 2) x, y of the voids.
    diameters_px
        (n,) of the voids, above 0.
    ground
        Where they could have been found.
    seed
        The same seed gives the same answer.

    Returns
    -------
    One answer for each question that the ground allows: wreath takes hardware, wall a border within the frame.

    Every p holds for voids of these sizes that lie at random over the ground; by Holm's correction over the questions
    at most 5 in 100 such castings raise any alarm. Where the resin is not evenly thick, the ground needs its thickness,
    else thick parts look crowded.
    """
    centres = np.asarray(centres_px, np.float64).reshape(-1, 2)
    diameters = np.asarray(diameters_px, np.float64)
    if diameters.shape != (len(centres),) or not (diameters > 0.0).all():
        raise AssertionError(f"{len(centres)} voids need as many diameters above 0, not {diameters.shape}")
    rows = np.flatnonzero(ground.holds(centres))
    left_out = len(centres) - len(rows)
    if len(rows) < LEAST_VOIDS:
        return Pattern(tuple(_untold(question) for question in _questions(ground)), (), len(rows), left_out)
    most = SIMULATIONS if len(rows) <= MANY_VOIDS else SIMULATIONS_OF_MANY
    answers = _answers(centres[rows], diameters[rows], ground, np.random.default_rng(seed), most)
    named = tuple(_renamed(answer, rows) for answer in answers)
    return Pattern(named, suspects(named), len(rows), left_out)


def _answers(
    centres: Floats, diameters: Floats, ground: Ground, random: np.random.Generator, most: int
) -> tuple[Answer, ...]:
    """Return the answers to all questions, for voids that all lie on the ground."""
    asked = _asked(ground, diameters)
    found = Scatter(centres[np.newaxis])
    chances = against_chance(
        found, lambda count: scattered(ground, diameters, count, random), asked.scores, simulations=most
    )
    questions = _questions(ground)
    corrected = holm([chances[question].p for question in questions])
    return tuple(
        _answer(question, chances[question], float(p), asked, found)
        for question, p in zip(questions, corrected, strict=True)
    )


def _asked(ground: Ground, diameters: Floats) -> _Asked:
    """Return the questions ready to be asked of voids of these sizes."""
    bands: dict[Question, Bands | Sides] = {}
    if ground.from_hardware_px is not None:
        bands["wreath"] = Bands(ground, ground.from_hardware_px, widest=WIDEST_WREATH)
    if ground.from_wall_px is not None:
        bands["wall"] = Bands(ground, ground.from_wall_px, widest=WIDEST_WALL)
    if ground.up is None:
        bands["side"] = Sides(ground, widest=WIDEST_CRUST)
    else:
        bands["top"] = Bands(ground, -ground.along_px(ground.up), widest=WIDEST_CRUST)
    return _Asked(Nearest(ground), Circles(ground, diameters), Lines(ground), bands)


def _questions(ground: Ground) -> tuple[Question, ...]:
    """Return what can be asked of a ground."""
    always: tuple[Question, ...] = ("nearest", "pairs", "clusters", "line")
    wreath: tuple[Question, ...] = ("wreath",) if ground.from_hardware_px is not None else ()
    wall: tuple[Question, ...] = ("wall",) if ground.from_wall_px is not None else ()
    return (*always, *wreath, *wall, "side" if ground.up is None else "top")


def _answer(question: Question, chance: Chance, p_corrected: float, asked: _Asked, found: Scatter) -> Answer:
    """Return a question's answer; the score of 'nearest' is minus the ratio, so that low ratios score high."""
    shown = chance.mirrored() if question == "nearest" else chance
    return Answer(
        question=question,
        value=shown.value,
        expected=shown.expected,
        spread=shown.spread,
        low=shown.low,
        high=shown.high,
        p=shown.p,
        p_corrected=p_corrected,
        simulations=shown.simulations,
        places=asked.places(question, found, chance.high) if p_corrected <= FALSE_ALARMS else (),
    )


def _untold(question: Question) -> Answer:
    """Return the answer where there are too few voids."""
    nan = math.nan
    return Answer(question, nan, nan, nan, nan, nan, nan, nan, 0, ())


def _renamed(answer: Answer, rows: NDArray[np.intp]) -> Answer:
    """Return an answer whose places name the voids by their rows in the arrays that were given."""
    places = tuple(replace(place, voids=tuple(rows[list(place.voids)].tolist())) for place in answer.places)
    return replace(answer, places=places)
