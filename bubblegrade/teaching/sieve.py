"""Teach the sieve of begun candidates, before the judge:

python -m bubblegrade.teaching.sieve --traced traced-1 traced-2 --drawn 320 --out bubblegrade/voids/sieve.npz
"""  # noqa: D400

from __future__ import annotations

import numpy as np

from bubblegrade.teaching.lessons import sieve_lesson
from bubblegrade.teaching.pictures import asked, each_picture
from bubblegrade.teaching.training import saved_sieve, taught_sieve


def main() -> None:
    """Make the lessons, teach, and write the sieve."""
    wanted = asked("Teach the sieve of begun candidates.", trainings=1).parse_args()
    lessons = each_picture(sieve_lesson, wanted.traced, wanted.drawn, processes=wanted.processes)
    looks = np.concatenate([lesson.looks for lesson in lessons])
    is_void = np.concatenate([lesson.is_void for lesson in lessons])
    told = is_void >= 0
    saved_sieve(taught_sieve(looks[told], is_void[told], trainings=wanted.trainings), wanted.out)


if __name__ == "__main__":
    main()
