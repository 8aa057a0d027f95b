"""Trace a cup and a lure, and each again later: turned, otherwise lit, its voids as they were or 5 % larger.

    python tests/truth/make_grown.py --out tests/truth/grown

Needs the extra `render`; set MI_VARIANT=cuda_ad_rgb on a machine with a GPU.
"""

from __future__ import annotations

import argparse
from dataclasses import replace
from pathlib import Path
from typing import Final

from bubblegrade.drawn.spec import Spec
from bubblegrade.drawn.traced import render

CUP: Final = Spec(
    "cup-first", seed=560, radius=18.0, height=12.0, view=46.0, voids=25, dust=4, gap=2.0, median_mm=0.62, camera=300.0,
    width_px=1100, height_px=1100, noise=8000.0, jpeg=86,
)  # fmt: skip
LURE: Final = replace(
    CUP, name="lure-first", seed=530, body="lure", radius=34.0, width=19.0, height=13.0, view=82.0, width_px=1200,
    height_px=600, voids=45, dust=0,
)  # fmt: skip
LATER: Final = (
    replace(CUP, name="cup-same", turn=90.385, dust_seed=567, exposure=0.5526),
    replace(CUP, name="cup-grown", turn=90.385, dust_seed=567, exposure=0.6729, grow=1.05),
    replace(LURE, name="lure-same", turn=-0.158, dust_seed=537, exposure=0.6123),
    replace(LURE, name="lure-grown", turn=-0.158, dust_seed=537, exposure=0.6421, grow=1.05),
)


def main() -> None:
    """Trace every photograph into the folder that the command line names."""
    parser = argparse.ArgumentParser(description="Trace pieces photographed twice.")
    parser.add_argument("--out", type=Path, required=True, help="folder for the photographs")
    folder: Path = parser.parse_args().out
    for spec in (CUP, LURE, *LATER):
        render(spec, folder)
        (folder / f"{spec.name}.json").unlink()


if __name__ == "__main__":
    main()
