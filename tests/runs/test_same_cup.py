"""One cup photographed twice is one cup."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from bubblegrade.grading_run import Casting
from bubblegrade.results.entry import entry_of
from bubblegrade.runs.same_cup import Shown, left_out, shown
from bubblegrade.voids.table import Voids

ROUND = np.linspace(0.0, 2.0 * np.pi, 90, endpoint=False)


def cup(photo: str, *, seed: int, voids: int = 60, turn: float = 0.0, zoom: float = 1.0, share: float = 1.0) -> Shown:
    """Return a round cup with voids at places of its own, turned, nearer, and with a share of its voids found."""
    rng = np.random.default_rng(seed)
    places = 280.0 * np.sqrt(rng.random(voids)) * np.exp(2j * np.pi * rng.random(voids))
    sizes = 10.0 * np.exp(0.5 * rng.standard_normal(voids))
    kept = np.random.default_rng(7).random(voids) < share
    seen = (zoom * np.exp(1j * turn) * places + complex(400.0, 400.0) * zoom)[kept]
    edge = zoom * (400.0 + 300.0 * np.column_stack([np.cos(ROUND), np.sin(ROUND)]))
    table = Voids.of(x_px=seen.real, y_px=seen.imag, diameter_px=zoom * sizes[kept])
    return Shown(photo, "0 psi", table, edge, (round(800 * zoom), round(800 * zoom)))


def test_a_cup_photographed_again_is_known_by_its_voids_however_it_lies() -> None:
    first = cup("a.jpg", seed=1)
    again = [
        cup("b.jpg", seed=1, turn=2.0),
        cup("c.jpg", seed=1, turn=-0.4, zoom=1.3),
        cup("d.jpg", seed=1, turn=0.7, share=0.85),
    ]
    left = left_out([first, *again])
    assert list(left) == ["b.jpg", "c.jpg", "d.jpg"]
    assert left["b.jpg"].startswith("b.jpg shows the cup of a.jpg again and is left out: a cup counts once")


def test_cups_that_differ_are_cups() -> None:
    for voids in (12, 20, 60):
        assert left_out(cup(f"{seed}.jpg", seed=seed, voids=voids) for seed in range(25)) == {}


def test_of_a_cup_given_for_two_pressures_no_photograph_counts() -> None:
    first, other = cup("a.jpg", seed=1), cup("b.jpg", seed=2)
    wrong = replace(cup("c.jpg", seed=1, turn=1.0, zoom=0.8), setting="60 psi")
    left = left_out([first, other, wrong])
    assert set(left) == {"a.jpg", "c.jpg"}
    assert set(left.values()) == {
        "c.jpg at 60 psi shows the cup of a.jpg at 0 psi, and both are left out: a cup gelled at one pressure, keep "
        "the right one."
    }


def test_few_voids_tell_nothing_and_the_same_places_with_smaller_voids_are_another_cup() -> None:
    assert left_out([cup("a.jpg", seed=1, voids=8), cup("b.jpg", seed=1, voids=8)]) == {}
    first = cup("a.jpg", seed=1)
    squeezed = replace(first, photo="b.jpg", voids=replace(first.voids, diameter_px=0.8 * first.voids.diameter_px))
    assert left_out([first, squeezed]) == {}
    bare = [replace(cup(name, seed=1), edge_px=np.empty((0, 2))) for name in ("a.jpg", "b.jpg")]
    assert left_out(bare) == {}


def test_what_a_casting_shows_is_taken_from_its_record(known_casting: Callable[..., Casting]) -> None:
    voids = Voids.of(x_px=[60.0], y_px=[70.0], diameter_px=[8.0])
    found = shown(entry_of(known_casting(voids=voids)).record, "0 psi")
    assert (found.setting, found.voids.x_px.tolist(), found.edge_px.shape[1]) == ("0 psi", [60.0], 2)
