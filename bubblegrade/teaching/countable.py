"""Make the table of the smallest countable size:

python -m bubblegrade.teaching.countable --out bubblegrade/voids/countable.npz
"""  # noqa: D400

from __future__ import annotations

import argparse
from concurrent.futures import ProcessPoolExecutor
from itertools import product
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from bubblegrade.casting.outline import whole_field
from bubblegrade.casting.transmittance import darkness
from bubblegrade.photo.light import Light, encoded
from bubblegrade.settings import Settings
from bubblegrade.voids.countable import BLUR_PX, CONTRAST, NOISE
from bubblegrade.voids.detecting import find_voids
from bubblegrade.voids.lighting import usual_lighting
from bubblegrade.voids.planting import measured_limit, plantable
from bubblegrade.voids.rings import ring_table
from bubblegrade.voids.table import Voids

SIDE_PX: Final = 1000
FULL: Final = 255.0
LEVEL: Final = 0.5  # linear light
SIZES_PX: Final = np.geomspace(3.5, 30.0, 14)
EACH: Final = 12  # voids of each size in a picture
PICTURES: Final = 2


def limit_px(contrast: float, noise: float, blur_px: float) -> float:
    """Return the diameter from which on 90 % of the planted voids are found; NaN if that is at none."""
    lighting = usual_lighting()
    table = ring_table(lighting.theta, lighting.wall)
    field = np.full((SIDE_PX, SIDE_PX), LEVEL, np.float32)
    outline = whole_field(field)
    limits = []
    for seed in range(PICTURES):
        rng = np.random.default_rng((seed, round(1e4 * contrast), round(1e4 * noise), round(1e2 * blur_px)))
        grain = rng.normal(0, noise, field.shape).astype(np.float32)

        def find(light: Light, grain: NDArray[np.float32] = grain) -> Voids:
            seen = np.clip(light * (1 + grain), 0, 1)
            codes = (FULL * encoded(seen) + 0.5).astype(np.uint8)
            return find_voids(darkness(seen, outline), codes, outline, Settings(smallest_px=3.0)).voids

        spots = plantable(np.ones(field.shape, bool), Voids.none(), seed=seed, sizes_px=SIZES_PX, each=EACH)
        depth = contrast / table.mean_darkness
        limits.append(measured_limit(field, spots, find, table, blur_px=blur_px, depth=depth).limit_px)
    return float(np.mean(limits))


def _cell(at: tuple[float, float, float]) -> float:
    return limit_px(*at)


def main() -> None:
    """Plant voids at every contrast, noise and blur, and write the sizes."""
    parser = argparse.ArgumentParser(description="Make the table of the smallest countable size.")
    parser.add_argument("--out", type=Path, required=True, help="the table's file")
    parser.add_argument("--processes", type=int, default=2)
    asked = parser.parse_args()
    cells = list(product(CONTRAST.tolist(), NOISE.tolist(), BLUR_PX.tolist()))
    with ProcessPoolExecutor(asked.processes) as pool:
        limits = np.array(list(pool.map(_cell, cells, chunksize=4)))
    limits = ordered(limits.reshape(len(CONTRAST), len(NOISE), len(BLUR_PX)))
    np.savez_compressed(asked.out, limit_px=limits.astype(np.float32))


def ordered(limits: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return sizes that never fall with less contrast, more noise or more blur, as chance would let them; NaN stays."""
    sizes = np.where(np.isnan(limits), np.inf, limits)
    sizes = np.maximum.accumulate(sizes[::-1], axis=0)[::-1]
    sizes = np.maximum.accumulate(np.maximum.accumulate(sizes, axis=1), axis=2)
    return np.where(np.isinf(sizes), np.nan, sizes)


if __name__ == "__main__":
    main()
