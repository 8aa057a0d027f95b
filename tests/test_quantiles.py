"""Quantiles by one partial sort, against numpy's own."""

from __future__ import annotations

import numpy as np
import pytest

from bubblegrade.quantiles import median, quantile


@pytest.mark.parametrize("count", [1, 2, 3, 10, 1001])
@pytest.mark.parametrize("share", [0.0, 0.02, 0.25, 0.5, 0.9, 1.0])
def test_quantiles_are_those_of_numpy(count: int, share: float) -> None:
    values = np.random.default_rng(count).normal(size=(count, 1)).round(1)  # some are equal
    assert quantile(values, share) == pytest.approx(float(np.quantile(values, share)), abs=1e-12)


def test_the_middle_of_nothing_is_not_known() -> None:
    assert np.isnan(median(np.empty(0)))
