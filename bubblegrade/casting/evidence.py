"""Whether light holds an outline: the growth of the light across it, from inside to outside, against its noise.

At an edge of a casting the light outside is brighter all the way around: by what the resin takes, or after the dark
line that a curved flank draws. A line that follows noise, a ripple or nothing at all has no such step.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from bubblegrade.casting.edge import Points, outward

Image = NDArray[np.float32]

POINTS: Final = 256  # of an outline that are looked at
OVER: Final = 3  # points to both sides over which a normal is averaged
REACH: Final = 12.0  # coarse px to both sides of the outline that are looked at
EVERY: Final = 0.5  # coarse px between the places along a normal
STRIP: Final = 4  # places: the light inside and outside is averaged over so many
RUN: Final = 9  # points along the outline over which a step is averaged
BESIDE: Final = (4.5, 11.0)  # coarse px from the outline: what changes there is noise and ripple
LEAST_NOISE: Final = 0.0005  # natural log: codes of 8 bit are no finer
SURE: Final = 2.0  # times the noise: such a step is there
SLACK: Final = 1.5  # coarse px: the step may lie so far from the outline
EXACT: Final = 0.5  # coarse px: an outline that lies right on the step is as near as this
AROUND: Final = 4.0  # coarse px: where a step is twice as strong as on the outline, the edge is there
MARGIN: Final = 0.01  # of full light: added before the logarithm


@dataclass(frozen=True, eq=False)
class Evidence:
    """How the light grows across an outline, where the frame does not cut it."""

    growth: Image  # (N, places) natural log, outwards
    off: NDArray[np.float64]  # (places,) coarse px outwards of the outline
    noise: float  # of that growth, beside the outline

    @cached_property
    def held_share(self) -> float:
        """Share of the outline that has a step of light beyond the noise; NaN where the frame cuts all of it."""
        return _share(self._most(SLACK) > SURE * self.noise)

    @property
    def seen_share(self) -> float:
        """Share of the outline that the frame does not cut."""
        return len(self.growth) / POINTS

    @cached_property
    def exact_share(self) -> float:
        """Share of the outline that has it right here, and none twice as strong nearby."""
        here = self._most(EXACT)
        return _share((here > 0.5 * self._most(AROUND)) & (here > SURE * self.noise))

    @property
    def step(self) -> float:
        """Usual growth of the light right across the outline."""
        return float(np.median(self._most(EXACT))) if len(self.growth) else float("nan")

    def _most(self, reach: float) -> Image:
        return np.asarray(self.growth[:, np.abs(self.off) <= reach].max(axis=1))


def evidence(coarse: Image, edge_px: Points, step_px: int) -> Evidence:
    """Return how the light grows across an outline.

    Parameters
    ----------
    coarse
        (rows, cols) linear light.
    edge_px
        (N, 2) x, y in px of the photograph.
    step_px
        Side of a coarse pixel.
    """
    line = spaced((edge_px + 0.5) / step_px - 0.5)
    off = np.arange(-REACH, REACH + EVERY / 2, EVERY)
    growth = growth_across(coarse, line, off, strip=STRIP, run=RUN)
    beside = (off >= BESIDE[0]) & (off <= BESIDE[1])
    uncut = ((line >= AROUND) & (line <= np.array(coarse.shape[::-1]) - 1 - AROUND)).all(axis=1)
    return Evidence(growth[uncut], off, noise_of(growth[:, beside]))


def spaced(line: Points) -> Points:
    """Return POINTS points at even distances along a closed line of (N, 2) x, y."""
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*(np.roll(line, -1, axis=0) - line).T))])
    at = np.arange(POINTS) / POINTS * along[-1]
    return np.stack([np.interp(at, along, np.append(part, part[0])) for part in line.T], axis=1)


def growth_across(coarse: Image, line: Points, off: NDArray[np.float64], *, strip: int, run: int) -> Image:
    """Return how the light grows outwards at `off` from each point of a closed line, (N, places), natural log.

    Compared are `strip` places on both sides, averaged over `run` points of the line.
    """
    at = line[:, None, :] + off[None, :, None] * outward(line, OVER)[:, None, :]
    profile = cv2.remap(
        coarse, at[..., 0].astype(np.float32), at[..., 1].astype(np.float32), cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )  # fmt: skip
    sides = np.repeat(np.array([-1.0, 0.0, 1.0], np.float32) / strip, (strip, 1, strip))
    grown = cv2.filter2D(
        np.log(np.maximum(profile, 0) + np.float32(MARGIN)), -1, sides[None], borderType=cv2.BORDER_REPLICATE
    )
    return np.asarray(cv2.blur(np.concatenate([grown[-run:], grown, grown[:run]]), (1, run))[run:-run], np.float32)


def noise_of(growth: Image) -> float:
    """Return a robust standard deviation of growth that is none, natural log."""
    return max(1.4826 * float(np.median(np.abs(growth))), LEAST_NOISE)


def _share(there: NDArray[np.bool_]) -> float:
    return float(there.mean()) if len(there) else float("nan")
