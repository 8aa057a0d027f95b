"""Traced: ray-traced photographs of clear castings on a backlight, with the exact truth of every void.

    spec = Spec("lure-a", seed=7, body="lure", radius=38, view=90, width_px=1600, height_px=800, wire=True)
    render(spec, Path("out"))

writes out/lure-a.jpg and out/lure-a.json.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray

from bubblegrade.drawn.bodies import ball_mesh, stretching
from bubblegrade.drawn.clutter import Shape, diffuse, named_shapes, placed, twosided
from bubblegrade.drawn.contents import Void, casting
from bubblegrade.drawn.pictures import srgb
from bubblegrade.drawn.rays import Tracer, body_shapes, camera, loadable, renderer, smaller
from bubblegrade.drawn.spec import COIN_MM, Spec
from bubblegrade.drawn.truth import truth

__all__ = ["Spec", "develop", "render"]

LIGHT_PX: Final = 512  # side of the picture of the light
PASS_RAYS: Final = 45_000_000  # pixels times rays that are traced at once


def _void_shape(spec: Spec, void: Void) -> Shape:
    air = {"type": "dielectric", "int_ior": 1.0, "ext_ior": spec.n}
    if void.shape is None:
        return {"type": "sphere", "center": void.place_mm.tolist(), "radius": void.radius_mm, "bsdf": air}
    vertices, faces = ball_mesh()
    return {
        "type": "mesh",
        "mesh": (vertices @ stretching(*void.shape).T * void.radius_mm + void.place_mm, faces),
        "bsdf": air,
    }


def _light(spec: Spec) -> Shape:
    """Return the backlight, its brightness as a picture."""
    mi = renderer()
    y, x = np.mgrid[-1 : 1 : LIGHT_PX * 1j, -1 : 1 : LIGHT_PX * 1j]
    level = 1 - spec.vignette * (x**2 + y**2) / 2 + spec.gradient * x / 2
    waves = spec.light / 9.0 * np.pi
    level *= 1 + spec.ledgrid * np.cos(waves * x) * np.cos(waves * y)
    picture = np.repeat(level[..., None], 3, 2).astype(np.float32) * spec.extra.get("light_picture", np.float32(1))
    bright = {"type": "bitmap", "bitmap": mi.Bitmap(picture), "raw": True, "filter_type": "bilinear"}
    return {
        "type": "rectangle",
        "to_world": placed(np.zeros(3), [spec.light / 2, spec.light / 2, 1]),
        "bsdf": diffuse(0.6),
        "emitter": {"type": "area", "radiance": bright},
    }


def _coin(spec: Spec) -> dict[str, Shape]:
    """Return the coin that lies on the light beside the casting: its side and its top."""
    if spec.coin is None:
        return {}
    across, x, y = spec.coin
    foot, top = [x, y, spec.gap], [x, y, spec.gap + COIN_MM]
    metal = twosided(diffuse(0.3))
    side = {"type": "cylinder", "p0": foot, "p1": top, "radius": across / 2, "bsdf": metal}
    face = {"type": "disk", "to_world": placed(np.array(top), [across / 2, across / 2, 1]), "bsdf": metal}
    return {"coin_side": side, "coin_top": face}


def _scene(spec: Spec, shapes: dict[str, Shape]) -> dict[str, Any]:
    """Return a scene of the light, the casting's body, the camera and `shapes`."""
    scene: dict[str, Any] = {
        "type": "scene",
        "integrator": {"type": "path", "max_depth": 28, "rr_depth": 60},
        "light": _light(spec),
        "cam": camera(spec),
        **body_shapes(spec),
        **_coin(spec),
        **shapes,
    }
    if spec.extra.get("room"):
        scene["room"] = {"type": "constant", "radiance": {"type": "rgb", "value": spec.extra["room"]}}
    return scene


def _trace(scene: dict[str, Any], spec: Spec, rays: int, salt: int = 0) -> NDArray[np.float64]:
    """Return the linear picture at `rays` a pixel, in passes so that a large one fits the memory."""
    mi = renderer()
    loaded = mi.load_dict(loadable(scene))
    total: NDArray[np.float64] = np.zeros((spec.height_px, spec.width_px, 3))
    at_once = max(1, min(16, PASS_RAYS // (spec.width_px * spec.height_px)))
    for first in range(0, rays, at_once):
        some = min(at_once, rays - first)
        seed = (spec.seed * 1000 + salt + first // at_once) % 2**32
        total += np.array(mi.render(loaded, spp=some, seed=seed)) * some
    return total / rays


def develop(spec: Spec, linear: NDArray[np.float64]) -> NDArray[np.uint8]:
    """Return `linear`, (h, w, 3), as a camera leaves it: exposure, blur, noise, sharpening, sRGB in 8 bits."""
    rng = np.random.default_rng(spec.seed + 1)
    light = linear * spec.exposure
    if spec.blur:
        light = np.asarray(cv2.GaussianBlur(light, (0, 0), spec.blur), np.float64)
    light = rng.poisson(np.clip(light, 0, None) * spec.noise) / spec.noise + rng.normal(0, 0.002, light.shape)
    light = np.clip(light, 0, 1)
    code = srgb(light)
    if spec.sharpen:
        code = code + spec.sharpen * (code - cv2.GaussianBlur(code, (0, 0), 1.2))
    return (np.clip(code, 0, 1) * 255 + 0.5).astype(np.uint8)


def render(spec: Spec, folder: Path) -> None:
    """Write NAME.jpg and NAME.json, the truth, into `folder`.

    Raises
    ------
    OSError
        The picture cannot be written.
    """
    folder.mkdir(parents=True, exist_ok=True)
    cast, tracer = casting(spec), Tracer(spec)
    embedded, loose = named_shapes(cast.embedded, "hard"), named_shapes(cast.loose, "loose")
    voids = {f"v{i}": _void_shape(spec, void) for i, void in enumerate(cast.voids)}
    linear = _trace(_scene(spec, {**embedded, **loose, **voids}), spec, spec.spp)
    covered = _covered(tracer)
    soft = cv2.GaussianBlur(covered.astype(np.float64), (0, 0), 1)[..., None]
    picture = develop(spec, linear * (1 - soft + soft * np.array(spec.tint)))
    few = smaller(spec, 4)
    small = _trace(_scene(few, {}), few, 32, 500)[..., 1].clip(0).astype(np.float32)
    bare = np.asarray(cv2.resize(small, (spec.width_px, spec.height_px), interpolation=cv2.INTER_LINEAR), np.float32)
    quality = [int(cv2.IMWRITE_JPEG_QUALITY), spec.jpeg]
    path = folder / f"{spec.name}.jpg"
    if not cv2.imwrite(str(path), picture[..., ::-1], quality):
        raise OSError(f"{path} could not be written: is the folder writable?")
    (folder / f"{spec.name}.json").write_text(json.dumps(truth(cast, tracer, bare, int(covered.sum()))))


def _covered(tracer: Tracer) -> NDArray[np.bool_]:
    """Return which pixels show the casting, (h, w)."""
    shape = tracer.spec.height_px, tracer.spec.width_px
    y, x = np.indices(shape) + 0.5
    return tracer.inside(x.ravel(), y.ravel())[2].reshape(shape)
