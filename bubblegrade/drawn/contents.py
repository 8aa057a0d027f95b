"""Contents: which voids and which clutter a casting holds, drawn from its spec."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from bubblegrade.drawn import clutter
from bubblegrade.drawn.bodies import Floats, inside
from bubblegrade.drawn.clutter import Item, Taken
from bubblegrade.drawn.hardware import hardware
from bubblegrade.drawn.spec import Spec

APART_MM: Final = 0.02  # resin between two voids
FLOATED_MM: Final = 0.27  # resin over a void that has floated to the top
TRIES_PER_VOID: Final = 200
TRIES_LEAST: Final = 20_000
FLATTENED: Final = (0.55, 0.85)  # length of a flattened void's axis over the round one's diameter
DRAWN_OUT: Final = (1.2, 1.7)
FLATTENED_SHARE: Final = 0.6  # of the misshapen voids; the others are drawn out


@dataclass(frozen=True, eq=False)
class Void:
    """One void: its middle (mm), its radius (mm), and its stretch along an axis, or None when it is round."""

    place_mm: Floats
    radius_mm: float
    shape: tuple[float, Floats] | None = None


@dataclass(frozen=True, eq=False)
class Casting:
    """What is in, on and under one casting."""

    voids: tuple[Void, ...]
    embedded: tuple[Item, ...]  # hardware, flakes and rods
    loose: tuple[Item, ...]  # dust, specks, pits and scratches


def casting(spec: Spec) -> Casting:
    """Return a casting after `spec`; the same one for the same spec.

    Raises
    ------
    ValueError
        One with hardware or flakes is to be turned.
    """
    rng, later = np.random.default_rng(spec.seed), np.random.default_rng([spec.seed, 2])
    fittings, taken = hardware(spec, np.random.default_rng([spec.seed, 1]))
    balls = _voids(spec, rng, taken)
    middles, radii = np.array([p for p, _ in balls]).reshape(-1, 3), np.array([r for _, r in balls])
    taken = taken.joined(Taken.balls(middles, radii + APART_MM))
    dust_rng = later if spec.dust_seed is None else np.random.default_rng(spec.dust_seed)
    embedded = fittings + clutter.flakes(spec, later, taken) + clutter.rods(spec, later, taken)
    loose = clutter.pits(spec, later, taken) + clutter.scratches(spec, later, taken)
    loose += clutter.dust(spec, dust_rng) + clutter.specks(spec)
    if spec.turn and embedded:
        raise ValueError(
            f"{spec.name}: turn is {spec.turn}, but only castings without hardware and flakes can be turned"
        )
    return Casting(_shaped(spec, middles, radii), tuple(embedded), tuple(loose))


def _voids(spec: Spec, rng: np.random.Generator, taken: Taken) -> list[tuple[Floats, float]]:
    """Return middles and radii (mm) of voids that touch neither each other nor what is `taken`."""
    reach_x, reach_y = spec.reach_mm
    count, random = len(spec.planted), spec.voids + spec.surface_voids
    wanted = count + random
    middles, radii = np.empty((wanted, 3)), np.empty(wanted)
    planted = np.array(spec.planted, np.float64).reshape(-1, 4)
    middles[:count], radii[:count] = planted[:, :3], planted[:, 3] / 2
    for _ in range(TRIES_PER_VOID * random + TRIES_LEAST):
        if count == wanted:
            break
        radius = spec.median_mm * np.exp(rng.normal() * np.log(spec.gsd)) * spec.squeeze / 2
        x, y = rng.uniform(-reach_x, reach_x), rng.uniform(-reach_y, reach_y)
        floated = count >= len(spec.planted) + spec.voids
        place = np.array([x, y, spec.top_mm - radius - FLOATED_MM if floated else rng.uniform(spec.gap, spec.top_mm)])
        if not inside(spec, place, radius) or not taken.free(place, radius):
            continue
        if np.all(np.linalg.norm(middles[:count] - place, axis=1) >= radii[:count] + radius + APART_MM):
            middles[count], radii[count] = place, radius
            count += 1
    return list(zip(middles[:count], radii[:count].tolist(), strict=True))


def _shaped(spec: Spec, middles: Floats, radii: Floats) -> tuple[Void, ...]:
    """Return the voids turned, grown and, in the spec's share, flattened or drawn out at their volume."""
    cos, sin = np.cos(np.radians(spec.turn)), np.sin(np.radians(spec.turn))
    places = middles @ np.array([[cos, sin, 0], [-sin, cos, 0], [0, 0, 1]])
    odd, found = np.random.default_rng(spec.seed + 7), []
    for place, radius in zip(places, radii * spec.grow, strict=True):
        ratio = odd.uniform(*(FLATTENED if odd.random() < FLATTENED_SHARE else DRAWN_OUT))
        axis = odd.normal(size=3)
        misshapen = odd.random() < spec.misshapen
        found.append(Void(place, float(radius), (float(ratio), axis / np.linalg.norm(axis)) if misshapen else None))
    return tuple(found)
