"""Photographs of pressure gauges of known needle: drawn face, needle above it, glass, rim, camera, light.

A face is drawn flat and large; needle and glare lie in planes of their own above it, so that a slanting camera shifts
them against the print as it does in a workshop. Faces differ in print, needle and colours; all of them are our own.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray

Image = NDArray[np.floating[Any]]
Codes = NDArray[np.uint8]

FLAT_PX: Final = 500.0  # radius of the print when drawn flat
FLAT_SIDE: Final = 1400  # of the flat drawing, in px
CAMERA_RADII: Final = 14.0  # usual distance of the camera, in radii of the dial
SHIFT: Final = 4  # bits of a fraction of a px in which OpenCV draws
WORDS: Final = (("psi", "CL 2.5"), ("bar", "KL 1.6"), ("psi", "AIR"), ("kPa x100", "2.0"), ("psi", "dry air"))
FONTS: Final = (cv2.FONT_HERSHEY_SIMPLEX, cv2.FONT_HERSHEY_DUPLEX, cv2.FONT_HERSHEY_COMPLEX)


@dataclass(frozen=True)
class DialFace:
    """What a dial looks like; grey values 0 to 1, lengths in radii of the print."""

    ground: float = 0.92
    ink: float = 0.08
    needle: float = 0.1
    rim: float = 0.6
    sweep_deg: float = 270.0
    majors: int = 10  # divisions with a number
    minors: int = 5  # parts of each
    top: float = 100.0  # the number at the end of the scale
    words: int = 0  # which of `WORDS`
    font: int = 0
    needle_wide: float = 0.05  # at the hub
    needle_long: float = 0.8
    tail_long: float = 0.25
    tail_round: bool = False
    band: bool = False  # a coloured arc at the end of the scale
    inner_scale: bool = False
    needle_high: float = 0.08  # above the print


@dataclass(frozen=True)
class Shot:
    """How a dial is photographed."""

    needle_deg: float  # clockwise from the start of the scale
    radius_px: float = 300.0
    tilt_deg: float = 0.0
    tilt_to_deg: float = 0.0  # direction in which the dial leans away
    roll_deg: float = 0.0
    exposure: float = 1.0
    glare: float = 0.0  # brightness of the reflection; 0 none
    glare_at: tuple[float, float] = (0.3, -0.3)
    shadow: float = 0.25  # of the needle on the print; 0 none
    noise: float = 0.01
    quality: int = 90  # of JPEG


def varied_face(random: np.random.Generator) -> DialFace:
    """Return a face of its own."""
    dark = random.random() < 0.25  # noqa: PLR2004 - a quarter of dials
    return DialFace(
        ground=random.uniform(0.05, 0.15) if dark else random.uniform(0.75, 0.95),
        ink=random.uniform(0.8, 0.95) if dark else random.uniform(0.03, 0.2),
        needle=random.uniform(0.75, 0.95) if dark else random.uniform(0.03, 0.35),
        rim=random.uniform(0.05, 0.8),
        majors=int(random.choice([6, 8, 10, 12])),
        minors=int(random.choice([2, 4, 5, 10])),
        top=float(random.choice([60.0, 100.0, 160.0])),
        words=int(random.integers(len(WORDS))),
        font=int(random.integers(len(FONTS))),
        needle_wide=random.uniform(0.03, 0.07),
        needle_long=random.uniform(0.68, 0.88),
        tail_long=random.uniform(0.1, 0.3),
        tail_round=bool(random.random() < 0.5),  # noqa: PLR2004
        band=bool(random.random() < 0.4),  # noqa: PLR2004
        inner_scale=bool(random.random() < 0.3),  # noqa: PLR2004
        needle_high=random.uniform(0.03, 0.12),
    )


def varied_shot(random: np.random.Generator, needle_deg: float, *, glare: bool = True) -> Shot:
    """Return a photograph taken by hand: up to 20 degrees oblique, now and then with a reflection."""
    return Shot(
        needle_deg=needle_deg,
        radius_px=random.uniform(130.0, 800.0),
        tilt_deg=random.uniform(0.0, 20.0),
        tilt_to_deg=random.uniform(0.0, 360.0),
        roll_deg=random.uniform(-12.0, 12.0),
        exposure=random.uniform(0.6, 1.25),
        glare=random.uniform(0.2, 0.9) if glare and random.random() < 0.5 else 0.0,  # noqa: PLR2004
        glare_at=(random.uniform(-0.6, 0.6), random.uniform(-0.6, 0.6)),
        shadow=random.uniform(0.0, 0.5),
        noise=random.uniform(0.005, 0.02),
        quality=int(random.integers(75, 96)),
    )


def photograph(face: DialFace, shot: Shot, seed: int) -> Codes:
    """Return a photograph, shape (rows, cols, 3) uint8, the dial in its middle; the same seed gives the same."""
    random = np.random.default_rng(seed)
    small = shot.radius_px / FLAT_PX
    side = round(shot.radius_px * 3.0)
    print_to_photo = _camera(shot, side, height=0.0)
    scene = _warped(_printed(face), print_to_photo, side, small)
    scene = _laid_over(scene, _needle(face, shot, shadow=True), face, shot, side)
    scene = _laid_over(scene, _needle(face, shot, shadow=False), face, replace(shot, shadow=0.0), side)
    if shot.glare > 0.0:
        scene += shot.glare * _warped(_glare(shot), _camera(shot, side, height=0.2), side, small)
    ground = random.uniform(0.3, 0.7) + 0.05 * cv2.resize(random.normal(size=(9, 9)), (side, side))
    case = _warped(_case(), _camera(shot, side, height=0.15), side, small)
    scene = np.where(case > 0.5, scene, ground)  # noqa: PLR2004 - the case's edge
    light = np.clip(shot.exposure * scene + random.normal(0.0, shot.noise, scene.shape), 0.0, 1.0)
    codes = np.round(255.0 * light ** (1.0 / 1.8)).astype(np.uint8)
    done, data = cv2.imencode(".jpg", cv2.merge([codes] * 3), [cv2.IMWRITE_JPEG_QUALITY, shot.quality])
    assert done  # noqa: S101 - a picture of our own can be written
    return np.asarray(cv2.imdecode(data, cv2.IMREAD_COLOR), np.uint8)


def _camera(shot: Shot, side: int, *, height: float) -> NDArray[np.float64]:
    """Return the homography from the flat drawing, at a height above the print, to the photograph."""
    tilt, to, roll = (math.radians(angle) for angle in (shot.tilt_deg, shot.tilt_to_deg, shot.roll_deg))
    axis = np.array([[-math.sin(to)], [math.cos(to)], [0.0]]) * tilt
    turn = cv2.Rodrigues(axis)[0] @ cv2.Rodrigues(np.array([[0.0], [0.0], [roll]]))[0]
    focal = shot.radius_px * CAMERA_RADII
    inner = np.array([[focal, 0.0, side / 2.0], [0.0, focal, side / 2.0], [0.0, 0.0, 1.0]])
    centre = np.array([0.0, 0.0, CAMERA_RADII]) + turn @ np.array([0.0, 0.0, -height])
    plane = np.stack([turn[:, 0], turn[:, 1], centre], axis=1)
    half = FLAT_SIDE / 2.0
    flat = np.array([[1.0 / FLAT_PX, 0.0, -half / FLAT_PX], [0.0, 1.0 / FLAT_PX, -half / FLAT_PX], [0.0, 0.0, 1.0]])
    return np.asarray(inner @ plane @ flat, np.float64)


def _warped(flat: Image, homography: NDArray[np.float64], side: int, small: float) -> Image:
    """Return a flat drawing as the camera sees it, blurred before where it is made smaller."""
    sharp = np.asarray(cv2.GaussianBlur(flat, (0, 0), 0.45 / small)) if small < 1.0 else flat
    return np.asarray(cv2.warpPerspective(sharp, homography, (side, side), flags=cv2.INTER_LINEAR), np.float64)


def _laid_over(scene: Image, cover: Image, face: DialFace, shot: Shot, side: int) -> Image:
    """Return the scene with needle or shadow laid over it; `shot.shadow` above 0 means its shadow."""
    small = shot.radius_px / FLAT_PX
    if shot.shadow > 0.0:
        return np.asarray(scene * (1.0 - shot.shadow * _warped(cover, _camera(shot, side, height=0.0), side, small)))
    mask = _warped(cover, _camera(shot, side, height=face.needle_high), side, small)
    return np.asarray(scene * (1.0 - mask) + face.needle * mask)


def _point(radius: float, deg: float) -> tuple[int, int]:
    """Return a place on the flat drawing, in OpenCV's fractions; degrees clockwise from straight up."""
    angle = math.radians(deg)
    x = FLAT_SIDE / 2.0 + FLAT_PX * radius * math.sin(angle)
    y = FLAT_SIDE / 2.0 - FLAT_PX * radius * math.cos(angle)
    return round(x * 2**SHIFT), round(y * 2**SHIFT)


def _disc(image: Codes, radius: float, value: float) -> None:
    cv2.circle(image, _point(0.0, 0.0), round(FLAT_PX * radius * 2**SHIFT), _grey(value), -1, cv2.LINE_AA, SHIFT)


def _grey(value: float) -> int:
    """Return a grey value as OpenCV draws smooth lines with, 8 bits."""
    return round(255.0 * value)


def _finished(image: Codes) -> Image:
    """Return a flat drawing in grey values of 0 to 1."""
    return np.asarray(image, np.float64) / 255.0


def _scale_deg(face: DialFace, share: float) -> float:
    """Return where on the dial a share of the scale lies, in degrees clockwise from straight up."""
    return face.sweep_deg * (share - 0.5)


def _printed(face: DialFace) -> Image:
    """Return rim and print, flat."""
    image = np.zeros((FLAT_SIDE, FLAT_SIDE), np.uint8)
    _disc(image, 1.22, face.rim * 0.6)
    _disc(image, 1.18, face.rim)
    _disc(image, 1.06, face.rim * 0.45)
    _disc(image, 1.02, face.ground)
    count = face.majors * face.minors
    for number in range(count + 1):
        major = number % face.minors == 0
        deg = _scale_deg(face, number / count)
        inner, wide = (0.83, 7) if major else (0.89, 3)
        cv2.line(image, _point(0.95, deg), _point(inner, deg), _grey(face.ink), wide, cv2.LINE_AA, SHIFT)
        if face.inner_scale and number % 2 == 0:
            cv2.line(image, _point(0.52, deg + 2.0), _point(0.48, deg + 2.0), _grey(face.ink), 2, cv2.LINE_AA, SHIFT)
        if major:
            _text(image, f"{face.top * number / count:.0f}", 0.7, deg, face, 1.3)
    if face.band:
        axes = (round(FLAT_PX * 0.97),) * 2
        start = _scale_deg(face, 0.8) - 90.0
        cv2.ellipse(image, (FLAT_SIDE // 2,) * 2, axes, start, 0.0, 0.2 * face.sweep_deg, _grey(0.5), 10, cv2.LINE_AA)
    unit, grade = WORDS[face.words]
    _text(image, unit, 0.35, 180.0, face, 1.4)
    _text(image, grade, 0.6, 180.0, face, 0.9)
    return _finished(image)


def _text(image: Codes, text: str, radius: float, deg: float, face: DialFace, size: float) -> None:
    """Write a word on the flat drawing, centred."""
    (wide, high), _ = cv2.getTextSize(text, FONTS[face.font], size, 3)
    x, y = (part / 2**SHIFT for part in _point(radius, deg))
    place = (round(x - wide / 2.0), round(y + high / 2.0))
    cv2.putText(image, text, place, FONTS[face.font], size, _grey(face.ink), 3, cv2.LINE_AA)


def _needle(face: DialFace, shot: Shot, *, shadow: bool) -> Image:
    """Return the needle's cover, 0 to 1, or that of its shadow, which falls beside it and is soft."""
    image = np.zeros((FLAT_SIDE, FLAT_SIDE), np.uint8)
    deg = _scale_deg(face, 0.0) + shot.needle_deg
    side = math.degrees(math.atan2(face.needle_wide / 2.0, 0.1))
    near = math.hypot(0.1, face.needle_wide / 2.0)
    tip = math.degrees(0.004 / face.needle_long)
    outline = [_point(near, deg - side), _point(face.needle_long, deg - tip)]
    outline += [_point(face.needle_long, deg + tip), _point(near, deg + side)]
    back = math.degrees(math.atan2(face.needle_wide / 2.0, face.tail_long))
    outline += [_point(face.tail_long, deg + 180.0 - back), _point(face.tail_long, deg + 180.0 + back)]
    cv2.fillPoly(image, [np.array(outline, np.int32)], 255, cv2.LINE_AA, SHIFT)
    _disc(image, 0.09, 1.0)
    if face.tail_round:
        place = _point(face.tail_long, deg + 180.0)
        cv2.circle(image, place, round(0.06 * FLAT_PX * 2**SHIFT), 255, -1, cv2.LINE_AA, SHIFT)
    cover = _finished(image)
    if not shadow:
        return cover
    moved = np.array([[1.0, 0.0, 0.5 * face.needle_high * FLAT_PX], [0.0, 1.0, 0.7 * face.needle_high * FLAT_PX]])
    return np.asarray(cv2.GaussianBlur(cv2.warpAffine(cover, moved, (FLAT_SIDE,) * 2), (0, 0), 9.0), np.float64)


def _glare(shot: Shot) -> Image:
    """Return a window's reflection in the glass, flat."""
    image = np.zeros((FLAT_SIDE, FLAT_SIDE), np.uint8)
    middle = FLAT_SIDE / 2.0 + FLAT_PX * np.array(shot.glare_at)
    corners = cv2.boxPoints((tuple(middle), (230.0, 300.0), 25.0))
    cv2.fillPoly(image, [corners.astype(np.int32)], 255, cv2.LINE_AA)
    return np.asarray(cv2.GaussianBlur(_finished(image), (0, 0), 12.0), np.float64)


def _case() -> Image:
    """Return the case's outline, flat, 0 or 1."""
    image = np.zeros((FLAT_SIDE, FLAT_SIDE), np.uint8)
    _disc(image, 1.22, 1.0)
    return _finished(image)
