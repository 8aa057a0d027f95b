"""Points that fill a cube evenly."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats.qmc import Sobol

from bubblegrade.pressure.even_points import even_points


@pytest.mark.parametrize("count", [1, 2, 64, 8192])
def test_the_points_are_scipys(count: int) -> None:
    np.testing.assert_array_equal(even_points(count), Sobol(3, scramble=False).random(count))
