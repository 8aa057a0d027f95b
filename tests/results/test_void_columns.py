"""The columns of voids.csv and set-aside.csv."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from bubblegrade.grading_run import Casting
from bubblegrade.results.void_columns import set_aside_columns, void_columns

MakeCasting = Callable[..., Casting]
CONTRACT = [
    *("photo", "x_px", "y_px", "diameter_px", "diameter_err_px", "diameter_mm", "diameter_err_mm"),
    *("edge_width_px", "judged", "kind", "contrast", "cut"),
]


def test_the_columns_of_the_contract_come_first_and_in_its_order(known_casting: MakeCasting) -> None:
    assert list(void_columns([known_casting()])) == CONTRACT
    assert list(set_aside_columns([known_casting()])) == [*CONTRACT, "reason"]


def test_the_error_in_mm_holds_that_of_the_scale(known_casting: MakeCasting) -> None:
    # 16 px at 0.05(5) mm per px, known to 0.2 px: 0.2 x 0.05 = 0.01 and 16 x 0.0005 = 0.008 mm in quadrature
    columns = void_columns([known_casting()])
    assert columns["diameter_mm"][1] == pytest.approx(0.8)
    assert columns["diameter_err_mm"][1] == pytest.approx(np.hypot(0.01, 0.008))


def test_millimetres_are_unknown_without_a_scale(known_casting: MakeCasting) -> None:
    columns = void_columns([known_casting(scale=None)])
    assert np.isnan(columns["diameter_mm"]).all()
    assert np.isnan(columns["diameter_err_mm"]).all()


def test_castings_stand_one_below_the_other(known_casting: MakeCasting, empty_casting: MakeCasting) -> None:
    columns = void_columns([known_casting(photo="a.jpg"), empty_casting(), known_casting(photo="b.jpg")])
    assert columns["photo"].tolist() == ["a.jpg"] * 3 + ["b.jpg"] * 3


def test_nothing_found_has_the_same_columns(empty_casting: MakeCasting) -> None:
    for columns in (void_columns([empty_casting()]), void_columns([])):
        assert list(columns) == CONTRACT
        assert all(len(column) == 0 for column in columns.values())
