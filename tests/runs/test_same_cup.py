"""One cup photographed twice is one cup."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from bubblegrade.grading_run import Casting
from bubblegrade.results.entry import entry_of
from bubblegrade.runs.same_cup import Shown, shown, shown_before, words
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
    assert shown_before([first, *again]) == dict.fromkeys(("b.jpg", "c.jpg", "d.jpg"), "a.jpg")


def test_cups_that_differ_are_cups() -> None:
    for voids in (12, 20, 60):
        assert shown_before(cup(f"{seed}.jpg", seed=seed, voids=voids) for seed in range(25)) == {}


def test_few_voids_tell_nothing_and_another_setting_is_not_asked() -> None:
    assert shown_before([cup("a.jpg", seed=1, voids=8), cup("b.jpg", seed=1, voids=8)]) == {}
    assert shown_before([cup("a.jpg", seed=1), replace(cup("b.jpg", seed=1), setting="60 psi")]) == {}
    bare = [replace(cup(name, seed=1), edge_px=np.empty((0, 2))) for name in ("a.jpg", "b.jpg")]
    assert shown_before(bare) == {}


def test_it_is_said_which_is_left_out(known_casting: Callable[..., Casting]) -> None:
    (line,) = words({"b.jpg": "a.jpg"})
    assert line.startswith("b.jpg shows the cup of a.jpg again and is left out")
    voids = Voids.of(x_px=[60.0], y_px=[70.0], diameter_px=[8.0])
    found = shown(entry_of(known_casting(voids=voids)).record, "0 psi")
    assert (found.setting, found.voids.x_px.tolist(), found.edge_px.shape[1]) == ("0 psi", [60.0], 2)
