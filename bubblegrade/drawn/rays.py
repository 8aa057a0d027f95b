"""Rays: the renderer's scenes, and chief rays that show where in the picture a point of the casting is seen.

The renderer, Mitsuba 3, is loaded when it is first needed. The environment's MI_VARIANT chooses its variant:
llvm_ad_rgb (the default, wants LLVM 16 or newer) or cuda_ad_rgb on a GPU.
"""

from __future__ import annotations

import os
from dataclasses import dataclass, replace
from functools import cache
from importlib import import_module
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from bubblegrade.drawn.bodies import Floats, Mesh, cup_mesh, lure_mesh
from bubblegrade.drawn.clutter import Shape, placed
from bubblegrade.drawn.spec import Spec

FLAT: Final = 1e-12  # mm2 per px2; below it the picture folds and a point cannot be traced
GRID_PX: Final = 8  # distance of the rays that start the search for a point
NEAR_MM: Final = 1.5  # a point farther than this from every ray is not seen
STEP_PX: Final = 1.0  # of the finite differences


@cache
def renderer() -> Any:
    """Return the renderer's module, its variant chosen."""
    mitsuba = import_module("mitsuba")
    mitsuba.set_variant(os.environ.get("MI_VARIANT", "llvm_ad_rgb"))
    return mitsuba


def loadable(shape: Any) -> Any:
    """Return `shape`, and the shapes in it, as the renderer loads them."""
    if not isinstance(shape, dict):
        return shape
    if shape.get("type") == "mesh":
        return _mesh_object(shape["mesh"], shape["bsdf"])
    full = {name: loadable(value) for name, value in shape.items()}
    if "to_world" in full and isinstance(full["to_world"], np.ndarray):
        full["to_world"] = renderer().ScalarTransform4f(full["to_world"])
    return full


def _mesh_object(mesh: Mesh, surface: Shape) -> Any:
    mi = renderer()
    vertices, faces = mesh
    properties = mi.Properties()
    properties["surface"] = mi.load_dict(surface)
    loaded = mi.Mesh("mesh", len(vertices), len(faces), has_vertex_normals=True, props=properties)
    parameters = mi.traverse(loaded)
    parameters["vertex_positions"] = vertices.astype(np.float32).ravel()
    parameters["faces"] = faces.astype(np.uint32).ravel()
    parameters.update()
    loaded.recompute_vertex_normals()
    return loaded


def body_shapes(spec: Spec) -> dict[str, Shape]:
    """Return the casting's surface as shapes of resin."""
    resin = {"type": "dielectric", "int_ior": spec.n, "ext_ior": 1.0}
    low, high, radius = [0.0, 0.0, spec.gap], [0.0, 0.0, spec.top_mm], spec.radius
    if spec.body == "puck":
        top, flat = placed(np.array(high), [radius, radius, 1]), placed(np.array(low), [radius, radius, 1], about_x=180)
        return {
            "side": {"type": "cylinder", "p0": low, "p1": high, "radius": radius, "bsdf": resin},
            "top": {"type": "disk", "to_world": top, "bsdf": resin},
            "bottom": {"type": "disk", "to_world": flat, "bsdf": resin},
        }
    if spec.body == "slab":
        block = placed(np.array([0, 0, spec.middle_mm]), [radius, spec.width / 2, spec.height / 2])
        return {"block": {"type": "cube", "to_world": block, "bsdf": resin}}
    mesh = cup_mesh(spec) if spec.body == "cup" else lure_mesh(spec)
    return {"casting": {"type": "mesh", "mesh": mesh, "bsdf": resin}}


def camera(spec: Spec, *, pinhole: bool = False) -> Shape:
    """Return the camera, on request with a closed-down lens."""
    distance, tilt, roll = spec.camera - spec.middle_mm, np.radians(spec.tilt), np.radians(spec.roll)
    origin = [0.0, float(-np.sin(tilt) * distance), float(spec.middle_mm + np.cos(tilt) * distance)]
    up = [float(np.sin(roll)), float(np.cos(roll)), 0.0]
    film = {"type": "hdrfilm", "width": spec.width_px, "height": spec.height_px, "pixel_format": "rgb"}
    common = {
        "fov": float(2 * np.degrees(np.arctan(spec.view / 2 / distance))),
        "fov_axis": "x",
        "to_world": renderer().ScalarTransform4f().look_at(origin=origin, target=[0, 0, spec.middle_mm], up=up),
        "film": {**film, "rfilter": {"type": "gaussian"}},
        "sampler": {"type": "independent", "sample_count": spec.spp},
    }
    if spec.aperture <= 0 or pinhole:
        return {"type": "perspective", **common}
    focus = spec.middle_mm if spec.focus is None else spec.focus
    return {
        "type": "thinlens",
        "aperture_radius": spec.aperture,
        "focus_distance": float(spec.camera - focus),
        **common,
    }


@dataclass(frozen=True, eq=False)
class Seen:
    """Where points are seen: x and y in px from the picture's corner, the map from px to mm there, the chief rays."""

    x_px: Floats
    y_px: Floats
    mm_per_px: Floats  # (n, 2, 2)
    ray: Floats  # (n, 3), unit vectors in the resin
    found: NDArray[np.bool_]


class Tracer:
    """Follows chief rays from pixels into a casting without voids."""

    def __init__(self, spec: Spec) -> None:
        mi = renderer()
        self.spec = spec
        self._camera = mi.load_dict(camera(spec, pinhole=True))
        self._body = mi.load_dict({"type": "scene", **loadable(body_shapes(spec))})

    def outside(self, x_px: Floats, y_px: Floats) -> Any:
        """Return the camera's rays through the pixels (px from the picture's corner)."""
        mi = renderer()
        x = np.asarray(x_px, np.float32) / self.spec.width_px
        y = np.asarray(y_px, np.float32) / self.spec.height_px
        return self._camera.sample_ray(0.0, 0.5, mi.Point2f(x, y), mi.Point2f(0.5, 0.5))[0]

    def inside(self, x_px: Floats, y_px: Floats) -> tuple[Floats, Floats, NDArray[np.bool_]]:
        """Return where the pixels' rays enter the casting, (n, 3), their ways in it, (n, 3), and which do, (n,)."""
        ray = self.outside(x_px, y_px)
        met = self._body.ray_intersect(ray)
        way, normal = rows(ray.d), rows(met.sh_frame.n)
        cosine = -np.sum(way * normal, 1)
        normal, cosine = normal * np.sign(cosine)[:, None], np.abs(cosine)
        slow = 1 / self.spec.n
        bent = slow * cosine - np.sqrt(np.maximum(1 - slow**2 * (1 - cosine**2), 0))
        turned = slow * way + bent[:, None] * normal
        length = np.maximum(np.linalg.norm(turned, axis=1, keepdims=True), 1e-12)
        return rows(met.p), turned / length, np.array(met.is_valid()).astype(bool)

    def locate(self, points: Floats) -> Seen:
        """Return where `points`, (n, 3) in mm, in the casting are seen through its surface."""
        x, y, found = self._start(points)
        jacobian, ray = np.tile(np.eye(2), (len(points), 1, 1)), np.tile([0.0, 0.0, -1.0], (len(points), 1))
        for _ in range(6):  # Newton steps: the offset across the ray is nearly linear in px
            offset, jacobian, ray, hit = self._offsets(points, x, y)
            found &= hit & (np.abs(np.linalg.det(jacobian)) > FLAT)
            jacobian[~found] = np.eye(2)
            step = np.clip(-np.linalg.solve(jacobian, offset[..., None])[..., 0], -20, 20)
            x, y = x + np.where(found, step[:, 0], 0), y + np.where(found, step[:, 1], 0)
        return Seen(x, y, jacobian, ray, found)

    def _start(self, points: Floats) -> tuple[Floats, Floats, NDArray[np.bool_]]:
        """Return the pixels of a coarse grid whose rays pass nearest to `points`, and which are near enough."""
        half = GRID_PX / 2
        across, down = np.arange(half, self.spec.width_px, GRID_PX), np.arange(half, self.spec.height_px, GRID_PX)
        grid = [g.ravel() for g in np.meshgrid(across, down)]
        start, way, hit = self.inside(*grid)
        start, way, grid = start[hit], way[hit], [g[hit] for g in grid]
        x, y, near = np.zeros(len(points)), np.zeros(len(points)), np.full(len(points), np.inf)
        for rows_now in np.array_split(np.arange(len(points)), len(points) // 64 + 1) if len(start) else ():
            some = points[rows_now]
            apart2 = np.sum(some**2, 1)[:, None] - 2 * some @ start.T + np.sum(start**2, 1)
            apart2 -= (some @ way.T - np.sum(start * way, 1)) ** 2
            best = np.argmin(apart2, 1) if len(some) else np.zeros(0, np.intp)
            x[rows_now], y[rows_now] = grid[0][best], grid[1][best]
            near[rows_now] = apart2[np.arange(len(some)), best]
        return x, y, near < NEAR_MM**2

    def _offsets(self, points: Floats, x: Floats, y: Floats) -> tuple[Floats, Floats, Floats, NDArray[np.bool_]]:
        """Return how far rays miss `points`, (n, 2), how that changes with px, the rays' ways, and which enter."""
        count, h = len(points), STEP_PX
        xs, ys = np.stack([x, x + h, x, x - h, x], 1).ravel(), np.stack([y, y, y + h, y, y - h], 1).ravel()
        start, way, hit = self.inside(xs, ys)
        start, way = start.reshape(count, 5, 3), way.reshape(count, 5, 3)
        gap = points[:, None] - start
        gap = gap - np.sum(gap * way, 2, keepdims=True) * way
        ray = way[:, 0]
        side = np.cross(ray, [0.0, 1.0, 0.0])
        side /= np.maximum(np.linalg.norm(side, axis=1, keepdims=True), 1e-9)
        miss = np.stack([np.einsum("nkc,nc->nk", gap, a) for a in (side, np.cross(ray, side))], 2)
        slope = np.stack([(miss[:, 1] - miss[:, 3]) / (2 * h), (miss[:, 2] - miss[:, 4]) / (2 * h)], 2)
        return miss[:, 0], slope, ray, np.all(hit.reshape(count, 5), axis=1)

    def direct(self, points: Floats) -> tuple[Floats, Floats]:
        """Return x and y (px from the picture's corner) of `points`, (n, 3) in mm, seen with no casting in the way."""
        wide, high = self.spec.width_px, self.spec.height_px
        rays = self.outside(np.array([0.5, 1.0, 0.5]) * wide, np.array([0.5, 0.5, 1.0]) * high)
        ahead, right, down = rows(rays.d)
        axes = np.stack([ahead, right / (right @ ahead) - ahead, down / (down @ ahead) - ahead])
        eye = rows(rays.o)[0]
        depth, u, v = np.linalg.solve(axes.T, (points - eye).T)
        return wide * (0.5 + u / depth / 2), high * (0.5 + v / depth / 2)


def rows(vectors: Any) -> Floats:
    """Return the renderer's vectors as rows, (n, 3)."""
    plain = np.array(vectors, np.float64)
    return plain.T if plain.ndim > 1 else plain[None]


def smaller(spec: Spec, times: int) -> Spec:
    """Return `spec` with a picture `times` smaller."""
    return replace(spec, width_px=spec.width_px // times, height_px=spec.height_px // times)
