"""Marks that repeat from piece to piece, and how often chance does that."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from bubblegrade.inspection.mould import SidePlaces, mould_marks, tail

MARK = (0.42, 0.31, 0.03)


def side(number: int, *, voids: int = 8, mark: bool = True, name: str = "") -> SidePlaces:
    """Return a piece's finds: voids anywhere, and the mould's mark to a thousandth of the length."""
    rng = np.random.default_rng([number, 5])
    places = rng.uniform(0.1, 0.9, (voids, 2))
    diameter = rng.uniform(0.02, 0.06, voids)
    if mark:
        places = np.vstack([places, np.array(MARK[:2]) + rng.normal(0.0, 0.001, 2)])
        diameter = np.append(diameter, MARK[2] * (1 + rng.normal(0.0, 0.02)))
    return SidePlaces(f"p{number}", name, places[:, 0], places[:, 1], diameter, 0.35)


def test_the_tail_of_equal_chances_is_the_binomials() -> None:
    for least in range(8):
        assert tail([0.3] * 7, least) == pytest.approx(stats.binom.sf(least - 1, 7, 0.3))


def test_a_mark_on_every_piece_is_the_moulds() -> None:
    (mark,) = mould_marks([side(i) for i in range(5)])
    assert (mark.along, mark.across) == pytest.approx(MARK[:2], abs=0.002)
    assert (mark.pieces, mark.of) == (("p0", "p1", "p2", "p3", "p4"), 5)
    assert mark.by_chance < 1e-3


def test_two_pieces_are_too_few_and_so_is_less_than_half() -> None:
    assert mould_marks([side(i) for i in range(2)]) == ()
    assert mould_marks([side(i, mark=i < 3) for i in range(8)]) == ()
    assert len(mould_marks([side(i, mark=i < 7) for i in range(8)])) == 1


def test_sides_are_compared_apart() -> None:
    assert mould_marks([side(i, name=("left", "right")[i % 2]) for i in range(4)]) == ()
    found = mould_marks([side(i, name=("left", "right")[i % 2], mark=i % 2 == 0) for i in range(8)])
    assert [(mark.side, len(mark.pieces)) for mark in found] == [("left", 4)]


@pytest.mark.long
def test_chance_seldom_makes_a_mark_even_of_crowded_pieces() -> None:
    found = [mould_marks([side(100 * batch + i, voids=60, mark=False) for i in range(6)]) for batch in range(40)]
    assert sum(map(bool, found)) <= 1


def test_nothing_found_is_no_mark() -> None:
    assert mould_marks([]) == ()
    assert mould_marks([side(i, voids=0, mark=False) for i in range(4)]) == ()
