"""Teach the sieve of begun candidates, before the judge:

python -m bubblegrade.teaching.sieve --traced traced-1 traced-2 --drawn 320 --out bubblegrade/voids/sieve.npz
"""  # noqa: D400

from __future__ import annotations

import argparse
from pathlib import Path

import numpy as np

from bubblegrade.teaching.lessons import sieve_lesson
from bubblegrade.teaching.pictures import each_picture
from bubblegrade.teaching.training import saved_sieve, taught_sieve


def main() -> None:
    """Make the lessons, teach, and write the sieve."""
    parser = argparse.ArgumentParser(description="Teach the sieve of begun candidates.")
    parser.add_argument("--traced", type=Path, nargs="+", default=[], help="folders of traced photographs")
    parser.add_argument("--drawn", type=int, default=0, help="how many drawn pictures to add")
    parser.add_argument("--out", type=Path, required=True, help="the sieve's file")
    parser.add_argument("--trainings", type=int, default=1)
    parser.add_argument("--processes", type=int, default=2)
    asked = parser.parse_args()
    lessons = each_picture(sieve_lesson, asked.traced, asked.drawn, processes=asked.processes)
    looks = np.concatenate([lesson.looks for lesson in lessons])
    is_void = np.concatenate([lesson.is_void for lesson in lessons])
    told = is_void >= 0
    saved_sieve(taught_sieve(looks[told], is_void[told], trainings=asked.trainings), asked.out)


if __name__ == "__main__":
    main()
