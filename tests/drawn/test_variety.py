"""Variety: specs are wide, reproducible, and show the whole casting."""

from pathlib import Path

import numpy as np
import pytest

from bubblegrade.drawn.spec import Spec
from bubblegrade.drawn.variety import main, training_specs


@pytest.fixture(scope="module")
def specs() -> list[Spec]:
    return training_specs(400, 7)


def test_the_first_specs_do_not_depend_on_how_many_are_asked_for(specs: list[Spec]) -> None:
    assert training_specs(3, 7) == specs[:3]


def test_different_seeds_share_no_name_and_no_casting(specs: list[Spec]) -> None:
    others = training_specs(400, 8)
    assert not {s.name for s in specs} & {s.name for s in others}
    assert not {(s.radius, s.height) for s in specs} & {(s.radius, s.height) for s in others}


def test_bodies_come_in_their_shares_to_six_per_cent(specs: list[Spec]) -> None:
    shares = {body: np.mean([s.body == body for s in specs]) for body in ("puck", "slab", "cup", "lure")}
    assert shares == pytest.approx({"puck": 0.45, "slab": 0.12, "cup": 0.18, "lure": 0.25}, abs=0.06)


def test_some_castings_have_no_void_and_some_have_hundreds(specs: list[Spec]) -> None:
    voids = np.array([s.voids for s in specs])
    assert 0.03 < np.mean(voids == 0) < 0.14
    assert voids.max() > 300


def test_every_casting_fits_the_frame_and_fills_a_fair_part_of_it(specs: list[Spec]) -> None:
    for spec in specs:
        turn = np.radians(spec.roll if spec.body in ("lure", "slab") else 0.0)
        reach_x, reach_y = spec.reach_mm
        nearer = (spec.camera - spec.middle_mm) / (spec.camera - spec.top_mm)
        wide = 2 * nearer * (reach_x * abs(np.cos(turn)) + reach_y * abs(np.sin(turn)))
        high = 2 * nearer * (reach_x * abs(np.sin(turn)) + reach_y * abs(np.cos(turn)))
        filled = max(wide / spec.view, high / (spec.view * spec.height_px / spec.width_px))
        assert 0.4 < filled < 0.95, spec


def test_the_command_line_with_nothing_to_trace_writes_nothing(tmp_path: Path) -> None:
    main(["--count", "0", "--seed", "1", "--out", str(tmp_path), "--part", "1/2"])
    assert list(tmp_path.iterdir()) == []


def test_castings_with_large_voids_hold_few_of_them() -> None:
    large = training_specs(100, 6, large=True, body="lure")
    assert {s.body for s in large} == {"lure"}
    assert max(s.voids for s in large) <= 30
    assert np.median([s.median_mm for s in large]) > 0.8
    assert all(s.median_mm <= max(0.5, 0.2 * s.height) + 1e-4 for s in large)


def test_detailed_pictures_are_large_and_their_voids_wide() -> None:
    detailed = training_specs(60, 6, detailed=True)
    assert min(max(s.width_px, s.height_px) for s in detailed) >= 2400
    assert all(10 <= s.voids <= 600 for s in detailed)
    assert np.median([s.median_mm * s.width_px / s.view for s in detailed]) > 20
