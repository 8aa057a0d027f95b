"""The table of voids: same columns whatever is in it."""

from __future__ import annotations

from dataclasses import fields

import numpy as np

from bubblegrade.voids.table import KINDS, Voids, stacked


def three() -> Voids:
    """Return a table of three voids."""
    return Voids.of(x_px=[1, 2, 3], y_px=[4, 5, 6], diameter_px=[7, 8, 9], cut=[True, False, False])


def test_a_table_of_nothing_has_the_columns_and_types_of_any_other() -> None:
    none, some = Voids.none(), three()
    assert len(none) == 0
    for field in fields(Voids):
        assert getattr(none, field.name).dtype == getattr(some, field.name).dtype
        assert len(getattr(some, field.name)) == 3


def test_what_is_not_stated_is_not_known_and_a_void_is_judged_whole_and_a_void() -> None:
    row = Voids.of(x_px=[1.0], y_px=[2.0], diameter_px=[3.0])
    assert np.isnan([row.diameter_err_px, row.edge_width_px, row.contrast]).all()
    assert (row.judged[0], row.cut[0], row.kind[0], row.reason[0]) == (True, False, "void", "")
    assert "void" in KINDS


def test_rows_are_chosen_by_mask_by_place_and_by_slice() -> None:
    table = three()
    assert table[table.diameter_px > 7].x_px.tolist() == [2, 3]
    assert table[np.array([2, 0])].x_px.tolist() == [3, 1]
    assert table[:1].cut.tolist() == [True]


def test_tables_are_stacked_in_order() -> None:
    both = stacked([three(), Voids.none(), three()[:1]])
    assert both.x_px.tolist() == [1, 2, 3, 1]
    assert len(stacked([])) == 0
    assert len(stacked([Voids.none()])) == 0
