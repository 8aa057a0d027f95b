"""Teach the network that sees finds in company, after the judge:

python -m bubblegrade.teaching.company --traced traced-1 traced-2 --drawn 400 --out bubblegrade/voids/company.npz
"""  # noqa: D400

from __future__ import annotations

from bubblegrade.teaching.company_lessons import company_course
from bubblegrade.teaching.lessons import judge_lesson
from bubblegrade.teaching.pictures import asked, each_picture
from bubblegrade.teaching.training import course, saved_company, taught, taught_company


def main() -> None:
    """Make the lessons, teach, and write the network."""
    wanted = asked("Teach the network that sees finds in company.", trainings=3).parse_args()
    lessons = each_picture(judge_lesson, wanted.traced, wanted.drawn, processes=wanted.processes, altered=True)
    together = company_course(lessons, lambda some: taught(course(some), trainings=2))
    saved_company(taught_company(together, trainings=wanted.trainings), wanted.out)


if __name__ == "__main__":
    main()
