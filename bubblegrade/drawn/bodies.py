"""Bodies: the shapes of castings and of what is in them, as triangle meshes.

A mesh is a pair of arrays: vertices, (n, 3) in mm, and faces, (m, 3) rows of vertices, turning left seen from outside.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bubblegrade.drawn.spec import Spec

Floats = NDArray[np.float64]
Mesh = tuple[Floats, NDArray[np.intp]]

MARGIN_MM: Final = 0.25  # resin between a void and the casting's surface
SKIN_MM: Final = 0.02  # over a dent: thin enough to bend nothing, thick enough for the tracer's arithmetic
FOOT: Final = 0.84  # radius of a tapered cup's bottom over that of its rim
MENISCUS_MM: Final = 2.2  # reach of a cup's meniscus from the wall
NO_AREA_MM2: Final = 1e-12
LURE_END: Final = 0.93  # beyond this share of a lure's half length no void is placed


def lure_girth(x: ArrayLike) -> Floats:
    """Return a lure's girth over its largest at `x`, which runs from -1 at the head to 1 at the tail.

    >>> lure_girth([-1.0, 1.0]).round(3).tolist()
    [0.0, 0.0]
    """
    along = np.asarray(x, np.float64)
    taper = 1.0 - 0.35 * (along * 0.5 + 0.5) ** 2
    return taper * np.sqrt(np.maximum(1 - along**2, 0))


def sweep(rings: Floats) -> Mesh:
    """Join `rings`, (k, m, 3), each to the next, into one mesh; faces without area are left out."""
    count, around, _ = rings.shape
    row = np.arange(count * around).reshape(count, around)
    here, there = row[:-1], row[1:]
    here_next, there_next = np.roll(here, -1, 1), np.roll(there, -1, 1)
    quads = [np.stack([here, here_next, there_next], -1), np.stack([here, there_next, there], -1)]
    return _trimmed(rings.reshape(-1, 3), np.concatenate([q.reshape(-1, 3) for q in quads]))


def _trimmed(vertices: Floats, faces: NDArray[np.intp]) -> Mesh:
    """Drop faces without area and turn the rest outward."""
    a, b, c = (vertices[faces[:, k]] for k in range(3))
    normal = np.cross(b - a, c - a)
    kept = faces[np.linalg.norm(normal, axis=1) > NO_AREA_MM2]
    six_volumes = np.sum((a - vertices.mean(0)) * normal)
    return vertices, kept if six_volumes >= 0 else kept[:, ::-1]


def _circle(count: int) -> tuple[Floats, Floats]:
    """Return the cosines and sines of `count` equal steps around."""
    angle = np.linspace(0, 2 * np.pi, count, endpoint=False)
    return np.cos(angle), np.sin(angle)


def lure_mesh(spec: Spec) -> Mesh:
    """Return a minnow-shaped body: an ellipsoid that tapers to the tail."""
    along = np.cos(np.linspace(0, np.pi, 160))
    girth = lure_girth(along)
    across, up = _circle(240)
    y = np.outer(girth, across * half_width_mm(spec, across))
    z = np.outer(girth, up) * spec.height / 2 + spec.middle_mm
    return sweep(np.stack([np.repeat(along[:, None] * spec.radius, 240, 1), y, z], -1))


def half_width_mm(spec: Spec, y: ArrayLike) -> Floats:
    """Return a lure's largest reach in mm on the side of `y`, of any unit: negative at the back, else the belly.

    >>> half_width_mm(Spec("a", 1, body="lure", width=20.0, belly=0.2), [-1.0, 1.0]).tolist()
    [8.0, 12.0]
    """
    return np.asarray(spec.width / 2 * (1 + spec.belly * np.sign(y)), np.float64)


def cup_mesh(spec: Spec) -> Mesh:
    """Return resin turned out of a tapered cup: flat bottom, rounded edge, tapered wall, meniscus at the rim."""
    profile = _cup_profile(spec)
    cos, sin = _circle(360)
    radius, height = profile[:, :1], np.repeat(profile[:, 1:], 360, 1)
    return sweep(np.stack([radius * cos, radius * sin, height], -1))


def _cup_profile(spec: Spec) -> Floats:
    """Return radius and height, (k, 2) in mm, from the middle of the bottom around to the middle of the top."""
    low, high, rim = spec.gap, spec.height, spec.radius
    foot, creep = rim * FOOT, spec.extra.get("meniscus", 1.6)
    points = [(0.0, low)] + [(r, low) for r in np.linspace(foot * 0.1, foot - 0.8, 12)]
    edge = np.linspace(0.15, np.pi / 2, 8)
    points += [(foot - 0.8 + 0.8 * np.sin(a), low + 0.8 - 0.8 * np.cos(a)) for a in edge]
    wall = np.linspace(0.04, 1, 30)
    points += [(foot + (rim - foot) * t, low + 0.8 + (high + creep - 0.9) * t) for t in wall]
    inward = np.linspace(0.15, MENISCUS_MM * 2.5, 40)
    points += [(rim - d, low + high + creep * np.exp(-d / MENISCUS_MM * 2.2)) for d in inward]
    inner = rim - MENISCUS_MM * 2.5
    flat = np.linspace(0.97, 0.05, 16)
    points += [(inner * t, low + high + creep * np.exp(-5.5) * t) for t in flat]
    return np.array([*points, (0.0, low + high)])


def ball_mesh() -> Mesh:
    """Return a sphere of radius 1 about the origin."""
    polar = np.linspace(0, np.pi, 64)
    cos, sin = _circle(96)
    ring = np.sin(polar)[:, None]
    return sweep(np.stack([ring * cos, ring * sin, np.repeat(np.cos(polar)[:, None], 96, 1)], -1))


def ring_mesh(thickness: float) -> Mesh:
    """Return a torus about the z axis of radius 1 whose tube has the radius `thickness`."""
    big_cos, big_sin = _circle(72)
    cos, sin = _circle(24)
    reach = 1 + thickness * cos
    tube = [np.stack([reach * c, reach * s, thickness * sin], -1) for c, s in zip(big_cos, big_sin, strict=True)]
    return sweep(np.stack([*tube, tube[0]]))


def polygon_mesh(corners: Floats) -> Mesh:
    """Return a sheet between its middle and its `corners`, (k, 3)."""
    count = len(corners)
    step = np.arange(count)
    faces = np.stack([np.zeros(count, np.intp), 1 + step, 1 + (step + 1) % count], 1)
    return np.concatenate([corners.mean(0, keepdims=True), corners]), faces


def bowl_mesh(spec: Spec, x: float, y: float, radius: float, depth: float) -> Mesh:
    """Return the air in a dent of the casting's top, closed by a lid just under the surface."""
    cos, sin = _circle(48)
    down = np.linspace(0, np.pi / 2, 12)
    xs, ys = x + radius * np.outer(np.cos(down), cos), y + radius * np.outer(np.cos(down), sin)
    rims = np.stack([xs, ys, top_mm(spec, xs, ys) - SKIN_MM - depth * np.sin(down)[:, None]], -1)
    vertices, faces = sweep(rims)
    lid, lid_faces = polygon_mesh(rims[0])
    lid[0] = x, y, top_mm(spec, x, y) - SKIN_MM
    return _trimmed(np.concatenate([vertices, lid]), np.concatenate([faces, lid_faces + len(vertices)]))


def groove_mesh(spec: Spec, path: Floats, width: float, depth: float) -> Mesh:
    """Return the air in a V-shaped groove along `path`, (k, 2) in mm, of the casting's top, closed by a lid."""
    ahead = np.gradient(path, axis=0)
    side = np.stack([-ahead[:, 1], ahead[:, 0]], 1) / np.linalg.norm(ahead, axis=1, keepdims=True)
    fade = np.maximum(np.sin(np.linspace(0, np.pi, len(path))), 0.15)[:, None] ** 0.5
    edges = [path + side * fade * width / 2, path, path - side * fade * width / 2]
    deep = [0.0, depth, 0.0]
    section = [
        np.stack([*e.T, top_mm(spec, *e.T) - SKIN_MM - d * fade[:, 0]], 1) for e, d in zip(edges, deep, strict=True)
    ]
    rings = np.stack(section, 1)
    ends = np.stack(
        [np.repeat(rings[:1].mean(1, keepdims=True), 3, 1), np.repeat(rings[-1:].mean(1, keepdims=True), 3, 1)]
    )
    vertices, faces = sweep(np.concatenate([ends[0], rings, ends[1]]))
    return vertices[faces].reshape(-1, 3), np.arange(faces.size).reshape(-1, 3)


def stretching(ratio: float, axis: Floats) -> Floats:
    """Return the (3, 3) map of a sphere to an ellipsoid of its volume, `ratio` along the unit vector `axis`.

    >>> stretching(1.0, np.array([0.0, 0.0, 1.0])).diagonal().tolist()
    [1.0, 1.0, 1.0]
    """
    along = np.outer(axis, axis)
    return np.asarray(ratio * along + (np.eye(3) - along) / np.sqrt(ratio))


def top_mm(spec: Spec, x: ArrayLike, y: ArrayLike) -> Floats:
    """Return the height of the casting's top over the backlight at (x, y), in mm; a cup's meniscus is left out."""
    across = np.asarray(y, np.float64)
    if spec.body != "lure":
        return np.full(across.shape, spec.top_mm)
    girth = lure_girth(np.asarray(x, np.float64) / spec.radius)
    share = np.divide(across, girth * half_width_mm(spec, across), out=np.ones_like(across), where=girth > 0)
    return np.asarray(spec.middle_mm + spec.height / 2 * girth * np.sqrt(np.maximum(1 - share**2, 0)))


def on_top(spec: Spec, points: Floats) -> bool:
    """Tell whether all `points`, (k, 2) in mm, lie on the part of the top where dents and grooves are drawn."""
    x, y = np.abs(points).T
    if spec.body == "slab":
        return bool(np.all((x < spec.radius - 1) & (y < spec.width / 2 - 1)))
    if spec.body == "lure":
        return bool(np.all((x < 0.8 * spec.radius) & (y < 0.3 * spec.width * lure_girth(x / spec.radius))))
    edge = 1.0 if spec.body == "puck" else MENISCUS_MM * 2.5 + 0.5
    return bool(np.all(np.hypot(x, y) < spec.radius - edge))


def inside(spec: Spec, place: Floats, radius: float) -> bool:
    """Tell whether a sphere of `radius` mm about `place`, (3,) in mm, lies inside the casting with its margin."""
    keep = radius + MARGIN_MM
    if spec.body == "lure":
        return _inside_lure(spec, place, keep)
    if not spec.gap + keep < place[2] < spec.top_mm - keep:
        return False
    if spec.body == "slab":
        return bool(abs(place[0]) < spec.radius - keep and abs(place[1]) < spec.width / 2 - keep)
    wall = spec.radius - keep
    if spec.body == "cup":
        up = (place[2] - spec.gap) / spec.height
        wall = spec.radius * (FOOT + (1 - FOOT) * up) - keep - 0.3
    return bool(np.hypot(place[0], place[1]) < wall)


def _inside_lure(spec: Spec, place: Floats, keep: float) -> bool:
    """Tell whether a sphere of radius `keep` mm about `place` lies inside a lure."""
    along = place[0] / spec.radius
    if abs(along) > LURE_END:
        return False
    girth = float(lure_girth(along))
    across, up = float(half_width_mm(spec, place[1])) * girth - keep, spec.height / 2 * girth - keep
    if across <= 0 or up <= 0:
        return False
    return bool((place[1] / across) ** 2 + ((place[2] - spec.middle_mm) / up) ** 2 < 1)
