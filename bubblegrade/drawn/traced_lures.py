"""Traced lures of known faults: the lures of `lure_faults` as clear bodies with a light behind, turned and resized.

    python -m bubblegrade.drawn.traced_lures --each 12 --seed 1 --out DIR

traces 12 lures of each kind into DIR; what kind a lure is of stands in its name.
"""

from __future__ import annotations

import argparse
from dataclasses import replace
from pathlib import Path
from typing import Final

import numpy as np

from bubblegrade.drawn.bodies import Floats, inside
from bubblegrade.drawn.lure_faults import FAULTLESS, FAULTS
from bubblegrade.drawn.lures import BACK_PX, BELLY_PX, EYE_PLACE, EYE_PX, LENGTH_PX, WIDTH_PX, Lure
from bubblegrade.drawn.spec import Planted, Spec

MM_PER_PX: Final = 0.165  # of a drawn lure at size 1: the eye is then as large as a traced one
VOID_MM_PER_PX: Final = 0.0825  # of its voids and the distances between them: the limits are 1 to 1.5 mm
THICK_MM: Final = 13.0
FRAME: Final = 1.25  # side of the picture over the lure's length
LENGTHS_PX: Final = (500.0, 2000.0)  # of the lure in the picture: four times from the smallest to the largest
DEPTHS: Final = np.linspace(0.05, 0.95, 37)  # shares of the thickness that a void is tried at
INWARD: Final = 0.97  # of its distance from the middle, what a void that the body has no room for is brought to
TRIES: Final = 60


def traced_lure(kind: str, number: int, seed: int) -> Spec:
    """Return one lure of a kind of `lure_faults`.

    >>> len(traced_lure("cluster", 0, 1).planted)
    3
    """
    rng = np.random.default_rng([seed, number, *kind.encode()])
    lure = {**FAULTLESS, **FAULTS}[kind](rng)
    length_mm, flake_mm = LENGTH_PX * MM_PER_PX, lure.flake_px * MM_PER_PX
    side_px = round(FRAME * float(np.exp(rng.uniform(*np.log(LENGTHS_PX)))))
    spec = Spec(
        name=f"{kind.replace(' ', '-')}-{number:03d}",
        seed=int(rng.integers(1, 2**21)),
        body="lure",
        radius=length_mm / 2,
        width=WIDTH_PX * MM_PER_PX,
        belly=(BELLY_PX - BACK_PX) / WIDTH_PX,
        height=THICK_MM,
        n=float(rng.uniform(1.48, 1.57)),
        voids=0,
        eye=True,
        wire=lure.wire is not None,
        flakes=lure.flakes,
        flake_mm=(0.3 * flake_mm, 0.5 * flake_mm),
        light=float(rng.uniform(90.0, 160.0)),
        roll=float(rng.uniform(-180.0, 180.0)),
        view=FRAME * length_mm,
        width_px=side_px,
        height_px=side_px,
        exposure=float(rng.uniform(0.5, 0.7)),
        blur=float(rng.uniform(0.5, 1.0)),
        jpeg=90,
        extra={"eye": _mm(*EYE_PLACE)} | ({"wire": (*_mm(*lure.wire[:2]), *_mm(*lure.wire[2:]))} if lure.wire else {}),
    )
    places = _places(kind, lure)
    return replace(
        spec, planted=tuple(_planted(spec, place, void[2], rng) for place, void in zip(places, lure.voids, strict=True))
    )


def _mm(along: float, across: float) -> tuple[float, float]:
    """Return a place on a drawn lure as x and y of the traced body, in mm."""
    return (along - 0.5) * LENGTH_PX * MM_PER_PX, (across * WIDTH_PX - BACK_PX) * MM_PER_PX


def _places(kind: str, lure: Lure) -> Floats:
    """Return x and y of the lure's voids, (N, 2) in mm, as near to each other or to the eye as they are small."""
    places = np.array([_mm(along, across) for along, across, _ in lure.voids]).reshape(-1, 2)
    closer = VOID_MM_PER_PX / MM_PER_PX
    if kind == "cluster":
        return np.asarray(places.mean(axis=0) + closer * (places - places.mean(axis=0)))
    if kind == "beside the eye":
        away = places - np.array(_mm(*EYE_PLACE))
        far = np.linalg.norm(away, axis=1, keepdims=True)
        rim = EYE_PX / 2 * MM_PER_PX
        return np.asarray(np.array(_mm(*EYE_PLACE)) + away / far * (rim + closer * (far - rim)))
    return places


def _planted(spec: Spec, place: Floats, diameter_px: float, rng: np.random.Generator) -> Planted:
    """Return a void at a depth where the body has room for it, brought nearer to the middle line where it has none."""
    x, y = map(float, place)
    diameter = diameter_px * VOID_MM_PER_PX
    for _ in range(TRIES):
        heights = spec.gap + DEPTHS * spec.height
        room = [float(z) for z in heights if inside(spec, np.array([x, y, z]), diameter / 2)]
        if room:
            return x, y, float(rng.choice(room)), diameter
        y *= INWARD
    raise ValueError(f"a void of {diameter:.2f} mm has no room at {x:.1f} mm along: choose another place")


def main(arguments: list[str] | None = None) -> None:
    """Trace the lures that the command line asks for."""
    from bubblegrade.drawn.traced import render  # noqa: PLC0415  the specs are of use without the renderer

    parser = argparse.ArgumentParser(description="Trace lures with one planted fault each, or none.")
    parser.add_argument("--each", type=int, required=True, help="lures of each kind")
    parser.add_argument("--seed", type=int, required=True, help="different seeds give different lures")
    parser.add_argument("--out", type=Path, required=True, help="folder for NAME.jpg and NAME.json")
    parser.add_argument("--part", default="1/1", help="i/k: the i-th of k parts, from 1")
    chosen = parser.parse_args(arguments)
    part, parts = (int(number) for number in chosen.part.split("/"))
    wanted = [(kind, number) for number in range(chosen.each) for kind in (*FAULTLESS, *FAULTS)]
    for kind, number in wanted[part - 1 :: parts]:
        render(traced_lure(kind, number, chosen.seed), chosen.out)


if __name__ == "__main__":
    main()
