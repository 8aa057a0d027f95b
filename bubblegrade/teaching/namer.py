"""Teach the namer of dark marks, after the judge:

python -m bubblegrade.teaching.namer --traced traced-1 traced-2 --out bubblegrade/voids/namer.npz
"""  # noqa: D400

from __future__ import annotations

import argparse
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import numpy as np

from bubblegrade.teaching.mark_lessons import traced_marks
from bubblegrade.teaching.training import saved_namer, taught_namer


def main() -> None:
    """Make the lessons, teach, and write the namer."""
    parser = argparse.ArgumentParser(description="Teach the namer of dark marks.")
    parser.add_argument("--traced", type=Path, nargs="+", required=True, help="folders of traced photographs")
    parser.add_argument("--out", type=Path, required=True, help="the namer's file")
    parser.add_argument("--trainings", type=int, default=5)
    parser.add_argument("--processes", type=int, default=2)
    asked = parser.parse_args()
    pictures = [photo for folder in asked.traced for photo in sorted(folder.glob("*.jpg"))]
    with ProcessPoolExecutor(asked.processes) as pool:
        lessons = [lesson for lesson in pool.map(traced_marks, pictures, chunksize=4) if lesson is not None]
    features = np.concatenate([lesson.features for lesson in lessons])
    kind = np.concatenate([lesson.kind for lesson in lessons])
    saved_namer(taught_namer(features, kind, trainings=asked.trainings), asked.out)


if __name__ == "__main__":
    main()
