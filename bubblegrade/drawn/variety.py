"""Variety: castings, lights and cameras drawn widely, to train and try the finder on.

    python -m bubblegrade.drawn.variety --count 200 --seed 1 --out DIR --part 1/4

traces the first quarter of 200 photographs into DIR. A part holds every k-th picture, and the same seed always
draws the same pictures. With --large the castings hold few voids, many of them large; with --detailed the pictures are
as large as good cameras take them, and voids so wide in them that the others are seen through their cores; with --body
all are of one kind.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final

import numpy as np

from bubblegrade.drawn.spec import EYE_KINDS, FLAKE_KINDS, HARDWARE_KINDS, Body, Spec

Fields = dict[str, Any]

BODIES: Final[tuple[Body, ...]] = ("puck", "slab", "cup", "lure")
BODY_SHARES: Final = (0.45, 0.12, 0.18, 0.25)
CLEAN_SHARE: Final = 0.08  # of castings without a void
MESHES_MOST: Final = 300  # voids in a casting that may be misshapen: each is a mesh
CROWDED: Final = 0.03  # largest share of the casting that voids take
TINTS: Final = ((1.0, 0.8, 0.45), (0.6, 0.58, 0.55), (0.55, 0.72, 1.0), (0.55, 0.9, 0.62))  # amber, smoke, blue, green
LARGE_MM: Final = (0.5, 3.0)  # median diameter where voids are few and large
LARGE_SHARE: Final = 0.2  # of the casting's thickness, which that median does not exceed
PANEL_MARGIN: Final = 1.1  # least side of the light over the casting's extent
LARGEST_PX: Final = 1700  # height of a picture
DETAILED_PX: Final = (2400, 4200)  # width of a picture that a good camera takes, and
DETAILED_MOST_PX: Final = 4000  # its height
DETAILED_MM: Final = (0.35, 0.9)  # median diameter of the voids that it shows
DETAILED_VOIDS: Final = (20, 600)
FILLED: Final = (0.55, 0.85)  # share of the frame that the casting takes


class Dice:
    """Draws the numbers of one picture."""

    def __init__(self, *seed: int) -> None:
        self.rng = np.random.default_rng(seed)

    def chance(self, share: float) -> bool:
        """Return True in `share` of the draws."""
        return bool(self.rng.random() < share)

    def even(self, low: float, high: float) -> float:
        """Return a number between `low` and `high`."""
        return round(float(self.rng.uniform(low, high)), 4)

    def log_even(self, low: float, high: float) -> float:
        """Return a number between `low` and `high`, even in its logarithm."""
        return round(float(np.exp(self.rng.uniform(np.log(low), np.log(high)))), 4)

    def some(self, share: float, most: int) -> int:
        """Return in `share` of the draws a count between 1 and `most`, even in its logarithm; else 0."""
        return int(self.log_even(1, most + 1)) if self.chance(share) else 0


def training_specs(
    count: int, seed: int, *, large: bool = False, detailed: bool = False, body: Body | None = None
) -> list[Spec]:
    """Return `count` specs that differ widely; the first of them do not depend on `count`.

    On request with few and large voids, or as many wide ones in large pictures, and all of one body.

    >>> [spec.name for spec in training_specs(2, 5)]
    ['drawn-5-0000', 'drawn-5-0001']
    """
    voids = _large_voids if large else _wide_voids if detailed else _voids
    size = _detailed_size if detailed else _usual_size
    return [_spec(f"drawn-{seed}-{i:04d}", Dice(seed, i), voids, size, body) for i in range(count)]


def _spec(
    name: str, dice: Dice, voids: Callable[[Fields, Dice], Fields], size: Callable[[Dice, float], int],
    body: Body | None,
) -> Spec:  # fmt: skip
    """Return one spec."""
    drawn = BODIES[int(dice.rng.choice(len(BODIES), p=BODY_SHARES))]
    body = body or drawn
    fields: Fields = {"name": name, "seed": int(dice.rng.integers(1, 2**21)), "body": body, **_size(body, dice)}
    fields |= _light(dice) | voids(fields, dice) | _inside(body, dice) | _outside(dice) | _lens(dice)
    return Spec(**fields | _frame(Spec(**fields), dice, size))


def _size(body: Body, dice: Dice) -> Fields:
    """Return the casting's size (mm), resin and tint."""
    ranges = {
        "puck": ((9, 27), (5, 25), (18, 18)),
        "slab": ((14, 32), (4, 15), (18, 50)),
        "cup": ((12, 28), (8, 22), (18, 18)),
        "lure": ((20, 48), (8, 18), (11, 26)),
    }[body]
    radius, height, width = (dice.even(*r) for r in ranges)
    tint = TINTS[int(dice.rng.integers(len(TINTS)))] if dice.chance(0.35) else (1.0, 1.0, 1.0)
    strength = dice.even(0.2, 1.0)
    return {
        "radius": radius,
        "height": height,
        "width": width,
        "n": dice.even(1.46, 1.58),
        "tint": tuple(round(1 - strength * (1 - c), 3) for c in tint),
        "extra": {"meniscus": dice.even(0.4, 2.4)} if body == "cup" else {},
    }


def _voids(fields: Fields, dice: Dice) -> Fields:
    """Return the population of voids, thinned where they would crowd the casting."""
    median, gsd, psig = dice.even(0.25, 0.7), dice.even(1.3, 1.8), dice.even(0, 80) if dice.chance(0.7) else 0.0
    most = min(900, _uncrowded(fields, median, gsd, psig))
    count = 0 if dice.chance(CLEAN_SHARE) else int(dice.log_even(1, most))
    return {
        "voids": count,
        "median_mm": median,
        "gsd": gsd,
        "psig": psig,
        "surface_voids": dice.some(0.15, 40) if count and fields["body"] != "cup" else 0,
        "misshapen": dice.even(0.05, 0.4) if dice.chance(0.2) and count < MESHES_MOST else 0.0,
    }


def _uncrowded(fields: Fields, median: float, gsd: float, psig: float) -> int:
    """Return how many voids of a population, lognormal and squeezed, a casting holds without being crowded."""
    area = np.pi * fields["radius"] ** 2
    if fields["body"] in ("slab", "lure"):
        area = fields["radius"] * fields["width"] * (2.0 if fields["body"] == "slab" else 1.0)
    one = np.pi / 6 * median**3 * np.exp(4.5 * np.log(gsd) ** 2) * 14.7 / (14.7 + psig)
    return max(3, int(CROWDED * area * fields["height"] / one))


def _wide_voids(fields: Fields, dice: Dice) -> Fields:
    """Return a population of voids that are wide in a large picture."""
    median, gsd, psig = dice.even(*DETAILED_MM), dice.even(1.3, 1.8), dice.even(0, 60) if dice.chance(0.4) else 0.0
    few, many = DETAILED_VOIDS
    return {
        "voids": min(int(dice.log_even(few, many)), _uncrowded(fields, median, gsd, psig)),
        "median_mm": median,
        "gsd": gsd,
        "psig": psig,
    }


def _large_voids(fields: Fields, dice: Dice) -> Fields:
    """Return a population of few voids, many of them large."""
    largest = max(LARGE_MM[0], LARGE_SHARE * fields["height"])
    return {
        "voids": int(dice.log_even(1, 30)),
        "median_mm": min(dice.log_even(*LARGE_MM), round(largest, 4)),
        "gsd": dice.even(1.1, 2.2),
        "misshapen": dice.even(0.05, 0.4) if dice.chance(0.2) else 0.0,
    }


def _inside(body: Body, dice: Dice) -> Fields:
    """Return the hardware, glitter and fibres in the resin."""
    lure = body == "lure"
    kinds = dice.rng.permutation(FLAKE_KINDS)[: dice.rng.integers(1, 4)].tolist()
    small = dice.log_even(0.06, 0.3)
    fittings = dice.rng.choice(HARDWARE_KINDS, dice.some(0.4 if lure else 0.15, 4)).tolist()
    return {
        "flakes": dice.some(0.6 if lure else 0.35, 150),
        "flake_kinds": tuple(kinds),
        "flake_mm": (small, small * dice.even(1.2, 3.0)),
        "coloured": dice.even(0, 1) if dice.chance(0.5) else 0.0,
        "rods": dice.some(0.25, 25),
        "wire": lure and dice.chance(0.5),
        "ballast": lure and dice.chance(0.4),
        "eye": lure and dice.chance(0.45),
        "eye_kind": EYE_KINDS[int(dice.rng.integers(len(EYE_KINDS)))],
        "hardware": tuple(fittings),
    }


def _outside(dice: Dice) -> Fields:
    """Return what lies on the casting and on the light."""
    return {
        "dust": dice.some(0.4, 60),
        "specks": dice.some(0.25, 30),
        "pits": dice.some(0.3, 25),
        "scratches": dice.some(0.3, 15),
    }


def _light(dice: Dice) -> Fields:
    """Return the panel (mm) and how unevenly it shines."""
    return {
        "light": dice.log_even(80, 200) if dice.chance(0.65) else dice.log_even(50, 400),
        "gap": dice.log_even(0.5, 15),
        "vignette": dice.even(0, 0.35),
        "gradient": dice.even(-0.4, 0.4) if dice.chance(0.35) else 0.0,
        "ledgrid": dice.even(0.01, 0.12) if dice.chance(0.25) else 0.0,
    }


def _lens(dice: Dice) -> Fields:
    """Return the camera's place and how it develops."""
    return {
        "camera": dice.even(180, 450),
        "tilt": dice.even(5, 20) if dice.chance(0.15) else dice.even(0, 5),
        "roll": dice.even(-180, 180),
        "aperture": dice.even(0.3, 3.0) if dice.chance(0.25) else 0.0,
        "exposure": dice.even(0.3, 0.8),
        "noise": dice.log_even(800, 10000),
        "blur": dice.even(0.4, 2.0) if dice.chance(0.5) else dice.even(0.4, 1.0),
        "sharpen": dice.even(0, 0.8),
        "jpeg": int(dice.rng.integers(60, 97)),
    }


def _usual_size(dice: Dice, shape: float) -> int:
    """Return the width in px of a picture of `shape`, its height over its width."""
    return int(min(dice.log_even(1100, 1700) if dice.chance(0.75) else dice.log_even(700, 1100), LARGEST_PX / shape))


def _detailed_size(dice: Dice, shape: float) -> int:
    """Return the width in px of a large picture of `shape`, its height over its width."""
    return int(min(dice.log_even(*DETAILED_PX), DETAILED_MOST_PX / shape))


def _frame(spec: Spec, dice: Dice, size: Callable[[Dice, float], int]) -> Fields:
    """Return the frame, and a camera and a light that take in the whole casting."""
    cos, sin = abs(np.cos(np.radians(spec.roll))), abs(np.sin(np.radians(spec.roll)))
    reach_x, reach_y = spec.reach_mm
    if spec.body in ("puck", "cup"):
        cos, sin = 1.0, 0.0
    lean = spec.height / 2 * np.sin(np.radians(spec.tilt))  # the top and the bottom part ways
    wide, high = 2 * (reach_x * cos + reach_y * sin + lean), 2 * (reach_x * sin + reach_y * cos + lean)
    shape = float(np.clip(high / wide * dice.even(0.9, 1.15), 0.5, 1.5))  # height of the frame over its width
    view = max(wide, high / shape) / dice.even(*FILLED)
    camera = max(spec.camera, 1.3 * view * max(1.0, shape))
    view *= camera / (camera - spec.height)  # the top is nearer and looks larger
    width_px = size(dice, shape)
    focus = spec.gap + spec.height * dice.even(-0.3, 1.3)
    return {
        "view": round(view, 3),
        "camera": round(camera, 3),
        "width_px": width_px,
        "height_px": int(width_px * shape),
        "focus": round(focus, 3) if spec.aperture else None,
        "light": max(spec.light, round(PANEL_MARGIN * 2 * max(reach_x, reach_y), 2)),
    }


def main(arguments: list[str] | None = None) -> None:
    """Trace the photographs that the command line asks for; one that cannot be traced is named and left out."""
    from bubblegrade.drawn.traced import render  # noqa: PLC0415  the specs are of use without the renderer

    parser = argparse.ArgumentParser(description="Trace widely varied photographs of castings, with their truth.")
    parser.add_argument("--count", type=int, required=True, help="pictures in all parts together")
    parser.add_argument("--seed", type=int, required=True, help="different seeds give different pictures")
    parser.add_argument("--out", type=Path, required=True, help="folder for NAME.jpg and NAME.json")
    parser.add_argument("--part", default="1/1", help="i/k: the i-th of k parts, from 1")
    parser.add_argument("--large", action="store_true", help="few voids, many of them large")
    parser.add_argument("--detailed", action="store_true", help="large pictures, in which voids are wide")
    parser.add_argument("--body", choices=BODIES, help="castings of this kind only")
    chosen = parser.parse_args(arguments)
    part, parts = (int(number) for number in chosen.part.split("/"))
    asked = {"large": chosen.large, "detailed": chosen.detailed, "body": chosen.body}
    for spec in training_specs(chosen.count, chosen.seed, **asked)[part - 1 :: parts]:
        began = time.perf_counter()
        try:
            render(spec, chosen.out)
            outcome = f"{time.perf_counter() - began:.1f} s"
        except (RuntimeError, ValueError, OSError, np.linalg.LinAlgError) as fault:
            outcome = f"left out: {fault}"
        sys.stdout.write(f"{spec.name} {spec.body} {spec.voids} voids: {outcome}\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main()
