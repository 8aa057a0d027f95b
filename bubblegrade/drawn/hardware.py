"""Hardware: wire, ballast, eyes and fittings that are cast into the resin, and the space they take."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import numpy as np

from bubblegrade.drawn.bodies import Floats, ring_mesh
from bubblegrade.drawn.clutter import FILMS, Item, Shape, Taken, diffuse, metal, placed, spot_inside, twosided
from bubblegrade.drawn.spec import Spec

COLOURED: Final = 0.5  # share of beads and plates that are not bare metal
CLEARANCE_MM: Final = 0.1  # resin between a void and hardware


def hardware(spec: Spec, rng: np.random.Generator) -> tuple[list[Item], Taken]:
    """Return all that is cast in, and the space that it takes."""
    fixed = [
        build(spec) for wanted, build in ((spec.wire, _wire), (spec.ballast, _ballast), (spec.eye, _eye)) if wanted
    ]
    items, taken = [item for item, _ in fixed], Taken.nothing()
    for _, space in fixed:
        taken = taken.joined(space)
    for kind in spec.hardware:
        build, radius = _FITTINGS[kind]
        size = radius * rng.uniform(0.7, 1.3)
        place = spot_inside(spec, rng, taken, size)
        if place is not None:
            items.append(Item("hardware", place, 2 * size, build(rng, place, size)))
            taken = taken.joined(_ball_space(place, size))
    return items, taken


def _ball_space(place: Floats, radius: float) -> Taken:
    return Taken.balls(place, np.array([radius + CLEARANCE_MM]))


def _wire(spec: Spec) -> tuple[Item, Taken]:
    """Return a wire between the spec's ends, or else through the casting along its middle."""
    through = spec.radius * 1.12 * 0.86
    x0, y0, x1, y1 = spec.extra.get("wire", (-through, 0.0, through, 0.0))
    start, end = np.array([x0, y0, spec.middle_mm]), np.array([x1, y1, spec.middle_mm])
    shape = _rod(start, end, 0.5, metal("Cr", 0.15))
    taken = Taken(start[None], end[None], np.array([0.5 + CLEARANCE_MM]))
    return Item("hardware", (start + end) / 2, float(np.linalg.norm(end - start)), (shape,)), taken


def _ballast(spec: Spec) -> tuple[Item, Taken]:
    """Return a tungsten ball."""
    place = np.array([-spec.radius * 0.25, -spec.width * 0.12, spec.middle_mm])
    surface = {"type": "roughconductor", "material": "W", "alpha": 0.3}
    return Item("hardware", place, 4.4, (_ball(place, 2.2, surface),)), _ball_space(place, 2.2)


def _eye(spec: Spec) -> tuple[Item, Taken]:
    """Return an eye of the spec's kind."""
    x, y = spec.extra.get("eye", (-spec.radius * 0.68, spec.width * 0.08))
    place = np.array([x, y, spec.middle_mm])
    black = diffuse(0.02, 0.02, 0.02)
    shapes: tuple[Shape, ...] = (_ball(place, 1.8, black),)
    if spec.eye_kind == "disc":
        above = place + np.array([0, 0, 0.05])
        white = {"type": "disk", "to_world": placed(place, [1.8, 1.8, 1]), "bsdf": twosided(diffuse(0.75, 0.6, 0.1))}
        shapes = (white, {"type": "disk", "to_world": placed(above, [0.9, 0.9, 1]), "bsdf": twosided(black)})
    if spec.eye_kind == "stalk":
        shapes = (_ball(place, 1.2, black), _rod(place, place * [1, -1, 1], 0.25, twosided(black)))
    return Item("hardware", place, 3.6, shapes), _ball_space(place, 1.8)


def _ball(place: Floats, radius: float, surface: Shape) -> Shape:
    return {"type": "sphere", "center": place.tolist(), "radius": radius, "bsdf": surface}


def _rod(start: Floats, end: Floats, radius: float, surface: Shape) -> Shape:
    return {"type": "cylinder", "p0": start.tolist(), "p1": end.tolist(), "radius": radius, "bsdf": surface}


def _ring(rng: np.random.Generator, place: Floats, size: float) -> tuple[Shape, ...]:
    """Return a split ring."""
    vertices, faces = ring_mesh(rng.uniform(0.12, 0.25))
    turn = placed(place, [size / 1.25] * 3, about_z=rng.uniform(0, 360), about_x=rng.uniform(0, 90))
    return ({"type": "mesh", "mesh": (vertices @ turn[:3, :3].T + place, faces), "bsdf": metal("Cr", 0.2)},)


def _bead(rng: np.random.Generator, place: Floats, size: float) -> tuple[Shape, ...]:
    """Return an opaque coloured or steel bead."""
    surface = diffuse(*FILMS[rng.integers(len(FILMS))])
    return (_ball(place, size, surface if rng.random() < COLOURED else metal("Cr", 0.15)["b"]),)


def _screw(rng: np.random.Generator, place: Floats, size: float) -> tuple[Shape, ...]:
    """Return a screw with a round head."""
    angle = rng.uniform(0, 2 * np.pi)
    way = np.array([np.cos(angle), np.sin(angle), 0]) * size * 0.75
    return (
        _rod(place - way, place + way, size * 0.15, metal("Cr", 0.2)),
        _ball(place + way, size * 0.25, metal("Cr", 0.2)["b"]),
    )


def _plate(rng: np.random.Generator, place: Floats, size: float) -> tuple[Shape, ...]:
    """Return a thin plate, as of a printed label or a reflector."""
    scale = [size * 0.8, size * rng.uniform(0.2, 0.5), 0.05]
    turn = placed(place, scale, about_z=rng.uniform(0, 360), about_x=rng.uniform(0, 40))
    surface = diffuse(*FILMS[rng.integers(len(FILMS))]) if rng.random() < COLOURED else metal("Cu", 0.2)
    return ({"type": "cube", "to_world": turn, "bsdf": surface},)


def _bar(rng: np.random.Generator, place: Floats, size: float) -> tuple[Shape, ...]:
    """Return a ballast rod with rounded ends."""
    angle, thick = rng.uniform(0, 2 * np.pi), size * rng.uniform(0.15, 0.35)
    way = np.array([np.cos(angle), np.sin(angle), 0]) * (size - thick)
    ends = (_ball(place - way, thick, metal("W", 0.3)["b"]), _ball(place + way, thick, metal("W", 0.3)["b"]))
    return (_rod(place - way, place + way, thick, metal("W", 0.3)), *ends)


_Build = Callable[[np.random.Generator, Floats, float], tuple[Shape, ...]]
_FITTINGS: Final[dict[str, tuple[_Build, float]]] = {  # and the usual radius of the space each takes, mm
    "ring": (_ring, 2.2),
    "bead": (_bead, 1.2),
    "screw": (_screw, 2.6),
    "plate": (_plate, 2.4),
    "bar": (_bar, 3.0),
}
