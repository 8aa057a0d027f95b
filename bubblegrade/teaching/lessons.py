"""Lessons: the candidates of a picture of known truth, each with what it really is."""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from bubblegrade import optics
from bubblegrade.casting.outline import Outline, find_outline, whole_field
from bubblegrade.casting.transmittance import darkness
from bubblegrade.drawn.pictures import Scene, draw
from bubblegrade.drawn.populations import cup, population
from bubblegrade.drawn.processed import processed
from bubblegrade.drawn.smudges import smudges
from bubblegrade.photo.light import encoded, grey_light, linear
from bubblegrade.photo.reading import read_photo
from bubblegrade.settings import Settings
from bubblegrade.voids.detecting import begun_candidates, fitted_candidates
from bubblegrade.voids.fitting import Fits
from bubblegrade.voids.judging import OTHER_KINDS

Floats = NDArray[np.float64]
Codes = NDArray[np.uint8] | NDArray[np.uint16]
Clutter = tuple[str, float, float, float]  # kind, x, y, size in px
Column = NDArray[np.floating[Any]]

FULL: Final = 255.0
LEAST_TRUE_PX: Final = 4.5  # a smaller true void teaches nothing
RIGHT_CENTRE, RIGHT_SIZE = 0.2, 1.3  # a candidate this near (diameters) and alike within this ratio is the void
CLOSE_CENTRE, CLOSE_SIZE = 0.35, 2.1  # nearer than this it may be counted as it: teaches nothing
SMUDGED: Final = 0.15  # share of the pictures that get smudges, where they are altered
PROCESSED: Final = 0.45  # and that are saved as a phone would
BARE: Final = 0.12  # share of the drawn pictures that then hold smudges alone
KIND_OF: Final = {
    "flake": "flake", "fibre": "fibre", "rod": "fibre", "dust": "fibre", "speck": "speck", "pit": "pit",
    "scratch": "scratch", "hardware": "hardware", "wire": "hardware", "eye": "hardware", "ballast": "hardware",
}  # fmt: skip


@dataclass(frozen=True, eq=False)
class Truth:
    """What is in a picture."""

    x_px: Floats
    y_px: Floats
    diameter_px: Floats
    countable: NDArray[np.bool_]  # False: neither right nor wrong to count
    clutter: tuple[Clutter, ...] = ()


@dataclass(frozen=True, eq=False)
class Picture:
    """A picture of known truth."""

    codes: Codes
    outline: Outline
    truth: Truth
    index: float  # of the resin, as it is told
    body: str  # kind of casting


@dataclass(frozen=True, eq=False)
class SieveLesson:
    """N begun candidates of one picture."""

    looks: NDArray[np.float32]  # (N, F)
    is_void: NDArray[np.int8]  # (N,) 1 yes, 0 no, -1 teaches nothing


@dataclass(frozen=True, eq=False)
class Lesson:
    """N candidates of one picture."""

    numbers: NDArray[np.float32]  # (N, F)
    rays: NDArray[np.float16]  # (N, angles, radii)
    is_void: NDArray[np.int8]  # (N,) 1 yes, 0 no, -1 teaches nothing
    log_ratio: NDArray[np.float32]  # (N,) ln(true / fitted diameter); NaN where unknown
    other: NDArray[np.int8]  # (N,) place in OTHER_KINDS; -1 unknown
    fits: Fits  # their rings
    body: str  # kind of casting


def told_truth(photo: Path) -> Truth:
    """Return what the JSON beside a traced photograph tells."""
    told = json.loads(photo.with_suffix(".json").read_text())
    voids = told["voids"]
    return Truth(
        x_px=np.array([v["x"] for v in voids], np.float64),
        y_px=np.array([v["y"] for v in voids], np.float64),
        diameter_px=np.array([v["d_px"] for v in voids], np.float64),
        countable=np.array([_countable(v) for v in voids], bool),
        clutter=tuple((c["kind"], c["x"], c["y"], c["size_px"]) for c in told.get("clutter", ())),
    )


def sieve_lesson(picture: Picture) -> SieveLesson:
    """Return what a picture teaches the sieve."""
    light = darkness(grey_light(picture.codes), picture.outline)
    begun = begun_candidates(light, picture.outline, Settings(index=picture.index))
    fits = begun.fits
    is_void, _ = _matched(fits.x_px, fits.y_px, 2.0 * fits.radius_px, picture.truth)
    return SieveLesson(begun.looks, is_void)


def judge_lesson(picture: Picture) -> Lesson:
    """Return what a picture teaches the judge."""
    light = darkness(grey_light(picture.codes), picture.outline)
    fitted = fitted_candidates(light, picture.codes, picture.outline, Settings(index=picture.index))
    x, y, diameter = fitted.fits.x_px, fitted.fits.y_px, 2.0 * fitted.fits.radius_px
    is_void, log_ratio = _matched(x, y, diameter, picture.truth)
    numbers, rays = fitted.looks.numbers, fitted.looks.rays.astype(np.float16)
    return Lesson(numbers, rays, is_void, log_ratio, _others(x, y, picture.truth), fitted.fits, picture.body)


def traced_picture(photo: Path, seed: int, *, altered: bool = False) -> Picture | None:
    """Return a traced photograph that has its truth in a JSON beside it; None if it shows no casting."""
    spec = json.loads(photo.with_suffix(".json").read_text())["spec"]
    index = spec["n"] if seed % 2 else Settings().index  # half the time the resin is known
    codes = read_photo(photo).codes
    outline = find_outline(grey_light(codes))
    if outline is None:
        return None
    truth = told_truth(photo)
    rng = np.random.default_rng((78, seed))
    if altered and rng.random() < SMUDGED:
        passed, places = smudges(codes.shape[:2], rng)
        codes, truth = _dimmed(codes, passed), replace(truth, clutter=(*truth.clutter, *_specks(places)))
    if altered and rng.random() < PROCESSED:
        codes = processed(np.asarray(codes, np.uint8), rng)
    return Picture(codes, outline, truth, round(index, 2), spec["body"])


def drawn_picture(seed: int, *, altered: bool = False) -> Picture:
    """Return a drawn picture: lights, indices, blurs and crowding more varied than castings show."""
    rng = np.random.default_rng((77, seed))
    index = float(rng.uniform(1.33, 1.58))
    whole = bool(rng.random() < 0.5)  # noqa: PLR2004
    size = int(rng.integers(500, 1000))
    count = int(np.exp(rng.uniform(np.log(10), np.log(400))))
    sizes = population(count, np.exp(rng.uniform(np.log(6), np.log(30))), rng.uniform(1.2, 1.9), rng=rng)
    scene = cup(
        np.clip(sizes, 3, size / 4), mm_per_px=1.0, gap_px=-float(rng.uniform(0, 8)), rng=rng,
        width_px=size, height_px=size, casting_px=size * (0.8 if whole else 0.42), index=index,
        theta=float(rng.uniform(0.05, 1.0)) * optics.widest_light(index=index), wall=float(rng.uniform(0, 0.8)),
        level=float(rng.uniform(0.3, 0.8)), gradient=float(rng.uniform(-0.3, 0.3)), vignette=float(rng.uniform(0, 0.3)),
        electrons=0.0,
    )  # fmt: skip
    dirt = np.random.default_rng((78, seed))
    bare = altered and dirt.random() < BARE
    if bare:
        scene = replace(scene, x_px=(), y_px=(), diameter_px=())
    light, places = _in_layers(scene, rng), np.empty((0, 3))
    if bare or (altered and dirt.random() < SMUDGED):
        passed, places = smudges(light.shape, dirt)
        light = light * passed
    codes = _developed(light, rng)
    if altered and dirt.random() < PROCESSED:
        codes = processed(codes, dirt)
    x, y, diameter = (np.asarray(a, np.float64) for a in (scene.x_px, scene.y_px, scene.diameter_px))
    truth = Truth(x, y, diameter, _uncovered(scene) & (diameter >= LEAST_TRUE_PX), _specks(places))
    outline = (None if whole else find_outline(grey_light(codes))) or whole_field(grey_light(codes))
    told = round(index, 2) if seed % 2 else Settings().index
    return Picture(codes, outline, truth, told, "drawn")


def _specks(places: Floats) -> tuple[Clutter, ...]:
    """Return smudges, (N, 3) x, y and width in px, as clutter."""
    return tuple(("speck", x, y, wide) for x, y, wide in places.tolist())


def _dimmed(codes: Codes, passed: Floats) -> Codes:
    """Return a photograph of which every pixel got only a share of its light."""
    full = np.iinfo(codes.dtype).max
    share = passed if codes.ndim == 2 else passed[..., None]  # noqa: PLR2004
    dimmed = encoded(linear(codes / full) * share) * full + 0.5
    return dimmed.astype(np.uint8) if codes.dtype == np.uint8 else dimmed.astype(np.uint16)


def _in_layers(scene: Scene, rng: np.random.Generator) -> Floats:
    """Return the scene's linear light, its voids at three depths with a blur each, as in shallow focus."""
    sharpest = float(np.exp(rng.uniform(np.log(0.5), np.log(1.5))))
    blurs = sharpest * np.array([1.0, *rng.uniform(1, 5, 2)]) if rng.random() < 0.6 else np.full(3, sharpest)  # noqa: PLR2004
    bare = replace(scene, x_px=(), y_px=(), diameter_px=(), blur_px=sharpest)
    empty = linear(draw(bare).picture[..., 0] / FULL)
    light = empty.copy()
    layer = rng.integers(3, size=np.size(scene.x_px))
    x, y, diameter = (np.asarray(a, np.float64) for a in (scene.x_px, scene.y_px, scene.diameter_px))
    for number, blur in enumerate(blurs):
        mine = layer == number
        one = draw(replace(scene, x_px=x[mine], y_px=y[mine], diameter_px=diameter[mine], blur_px=float(blur)))
        light *= linear(one.picture[..., 0] / FULL) / np.maximum(empty, 1e-3)
    return np.asarray(light)


def _developed(light: Floats, rng: np.random.Generator) -> NDArray[np.uint8]:
    """Return linear light as a camera saves it: photon noise, sRGB, JPEG."""
    electrons = float(np.exp(rng.uniform(6.7, 9.2)))
    noisy = rng.poisson(np.clip(light, 0, 1) * electrons) / electrons
    picture = (encoded(np.clip(noisy, 0, 1)) * FULL + 0.5).astype(np.uint8)
    saved, data = cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(70, 97))])
    assert saved, "a drawn picture is always savable"  # noqa: S101
    return np.asarray(cv2.imdecode(data, cv2.IMREAD_COLOR), np.uint8)


def _countable(void: dict[str, Any]) -> bool:
    """Say whether a traced void must be found: large enough, not hidden, lit, not drawn out by the surface."""
    return bool(
        void["d_px"] >= LEAST_TRUE_PX
        and void["visible"] >= 0.6  # noqa: PLR2004
        and void["hidden"] <= 0.6  # noqa: PLR2004
        and void["lit"] >= 0.6  # noqa: PLR2004
        and void["stretch"] <= 1.5  # noqa: PLR2004
    )


def _uncovered(scene: Scene) -> NDArray[np.bool_]:
    """Say which drawn voids are not mostly under one larger void."""
    x, y, d = (np.asarray(a, np.float64) for a in (scene.x_px, scene.y_px, scene.diameter_px))
    apart = np.hypot(x[:, None] - x, y[:, None] - y)
    under = (apart < d[None, :] / 2 - 0.1 * d[:, None]) & (d[None, :] > 1.5 * d[:, None])
    return np.asarray(~under.any(axis=1))


def _matched(x: Column, y: Column, diameter: Column, truth: Truth) -> tuple[NDArray[np.int8], NDArray[np.float32]]:
    """Return for each candidate whether it is a void (1, 0, -1: not told), and ln(true / fitted diameter)."""
    is_void = np.zeros(len(x), np.int8)
    log_ratio = np.full(len(x), np.nan, np.float32)
    if not len(truth.x_px):
        return is_void, log_ratio
    near = cKDTree(np.stack([truth.x_px, truth.y_px], axis=1)).query_ball_point(
        np.stack([x, y], axis=1), np.maximum(3.0, 1.3 * diameter)
    )
    for i, others in enumerate(near):
        true = np.array(others, np.intp)
        off = np.hypot(truth.x_px[true] - x[i], truth.y_px[true] - y[i])
        size = truth.diameter_px[true]
        ratio = np.abs(np.log(size / diameter[i]))
        right = (off < np.maximum(1.5, RIGHT_CENTRE * size)) & (ratio < np.log(RIGHT_SIZE))
        if right.any():
            best = int(np.argmin(np.where(right, off / size + ratio, np.inf)))
            is_void[i] = 1 if truth.countable[true[best]] else -1
            log_ratio[i] = np.log(size[best] / diameter[i]) if is_void[i] == 1 else np.nan
        elif _close(off, size, ratio, truth.countable[true]):
            is_void[i] = -1
    return is_void, log_ratio


def _close(off: Floats, size: Floats, ratio: Floats, countable: NDArray[np.bool_]) -> bool:
    """Say whether a candidate may pass for one of the voids near it."""
    passing = (off < np.maximum(2.5, CLOSE_CENTRE * size)) & (ratio < np.log(CLOSE_SIZE))
    around = ~countable & (off < np.maximum(3.0, 0.6 * size))
    return bool((passing | around).any())


def _others(x: Column, y: Column, truth: Truth) -> NDArray[np.int8]:
    """Return which kind of clutter each candidate lies on, -1 for none."""
    other = np.full(len(x), -1, np.int8)
    for kind, cx, cy, size in truth.clutter:
        other[np.hypot(x - cx, y - cy) < max(3.0, 0.5 * size)] = OTHER_KINDS.index(KIND_OF[kind])
    return other
