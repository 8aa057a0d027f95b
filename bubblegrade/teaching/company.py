"""Teach the network that sees finds in company, after the judge:

python -m bubblegrade.teaching.company --traced traced-1 traced-2 --drawn 400 --out bubblegrade/voids/company.npz
"""  # noqa: D400

from __future__ import annotations

import argparse
from pathlib import Path

from bubblegrade.teaching.company_lessons import company_course
from bubblegrade.teaching.lessons import judge_lesson
from bubblegrade.teaching.pictures import each_picture
from bubblegrade.teaching.training import course, saved_company, taught, taught_company


def main() -> None:
    """Make the lessons, teach, and write the network."""
    parser = argparse.ArgumentParser(description="Teach the network that sees finds in company.")
    parser.add_argument("--traced", type=Path, nargs="+", default=[], help="folders of traced photographs")
    parser.add_argument("--drawn", type=int, default=0, help="how many drawn pictures to add")
    parser.add_argument("--out", type=Path, required=True, help="the network's file")
    parser.add_argument("--trainings", type=int, default=3)
    parser.add_argument("--processes", type=int, default=2)
    asked = parser.parse_args()
    lessons = each_picture(judge_lesson, asked.traced, asked.drawn, processes=asked.processes, smudged=True)
    together = company_course(lessons, lambda some: taught(course(some), trainings=2))
    saved_company(taught_company(together, trainings=asked.trainings), asked.out)


if __name__ == "__main__":
    main()
