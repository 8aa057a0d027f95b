"""Clutter: what is in, on and under a casting besides voids, and where it lies.

Shapes are dictionaries as the renderer takes them, with two liberties: `to_world` is a plain (4, 4) array, and a
shape of type "mesh" holds its `mesh`. Nothing here needs the renderer.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Final, Literal

import numpy as np

from bubblegrade.drawn.bodies import Floats, bowl_mesh, groove_mesh, inside, on_top, polygon_mesh, top_mm
from bubblegrade.drawn.spec import Spec

Shape = dict[str, Any]
Where = Literal["inside", "top", "light"]

FULL_SHARE: Final = 0.3  # of the dents and grooves that are full of dirt
SLIM: Final = 3  # length over width from which dust is a fibre
TRIES: Final = 400  # places tried for one item before it is left out
FILMS: Final = (
    (0.7, 0.05, 0.08),
    (0.05, 0.45, 0.15),
    (0.05, 0.15, 0.7),
    (0.8, 0.3, 0.5),
    (0.85, 0.85, 0.8),
    (0.03, 0.03, 0.03),
)


@dataclass(frozen=True, eq=False)
class Item:
    """One thing that is not a void: its kind, its middle (mm), its longest extent (mm), and its shapes."""

    kind: str
    place_mm: Floats
    size_mm: float
    shapes: tuple[Shape, ...]
    where: Where = "inside"


@dataclass(frozen=True, eq=False)
class Taken:
    """Space that is taken: capsules about the lines from `start_mm` to `end_mm`, each (k, 3), of `radius_mm`, (k,)."""

    start_mm: Floats
    end_mm: Floats
    radius_mm: Floats

    @classmethod
    def nothing(cls) -> Taken:
        """Return no space at all."""
        return cls(np.zeros((0, 3)), np.zeros((0, 3)), np.zeros(0))

    @classmethod
    def balls(cls, middles: Floats, radii: Floats) -> Taken:
        """Return the space of spheres."""
        return cls(middles.reshape(-1, 3), middles.reshape(-1, 3), radii)

    def joined(self, other: Taken) -> Taken:
        """Return this space and `other`."""
        return Taken(
            np.concatenate([self.start_mm, other.start_mm]),
            np.concatenate([self.end_mm, other.end_mm]),
            np.concatenate([self.radius_mm, other.radius_mm]),
        )

    def free(self, place: Floats, radius: float) -> bool:
        """Tell whether a sphere of `radius` mm about `place`, (3,), touches none of it."""
        along = self.end_mm - self.start_mm
        length2 = np.maximum(np.sum(along**2, 1), 1e-12)
        share = np.clip(np.sum((place - self.start_mm) * along, 1) / length2, 0, 1)[:, None]
        apart = np.linalg.norm(place - (self.start_mm + share * along), axis=1)
        return bool(np.all(apart >= radius + self.radius_mm))


def named_shapes(items: Sequence[Item], name: str) -> dict[str, Shape]:
    """Return the shapes of `items` under names of their own."""
    return {f"{name}{i}_{k}": shape for i, item in enumerate(items) for k, shape in enumerate(item.shapes)}


def diffuse(*colour: float) -> Shape:
    """Return a matt surface of `colour`, one grey or red, green and blue."""
    return {"type": "diffuse", "reflectance": {"type": "rgb", "value": list(colour) if len(colour) > 1 else colour[0]}}


def metal(material: str, roughness: float = 0.1) -> Shape:
    """Return a metal surface, seen from both sides; `material` is a chemical symbol."""
    return twosided({"type": "roughconductor", "material": material, "alpha": roughness})


def twosided(surface: Shape) -> Shape:
    """Return `surface` for a sheet that is seen from both sides."""
    return {"type": "twosided", "b": surface}


def placed(place: Floats, scale: Sequence[float], *, about_z: float = 0.0, about_x: float = 0.0) -> Floats:
    """Return the (4, 4) map that scales, turns about x and then z (degrees) and moves to `place` (mm)."""
    cz, sz = np.cos(np.radians(about_z)), np.sin(np.radians(about_z))
    cx, sx = np.cos(np.radians(about_x)), np.sin(np.radians(about_x))
    turn = np.array([[cz, -sz, 0], [sz, cz, 0], [0, 0, 1]]) @ np.array([[1, 0, 0], [0, cx, -sx], [0, sx, cx]])
    matrix = np.eye(4)
    matrix[:3, :3] = turn * np.asarray(scale, np.float64)
    matrix[:3, 3] = place
    return matrix


def spot_inside(spec: Spec, rng: np.random.Generator, taken: Taken, radius: float) -> Floats | None:
    """Return a free place in the casting for a sphere of `radius` mm, or None after many tries."""
    reach_x, reach_y = spec.reach_mm
    low = np.array([-reach_x, -reach_y, spec.gap])
    high = np.array([reach_x, reach_y, spec.top_mm])
    for _ in range(TRIES):
        place = rng.uniform(low, high)
        if inside(spec, place, radius) and taken.free(place, radius):
            return place
    return None


def flakes(spec: Spec, rng: np.random.Generator, taken: Taken) -> list[Item]:
    """Return glitter and foil in the resin, clear of what is `taken`."""
    found = []
    for _ in range(spec.flakes):
        half = rng.uniform(*spec.flake_mm)
        place = spot_inside(spec, rng, taken, half * 1.5)
        if place is not None:
            found.append(_flake(spec, rng, place, half))
    return found


def _flake(spec: Spec, rng: np.random.Generator, place: Floats, half: float) -> Item:
    """Return one flake of half size `half` mm about `place`."""
    outline = _OUTLINES[str(rng.choice(spec.flake_kinds))](rng)
    turn = placed(place, [half] * 3, about_z=rng.uniform(0, 360), about_x=rng.uniform(0, 70))
    corners = outline @ turn[:3, :3].T + place
    film = rng.random() < spec.coloured
    surface = (
        twosided(diffuse(*FILMS[rng.integers(len(FILMS))])) if film else metal(str(rng.choice(["Au", "Ag", "Cu"])))
    )
    shape = {"type": "mesh", "mesh": polygon_mesh(corners), "bsdf": surface}
    return Item("flake", place, 2 * half * float(np.abs(outline).max()), (shape,))


def _regular(count: int) -> Floats:
    """Return the corners, (count, 3), of a regular flat shape of radius 1."""
    angle = np.arange(count) * 2 * np.pi / count
    return np.stack([np.cos(angle), np.sin(angle), 0 * angle], 1)


def _crumb(rng: np.random.Generator, crumple: float) -> Floats:
    """Return an irregular outline of five to nine corners, bent out of its plane by `crumple`."""
    corners = _regular(int(rng.integers(5, 10)))
    corners *= rng.uniform(0.45, 1.0, (len(corners), 1)) * [1, rng.uniform(0.5, 1), 1]
    corners[:, 2] = rng.uniform(-crumple, crumple, len(corners))
    return corners


_OUTLINES: Final[dict[str, Callable[[np.random.Generator], Floats]]] = {
    "hexagon": lambda rng: _regular(6) * [1, rng.uniform(0.6, 1), 1],
    "square": lambda rng: np.array([[1, 1, 0], [-1, 1, 0], [-1, -1, 0], [1, -1, 0]]) * [1, rng.uniform(0.6, 1), 1],
    "slip": lambda rng: np.array([[1, 1, 0], [-1, 1, 0], [-1, -1, 0], [1, -1, 0]]) * [1.5, rng.uniform(0.1, 0.3), 1],
    "disc": lambda _: _regular(24),
    "crumb": lambda rng: _crumb(rng, 0.0),
    "foil": lambda rng: _crumb(rng, 0.35),
}


def rods(spec: Spec, rng: np.random.Generator, taken: Taken) -> list[Item]:
    """Return fibres and rods set in the resin, clear of what is `taken`."""
    found = []
    for _ in range(spec.rods):
        half, thin = rng.uniform(0.3, 2.5), float(np.exp(rng.uniform(np.log(0.012), np.log(0.12))))
        place = spot_inside(spec, rng, taken, 0.6 * half)
        if place is None:
            continue
        way = rng.normal(size=3) * [1, 1, 0.35]
        way *= half / np.linalg.norm(way)
        ends = {"p0": (place - way).tolist(), "p1": (place + way).tolist()}
        if all(
            inside(spec, place + s * way, thin) and taken.free(place + s * way, thin) for s in (-1, -0.5, 0, 0.5, 1)
        ):
            surface = twosided(diffuse(*FILMS[rng.integers(len(FILMS))]))
            found.append(
                Item("fibre", place, 2 * half, ({"type": "cylinder", **ends, "radius": thin, "bsdf": surface},))
            )
    return found


def dust(spec: Spec, rng: np.random.Generator) -> list[Item]:
    """Return fibres and crumbs that lie on top of the casting."""
    reach = np.array(spec.reach_mm) * 0.9
    found = []
    for _ in range(spec.dust):
        x, y = rng.uniform(-reach, reach)
        place = np.array([x, y, float(top_mm(spec, x, y)) + 0.05])
        turn, long, thin = rng.uniform(0, 360), rng.uniform(0.05, 0.7), rng.uniform(0.02, 0.07)
        shape = {"type": "cube", "to_world": placed(place, [long, thin, 0.02], about_z=turn), "bsdf": diffuse(0.2)}
        found.append(Item("fibre" if long > SLIM * thin else "speck", place, 2 * long, (shape,), "top"))
    return found


def specks(spec: Spec) -> list[Item]:
    """Return dirt that lies on the light; the same in every picture."""
    rng = np.random.default_rng(99)
    reach = np.array(spec.reach_mm) * 0.8
    found = []
    for _ in range(spec.specks):
        place = np.array([*rng.uniform(-reach, reach), 0.06])
        half, turn, narrow = rng.uniform(0.08, 0.35), rng.uniform(0, 360), rng.uniform(0.5, 1)
        shape = {
            "type": "cube",
            "to_world": placed(place, [half, half * narrow, 0.03], about_z=turn),
            "bsdf": diffuse(0.05),
        }
        found.append(Item("speck", place, 2 * half, (shape,), "light"))
    return found


def pits(spec: Spec, rng: np.random.Generator, taken: Taken) -> list[Item]:
    """Return dents in the casting's top, some of them full of dirt, clear of what is `taken`."""
    found = []
    for _ in range(spec.pits):
        radius = min(0.35 * np.exp(rng.normal() * 0.5), 1.2)
        depth, full = min(radius * rng.uniform(0.2, 2.0), spec.height / 3), rng.random() < FULL_SHARE
        place = _spot_on_top(spec, rng, taken, max(radius, depth))
        if place is not None:
            mesh = bowl_mesh(spec, place[0], place[1], radius, depth)
            found.append(Item("pit", place, 2 * radius, (_hollow(spec, mesh, full=full),), "top"))
    return found


def _spot_on_top(spec: Spec, rng: np.random.Generator, taken: Taken, radius: float) -> Floats | None:
    """Return a place on the casting's top under which a sphere of `radius` mm is free, or None after many tries."""
    reach = np.array(spec.reach_mm)
    for _ in range(TRIES):
        x, y = rng.uniform(-reach, reach)
        if on_top(spec, np.array([[x, y]])):
            place = np.array([x, y, float(top_mm(spec, x, y))])
            if taken.free(place, radius):
                return place
    return None


def _hollow(spec: Spec, mesh: Any, *, full: bool) -> Shape:
    """Return a dent or groove: air, or `full` of dirt."""
    air = {"type": "dielectric", "int_ior": 1.0, "ext_ior": spec.n}
    return {"type": "mesh", "mesh": mesh, "bsdf": twosided(diffuse(0.15)) if full else air}


def scratches(spec: Spec, rng: np.random.Generator, taken: Taken) -> list[Item]:
    """Return long shallow grooves in the casting's top, some of them full of dirt, clear of what is `taken`."""
    found = []
    for _ in range(spec.scratches):
        width, full = float(np.exp(rng.uniform(np.log(0.03), np.log(0.2)))), rng.random() < FULL_SHARE
        for _ in range(TRIES):
            path = _line(rng, spec)
            points = np.stack([*path.T, top_mm(spec, *path.T)], 1)
            if on_top(spec, path) and all(taken.free(p, 1.5 * width) for p in points):
                mesh = groove_mesh(spec, path, width, width * rng.uniform(0.2, 0.7))
                length = float(np.linalg.norm(path[-1] - path[0]))
                found.append(
                    Item("scratch", points[len(points) // 2], length, (_hollow(spec, mesh, full=full),), "top")
                )
                break
    return found


def _line(rng: np.random.Generator, spec: Spec) -> Floats:
    """Return a slightly bent line, (15, 2) in mm, somewhere over the casting."""
    reach = np.array(spec.reach_mm)
    length = rng.uniform(0.1, 0.9) * reach.min()
    angle, bend = rng.uniform(0, 2 * np.pi), rng.uniform(-0.08, 0.08) * length
    t = np.linspace(-1, 1, 15)
    way, side = np.array([np.cos(angle), np.sin(angle)]), np.array([-np.sin(angle), np.cos(angle)])
    return rng.uniform(-reach, reach) + np.outer(t * length, way) + np.outer(bend * (1 - t**2), side)
