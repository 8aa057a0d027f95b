"""Truth: where the voids and the clutter of a traced casting are seen in its picture.

Positions are px from the centre of the top left pixel.
"""

from __future__ import annotations

from dataclasses import asdict, replace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from bubblegrade.drawn.bodies import FOOT, Floats, stretching
from bubblegrade.drawn.clutter import named_shapes
from bubblegrade.drawn.contents import Casting
from bubblegrade.drawn.rays import Seen, Tracer, loadable, renderer
from bubblegrade.drawn.spec import Spec

GOLDEN_ANGLE: Final = 2.399963  # radians; spreads points evenly over a disc


def truth(cast: Casting, tracer: Tracer, bare: NDArray[np.float32], area_px: int) -> dict[str, Any]:
    """Return what is in the casting and where it is seen, ready for JSON.

    `bare` is the linear picture of the bare casting over the full light, `area_px` how many pixels show the casting.
    """
    spec = tracer.spec
    scale, distance = spec.view / spec.width_px, spec.camera - spec.middle_mm
    shapes = [None if v.shape is None else [round(v.shape[0], 4), v.shape[1].round(5).tolist()] for v in cast.voids]
    extra = {**{k: v for k, v in spec.extra.items() if k != "light_picture"}, "shapes": shapes}
    return {
        "photo": f"{spec.name}.jpg",
        "roi": _cup_floor(spec) if spec.body == "cup" else None,
        "mm_per_px_mid_plane": scale,
        "mm_per_px_backlight": scale * spec.camera / distance,
        "mm_per_px_top": scale * (spec.camera - spec.top_mm) / distance,
        "casting_area_px": area_px,
        "void_volume_mm3": round(sum(4 / 3 * np.pi * v.radius_mm**3 for v in cast.voids), 4),
        "voids_in_casting": len(cast.voids),
        "flakes": sum(item.kind == "flake" for item in cast.embedded),
        "spec": asdict(replace(spec, extra=extra)),
        "voids": _void_rows(cast, tracer, bare),
        "clutter": _clutter_rows(cast, tracer),
    }


def _cup_floor(spec: Spec) -> list[list[float]]:
    """Return the outline, in px, of what lies over a tapered cup's flat bottom; the band beyond is seen twice."""
    seen = spec.camera - spec.top_mm + spec.height / spec.n
    radius = spec.width_px / spec.view * (spec.camera - spec.middle_mm) / seen * (spec.radius * FOOT - 0.9)
    angle = np.linspace(0, 2 * np.pi, 90, endpoint=False)
    middle = np.array([spec.width_px, spec.height_px]) / 2 - 0.5
    outline: list[list[float]] = (middle + radius * np.stack([np.cos(angle), np.sin(angle)], 1)).round(1).tolist()
    return outline


def _void_rows(cast: Casting, tracer: Tracer, bare: NDArray[np.float32]) -> list[dict[str, float]]:
    """Return one row a void that is in view: place, sizes, and how well it is seen."""
    if not cast.voids:
        return []
    places = np.array([v.place_mm for v in cast.voids])
    seen = tracer.locate(places)
    diameter = _diameters_px(cast, seen)
    stretch = np.linalg.svd(seen.mm_per_px, compute_uv=False)
    visible = _visible(cast, tracer, seen, diameter)
    found = []
    for i in np.nonzero(seen.found & _in_frame(tracer.spec, seen.x_px, seen.y_px))[0]:
        row = {
            "x": seen.x_px[i] - 0.5,
            "y": seen.y_px[i] - 0.5,
            "d_px": diameter[i],
            "d_mm": 2 * cast.voids[i].radius_mm,
            "z_mm": places[i, 2],
            "stretch": stretch[i, 0] / stretch[i, 1],
            "visible": visible[i],
            "hidden": _hidden(seen, diameter, places[:, 2], int(i)),
            "lit": _lit(bare, seen.x_px[i], seen.y_px[i], diameter[i]),
        }
        found.append({name: round(float(value), 4) for name, value in row.items()})
    return found


def _in_frame(spec: Spec, x: Floats, y: Floats) -> NDArray[np.bool_]:
    return (x >= 0) & (x < spec.width_px) & (y >= 0) & (y < spec.height_px)


def _diameters_px(cast: Casting, seen: Seen) -> Floats:
    """Return the diameters of discs of the silhouettes' areas."""
    radii = np.array([v.radius_mm for v in cast.voids])
    diameter = 2 * radii / np.sqrt(np.abs(np.linalg.det(seen.mm_per_px)))
    for i, void in enumerate(cast.voids):
        if void.shape is not None:  # an ellipsoid's silhouette has the area pi abc sqrt(d' M d)
            stretch = stretching(*void.shape)
            ray = seen.ray[i]
            diameter[i] *= np.sqrt(np.sqrt(ray @ np.linalg.inv(stretch @ stretch.T) @ ray))
    return np.asarray(diameter)


def _disc_points(count: int) -> tuple[Floats, Floats]:
    """Return `count` points spread evenly over a disc of radius 1."""
    step = np.arange(count)
    reach = np.sqrt((step + 0.5) / count)
    return reach * np.cos(step * GOLDEN_ANGLE), reach * np.sin(step * GOLDEN_ANGLE)


def _visible(cast: Casting, tracer: Tracer, seen: Seen, diameter: Floats) -> Floats:
    """Return the share of each void that is not behind hardware, flakes or rods."""
    if not cast.embedded:
        return np.ones(len(diameter))
    mi = renderer()
    hard = mi.load_dict({"type": "scene", **loadable(named_shapes(cast.embedded, "hard"))})
    cos, sin = _disc_points(24)
    x = (seen.x_px[:, None] + cos * diameter[:, None] / 2).ravel()
    y = (seen.y_px[:, None] + sin * diameter[:, None] / 2).ravel()
    start, way, _ = tracer.inside(x, y)
    ray = mi.Ray3f(mi.Point3f(start.T.astype(np.float32)), mi.Vector3f(way.T.astype(np.float32)))
    reached = np.array(hard.ray_intersect(ray).t)
    places = np.repeat([v.place_mm for v in cast.voids], 24, 0)
    before = np.isfinite(reached) & (reached < np.sum((places - start) * way, 1))
    return np.asarray(1 - before.reshape(-1, 24).mean(1))


def _hidden(seen: Seen, diameter: Floats, height: Floats, one: int) -> float:
    """Return the share of one void's silhouette that lies behind nearer voids."""
    cos, sin = _disc_points(64)
    x, y = seen.x_px[one] + cos * diameter[one] / 2, seen.y_px[one] + sin * diameter[one] / 2
    apart = np.hypot(seen.x_px - seen.x_px[one], seen.y_px - seen.y_px[one])
    nearer = seen.found & (height > height[one]) & (apart < (diameter + diameter[one]) / 2)
    if not nearer.any():
        return 0.0
    to_each = np.hypot(x[:, None] - seen.x_px[nearer], y[:, None] - seen.y_px[nearer])
    return float((to_each < diameter[nearer] / 2).any(1).mean())


def _lit(bare: NDArray[np.float32], x: float, y: float, diameter: float) -> float:
    """Return the light of the bare casting about a void over the light's full level."""
    reach, column, row = max(round(float(diameter)), 3), int(x), int(y)
    return float(bare[max(row - reach, 0) : row + reach + 1, max(column - reach, 0) : column + reach + 1].mean())


def _clutter_rows(cast: Casting, tracer: Tracer) -> list[dict[str, Any]]:
    """Return one row an item of clutter in view: its kind, place and size in px, to within a few px."""
    spec, items = tracer.spec, cast.embedded + cast.loose
    if not items:
        return []
    places = np.array([item.place_mm for item in items])
    under = np.array([item.where == "light" for item in items])
    top = np.array([item.where == "top" for item in items])
    apparent = places.copy()  # the air under a flat bottom looks n times as deep from inside the resin
    apparent[under, 2] = spec.gap - spec.n * (spec.gap - places[under, 2])
    seen = tracer.locate(apparent)
    x, y = tracer.direct(places)
    through = seen.found & ~top
    x, y = np.where(through, seen.x_px, x), np.where(through, seen.y_px, y)
    scale = spec.view / spec.width_px * (spec.camera - places[:, 2]) / (spec.camera - spec.middle_mm)
    return [
        {
            "kind": items[i].kind,
            "x": round(x[i] - 0.5, 2),
            "y": round(y[i] - 0.5, 2),
            "size_px": round(items[i].size_mm / scale[i], 2),
        }
        for i in np.nonzero(_in_frame(spec, x, y))[0]
    ]
