"""What is known of a camera's lens: from a calibration, from the focal length that a photograph carries, or nothing.

The picture's middle is taken as the optical axis. A telephone's lies within a hundredth of it; on a plane with marks on
all sides of the casting that looks like a little more tilt, which the marks show anyway.
"""

from __future__ import annotations

import math
import tomllib
from dataclasses import dataclass
from typing import Any, Final

from bubblegrade.errors import InputError

VERSION: Final = 1  # of the lens file
FILM_DIAGONAL_MM: Final = math.hypot(36.0, 24.0)  # what focal lengths in 35 mm equivalents refer to (CIPA DCG-001)
# A telephone's main camera; most lie between 23 and 35 mm (common practice).
USUAL_35MM: Final = 27.0
USUAL_ERR_SHARE: Final = 0.3
WIDEST_35MM: Final = 13.0  # the widest lens that telephones have (common practice)
AXIS_ERR: Final = 0.01 / math.sqrt(3.0)  # of the longer side: the axis lies anywhere within a hundredth of the middle
# Written to full mm, for a lens set to infinity: near focus and picture stabilisation change it.
NOTED_ERR_SHARE: Final = 0.04
# Cameras correct their pictures more or less: what is left lies within these (judgement).
USUAL_K1_ERR, USUAL_K2_ERR = 0.15, 0.1
SAME_ASPECT: Final = 0.002  # how far the ratio of two sides may differ: a row lost in turning or halving


@dataclass(frozen=True)
class Lens:
    """A lens and how well it is known; k1 and k2 as OpenCV has them, lengths in px of pictures of `shape_px`."""

    shape_px: tuple[int, int]  # rows and columns
    focal_px: float
    focal_err_px: float
    k1: float
    k1_err: float
    k2: float
    k2_err: float
    source: str  # in words: where it came from
    is_known: bool = True  # False where even the focal length is a guess

    @property
    def centre_px(self) -> tuple[float, float]:
        """Return x and y of the picture's middle."""
        return ((self.shape_px[1] - 1) / 2, (self.shape_px[0] - 1) / 2)

    @property
    def focal_35mm(self) -> float:
        """Return the focal length in 35 mm equivalents."""
        return self.focal_px / math.hypot(*self.shape_px) * FILM_DIAGONAL_MM


@dataclass(frozen=True)
class Calibration:
    """A calibrated lens and how well the photographs agree."""

    lens: Lens
    rms_px: float
    photographs: int


def lens_from_focal(focal_35mm: float, shape_px: tuple[int, int]) -> Lens:
    """Return what a focal length in 35 mm equivalents tells of a lens; NaN tells nothing.

    >>> round(lens_from_focal(26.0, (3000, 4000)).focal_px)
    3005
    """
    known = math.isfinite(focal_35mm) and focal_35mm > 0.0
    focal_px = (focal_35mm if known else USUAL_35MM) / FILM_DIAGONAL_MM * math.hypot(*shape_px)
    return Lens(
        shape_px=shape_px,
        focal_px=focal_px,
        focal_err_px=focal_px * (NOTED_ERR_SHARE if known else USUAL_ERR_SHARE),
        k1=0.0,
        k1_err=USUAL_K1_ERR,
        k2=0.0,
        k2_err=USUAL_K2_ERR,
        source="focal length noted in the photograph" if known else "unknown",
        is_known=known,
    )


def lens_for(lens: Lens, shape_px: tuple[int, int], *, name: str = "the photograph") -> Lens:
    """Return the lens for pictures of another size, upright or on their side.

    Raises
    ------
    InputError
        The sides have another ratio: such a picture was cropped, or comes from another camera.

    >>> lens_for(lens_from_focal(26.0, (3000, 4000)), (2000, 1500)).shape_px
    (2000, 1500)
    """
    ratio, other = (max(shape) / min(shape) for shape in (lens.shape_px, shape_px))
    if abs(ratio / other - 1.0) > SAME_ASPECT:
        theirs, ours = (f"{shape[1]} x {shape[0]} px" for shape in (lens.shape_px, shape_px))
        raise InputError(
            f"{name} is {ours}, and the lens was calibrated on {theirs}, of another shape: "
            "give uncropped photographs, or calibrate the lens on such pictures"
        )
    factor = max(shape_px) / max(lens.shape_px)
    return Lens(
        shape_px=shape_px,
        focal_px=lens.focal_px * factor,
        focal_err_px=lens.focal_err_px * factor,
        k1=lens.k1,
        k1_err=lens.k1_err,
        k2=lens.k2,
        k2_err=lens.k2_err,
        source=lens.source,
        is_known=lens.is_known,
    )


def lens_text(found: Calibration) -> str:
    """Return a calibration as the text of a lens file."""
    lens = found.lens
    rows, cols = lens.shape_px
    x, y = lens.centre_px
    return "\n".join(
        (
            "# A camera's lens, calibrated by bubblegrade. Lengths in pixels of pictures of this width and height.",
            f"version = {VERSION}",
            f"width_px = {cols}",
            f"height_px = {rows}",
            f"focal_px = {lens.focal_px:.2f}",
            f"focal_err_px = {lens.focal_err_px:.2f} # one standard uncertainty",
            f"centre_px = [{x:.1f}, {y:.1f}] # x, y: the picture's middle",
            f"k1 = {lens.k1:.6f} # radial distortion, 1 + k1 r^2 + k2 r^4",
            f"k1_err = {lens.k1_err:.6f}",
            f"k2 = {lens.k2:.6f}",
            f"k2_err = {lens.k2_err:.6f}",
            f"rms_px = {found.rms_px:.4f} # how far the fine marks lie from where this lens would show them",
            f"photographs = {found.photographs}",
            "",
        )
    )


def lens_from_text(text: str, *, name: str) -> Calibration:
    """Return the calibration in a lens file's text; `name` names it in an error.

    Raises
    ------
    InputError
        It is no lens file, of another version, or a number is missing or absurd.
    """
    try:
        table = tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        raise InputError(f"{name} is no lens file ({error}): make one with bubblegrade lens") from error
    if table.get("version") != VERSION:
        raise InputError(
            f"{name} is no lens file of version {VERSION} (it says version {table.get('version', 'nothing')}): "
            "make it again with bubblegrade lens"
        )
    lens = Lens(
        shape_px=(int(_number(table, "height_px", name, least=1)), int(_number(table, "width_px", name, least=1))),
        focal_px=_number(table, "focal_px", name, least=1),
        focal_err_px=_number(table, "focal_err_px", name, least=0),
        k1=_number(table, "k1", name),
        k1_err=_number(table, "k1_err", name, least=1e-6),
        k2=_number(table, "k2", name),
        k2_err=_number(table, "k2_err", name, least=1e-6),
        source=f"lens file {name}",
    )
    return Calibration(
        lens=lens,
        rms_px=_number(table, "rms_px", name, least=0),
        photographs=int(_number(table, "photographs", name, least=1)),
    )


def _number(table: dict[str, Any], key: str, name: str, *, least: float = -math.inf) -> float:
    """Return a number of a lens file."""
    value = table.get(key)
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value) or value < least:
        raise InputError(f"{name}: {key} is {value!r}, which no lens has: make the file again with bubblegrade lens")
    return float(value)
