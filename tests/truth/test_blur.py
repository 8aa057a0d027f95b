"""Blur raises the smallest countable size: below it voids read far too large, and pass for ones that count."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import numpy as np
import pytest

from bubblegrade.drawn.pictures import Drawn
from bubblegrade.drawn.spoiled import defocused
from bubblegrade.fitness.sharpness import countable_in_blur_px
from bubblegrade.grading_run import Casting

FOUND: Final = 0.8  # of the countable voids: 0.9 is aimed at, less what chance takes and what strong blur costs
OFF: Final = 0.10  # median of what the smallest countable sizes are off; 0.2 to 0.3 at 5 px


@pytest.mark.parametrize("blur_px", [0.0, 3.0, 4.0])
def test_countable_voids_are_found_in_blur_and_have_their_size(
    graded: Callable[..., Casting], paired: Callable, of_all_sizes: Drawn, blur_px: float
) -> None:
    drawn = of_all_sizes
    casting = graded(defocused(drawn.picture, blur_px, seed=2) if blur_px else drawn.picture)
    voids, edge, true = casting.voids, casting.fitness.value("edge_width"), drawn.diameter_px
    mine, hit = paired((voids.x_px, voids.y_px, voids.diameter_px), (drawn.x_px, drawn.y_px, true))
    smallest = casting.sizes_px.smallest
    countable = true >= smallest
    found = np.isin(np.flatnonzero(countable), hit)
    small = (voids.diameter_px[mine] >= smallest) & (voids.diameter_px[mine] < 1.6 * smallest)
    off = float(np.median(np.log(voids.diameter_px[mine] / true[hit])[small]))
    print(  # noqa: T201
        f"blur {blur_px:.0f} px, edges {edge:.1f} px: countable from {smallest:.1f} px, {found.mean():.2f} of these "
        f"found, the smallest {100.0 * off:+.1f} % off"
    )
    assert smallest >= countable_in_blur_px(edge)
    assert found.mean() >= FOUND
    assert abs(off) <= OFF
