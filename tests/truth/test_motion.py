"""Motion raises the smallest countable size, as blur does: voids that are drawn out over it are not found."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import numpy as np
import pytest

from bubblegrade.drawn.pictures import Drawn
from bubblegrade.drawn.spoiled import moved
from bubblegrade.fitness.sharpness import countable_in_motion_px
from bubblegrade.grading_run import Casting

FOUND: Final = 0.85  # of the countable voids: 0.9 is aimed at, less what chance takes of some fifty


@pytest.mark.parametrize("length_px", [0.0, 6.0, 8.0, 10.0, 12.0])
def test_most_countable_voids_are_found_however_far_the_casting_moved(
    graded: Callable[..., Casting], paired: Callable, of_all_sizes: Drawn, length_px: float
) -> None:
    drawn = of_all_sizes
    picture = moved(drawn.picture, length_px, degrees=35.0, seed=2) if length_px else drawn.picture
    casting = graded(picture)
    voids, motion, true = casting.voids, casting.fitness.value("motion"), drawn.diameter_px
    _, hit = paired((voids.x_px, voids.y_px, voids.diameter_px), (drawn.x_px, drawn.y_px, true))
    smallest = casting.sizes_px.smallest
    countable = true >= smallest
    found = np.isin(np.flatnonzero(countable), hit)
    print(  # noqa: T201
        f"moved by {length_px:.0f} px, measured {motion:.1f}: countable from {smallest:.1f} px, "
        f"{found.mean():.2f} of these found, {len(hit) / len(true):.2f} of all"
    )
    assert found.mean() >= FOUND
    assert smallest >= countable_in_motion_px(motion)
    assert countable.sum() > 40
