"""Trace the photographs on which the naming of dark marks is tested, with their truth.

    python tests/truth/make_kinds.py --out tests/truth/kinds

Trade forms of glitter, fibres, hardware, pits and scratches, and misshapen voids; nothing was taught on them. Needs the
extra `render`; set MI_VARIANT=cuda_ad_rgb on a machine with a GPU.
"""

from __future__ import annotations

import argparse
import csv
import json
import shutil
import tempfile
from dataclasses import replace
from pathlib import Path
from typing import Any, Final

from bubblegrade.drawn.spec import Spec
from bubblegrade.drawn.traced import render

PUCK: Final = Spec(
    "puck", seed=1, radius=18.0, height=12.0, view=46.0, voids=40, gap=2.0, median_mm=0.6, camera=300.0,
    width_px=1000, height_px=1000, noise=7000.0, jpeg=88,
)  # fmt: skip
SLAB: Final = replace(PUCK, body="slab", radius=24.0, width=26.0, height=8.0, view=58.0, width_px=1100, height_px=650)
LURE: Final = replace(PUCK, body="lure", radius=30.0, width=19.0, height=13.0, view=72.0, width_px=1300, height_px=600)
CASTINGS: Final = (
    replace(LURE, name="lure-hexagons", seed=911, flakes=60, flake_mm=(0.25, 0.55), wire=True, ballast=True, eye=True),
    replace(
        LURE, name="lure-foil", seed=912, flakes=45, flake_kinds=("foil", "crumb"), flake_mm=(0.3, 0.8), coloured=0.6,
        eye=True, eye_kind="disc", hardware=("ring", "screw"), rods=8, psig=30.0,
    ),
    replace(
        LURE, name="lure-discs", seed=913, flakes=50, flake_kinds=("disc", "square"), flake_mm=(0.25, 0.5),
        ballast=True, hardware=("bead", "ring", "bar"), tint=(1.0, 0.8, 0.45), psig=40.0,
    ),
    replace(LURE, name="lure-rigged", seed=919, wire=True, ballast=True, eye=True, eye_kind="disc", psig=40.0),
    replace(
        LURE, name="lure-stout", seed=920, radius=26.0, width=24.0, height=16.0, view=64.0, wire=True, ballast=True,
        eye=True, eye_kind="stalk", flakes=15, flake_kinds=("crumb",), n=1.53,
    ),
    replace(
        LURE, name="lure-slim", seed=921, radius=38.0, width=14.0, height=10.0, view=92.0, width_px=1500, height_px=500,
        wire=True, ballast=True, eye=True, voids=25, tint=(0.55, 0.72, 1.0),
    ),
    replace(
        SLAB, name="slab-flakes", seed=914, flakes=60, flake_kinds=("hexagon", "foil"), flake_mm=(0.2, 0.6),
        coloured=0.3, dust=15, hardware=("bar", "plate", "screw"),
    ),
    replace(
        SLAB, name="slab-pins", seed=915, hardware=("bead", "ring", "plate", "bar", "screw", "bead"), n=1.55, flakes=20,
        flake_mm=(0.3, 0.6), noise=3000.0, blur=0.9, rods=10,
    ),
    replace(PUCK, name="puck-fibres", seed=916, rods=25, dust=20, pits=8, psig=30.0),
    replace(PUCK, name="puck-dust", seed=917, dust=45, scratches=8, pits=8, tint=(1.0, 0.8, 0.45), specks=10),
    replace(PUCK, name="puck-misshapen", seed=918, misshapen=0.5, voids=60, dust=12, rods=10),
)  # fmt: skip
CLUTTER: Final = ("kind", "x", "y", "size_px")
VOIDS: Final = ("x", "y", "d_px", "visible", "hidden", "lit", "stretch")


def main() -> None:
    """Trace every casting into the folder that the command line names."""
    parser = argparse.ArgumentParser(description="Trace the photographs for the naming of dark marks.")
    parser.add_argument("--out", type=Path, required=True, help="folder for the photographs and the two tables")
    folder: Path = parser.parse_args().out
    folder.mkdir(parents=True, exist_ok=True)
    tables: dict[str, list[dict[str, Any]]] = {"clutter.csv": [], "voids.csv": []}
    for spec in CASTINGS:
        with tempfile.TemporaryDirectory() as made:
            render(spec, Path(made))
            shutil.copyfile(Path(made, f"{spec.name}.jpg"), folder / f"{spec.name}.jpg")
            truth = json.loads(Path(made, f"{spec.name}.json").read_text(encoding="utf-8"))
        for table, key, columns in (("clutter.csv", "clutter", CLUTTER), ("voids.csv", "voids", VOIDS)):
            tables[table] += [{"photo": truth["photo"], **{c: row[c] for c in columns}} for row in truth[key]]
    for name, rows in tables.items():
        with (folder / name).open("w", encoding="utf-8", newline="") as file:
            writer = csv.DictWriter(file, list(rows[0]), lineterminator="\n")
            writer.writeheader()
            writer.writerows(rows)


if __name__ == "__main__":
    main()
