"""Trace the sample photographs of this folder, with their truth.

    python sample_images/make_samples.py --out sample_images

A small workshop casts minnow-shaped lures and pours a test cup with each batch: in open air, at 30 psi and at 60 psi.
NAME.jpg are the photographs; truth.csv has one row a void in view, photographs.csv one row a photograph. Needs the
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

LARGEST_BYTES: Final = 400_000  # of one photograph
TRUTH_FIELDS: Final = {
    "x_px": "x",
    "y_px": "y",
    "diameter_px": "d_px",
    "diameter_mm": "d_mm",
    "visible": "visible",
    "hidden": "hidden",
    "lit": "lit",
    "stretch": "stretch",
}
CUP: Final = Spec(
    "cup",
    seed=1,
    radius=18.0,
    height=12.0,
    view=46.0,
    voids=60,
    dust=4,
    gap=2.0,
    median_mm=0.62,
    camera=300.0,
    width_px=1100,
    height_px=1100,
    noise=8000.0,
    jpeg=86,
)
LURE: Final = replace(
    CUP, body="lure", radius=34.0, width=19.0, height=13.0, view=82.0, width_px=1200, height_px=600, voids=35, dust=0
)

# What each photograph shows and how it is made; psi is the gauge pressure at which the resin set.
SAMPLES: Final = (
    ("test cup poured in open air", replace(CUP, name="cup-open-a", seed=311)),
    ("test cup poured in open air, second batch", replace(CUP, name="cup-open-b", seed=312, dust=7)),
    ("test cup cured at 30 psi", replace(CUP, name="cup-30psi-a", seed=313, psig=30.0)),
    ("test cup cured at 60 psi", replace(CUP, name="cup-60psi-a", seed=314, psig=60.0)),
    (
        "test cup without a void; dust and scratches on it",
        replace(CUP, name="cup-clear-a", seed=315, psig=60.0, voids=0, dust=12, scratches=4),
    ),
    (
        "tapered cup cured at 30 psi; every void over its wall is seen twice",
        replace(CUP, name="cup-tapered-a", seed=316, body="cup", psig=30.0, voids=90),
    ),
    ("lure without hardware", replace(LURE, name="lure-plain-a", seed=317, psig=30.0, voids=45)),
    (
        "glittered lure with wire, ballast and eye",
        replace(LURE, name="lure-glitter-a", seed=318, psig=30.0, flakes=70, wire=True, ballast=True, eye=True),
    ),
    (
        "spoiled: test cup poured in open air, so overexposed that the light clips",
        replace(CUP, name="cup-too-bright", seed=319, exposure=0.98),
    ),
)
# A cup beside a coin of 21.25 mm, in a folder of its own: its scale comes from the coin.
WITH_A_COIN: Final = (
    (
        "test cup poured in open air, beside a coin",
        replace(
            CUP, name="cup-coin-a", seed=331, coin=(21.25, 27.0, -19.0), dust=2, view=80.0, light=160.0,
            width_px=1500, height_px=1200, jpeg=84,
        ),
    ),
)  # fmt: skip


def traced(spec: Spec, folder: Path) -> dict[str, Any]:
    """Trace one photograph into `folder` and return its truth."""
    with tempfile.TemporaryDirectory() as made:
        render(spec, Path(made))
        photo = Path(made, f"{spec.name}.jpg")
        if photo.stat().st_size > LARGEST_BYTES:
            raise SystemExit(
                f"{photo.name} has {photo.stat().st_size} bytes, more than {LARGEST_BYTES}: lower its jpeg"
            )
        shutil.copyfile(photo, folder / photo.name)
        truth: dict[str, Any] = json.loads(Path(made, f"{spec.name}.json").read_text(encoding="utf-8"))
    return truth


def write_csv(path: Path, rows: list[dict[str, Any]]) -> None:
    """Write `rows`, of the same columns, to `path`."""
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


def main() -> None:
    """Trace every sample into the folder that the command line names."""
    parser = argparse.ArgumentParser(description="Trace the sample photographs and write their truth.")
    parser.add_argument("--out", type=Path, required=True, help="folder for the photographs and the two tables")
    folder: Path = parser.parse_args().out
    trace_all(SAMPLES, folder)
    trace_all(WITH_A_COIN, folder / "with-a-scale")


def trace_all(samples: tuple[tuple[str, Spec], ...], folder: Path) -> None:
    """Trace photographs and write their two tables into `folder`."""
    folder.mkdir(parents=True, exist_ok=True)
    voids: list[dict[str, Any]] = []
    photographs: list[dict[str, Any]] = []
    for shows, spec in samples:
        truth = traced(spec, folder)
        photo, scale = truth["photo"], round(truth["mm_per_px_mid_plane"], 6)
        voids += [{"photo": photo, **{to: row[name] for to, name in TRUTH_FIELDS.items()}} for row in truth["voids"]]
        photographs.append({"photo": photo, "psi": spec.psig, "mm_per_px": scale, "shows": shows})
        print(f"{photo}: {len(truth['voids'])} voids in view")
    write_csv(folder / "truth.csv", voids)
    write_csv(folder / "photographs.csv", photographs)


if __name__ == "__main__":
    main()
