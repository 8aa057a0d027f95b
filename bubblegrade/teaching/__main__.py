"""Teach the judge: see the room's docstring for the command line."""

from __future__ import annotations

import argparse
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from bubblegrade.teaching.company_lessons import judged_by_others, ratio_factor
from bubblegrade.teaching.lessons import judge_lesson
from bubblegrade.teaching.pictures import asked, each_picture
from bubblegrade.teaching.training import Course, course, saved, taught
from bubblegrade.voids.judging import Judge

WITHIN_95 = 1.96


def main() -> None:
    """Make the lessons, check on each kind of casting left out, teach on all, and write the judge."""
    wanted = _parser().parse_args()
    lessons = each_picture(judge_lesson, wanted.traced, wanted.drawn, processes=wanted.processes, altered=True)
    everything = course(lessons)
    print(f"{len(lessons)} lessons, {len(everything.is_void)} candidates, {(everything.is_void == 1).sum()} voids")  # noqa: T201
    factor = _left_out(everything) if wanted.left_out else wanted.err_factor
    ratio = wanted.ratio_factor
    if wanted.by_others:
        ratio = ratio_factor(lessons, judged_by_others(lessons, lambda some: taught(course(some), trainings=2)))
        print(f"ratios of size are {ratio:.3f} of what judges say who were not taught the picture")  # noqa: T201
    judge = taught(everything, trainings=wanted.trainings)
    saved(replace(judge, ratio_factor=ratio, err_factor=factor), wanted.out)


def _parser() -> argparse.ArgumentParser:
    parser = asked("Teach the judge of candidates.", trainings=2)
    parser.add_argument("--left-out", action="store_true", help="check each kind of casting on the others")
    parser.add_argument("--err-factor", type=float, default=1.3, help="used where nothing is left out")
    parser.add_argument("--by-others", action="store_true", help="measure by how much too little is said of sizes")
    parser.add_argument("--ratio-factor", type=float, default=1.07, help="used where that is not measured")
    return parser


def _left_out(everything: Course) -> float:
    """Print how the judge does on each kind of casting that it was not taught, and return its error factor."""
    off = []
    for body in sorted(set(everything.body.tolist())):
        mine = everything.body == body
        judge = taught(_rows(everything, ~mine), trainings=1)
        score, ratio = _score(judge, _rows(everything, mine))
        off.append(np.quantile(np.abs(ratio), 0.95) / WITHIN_95)
        print(f"left out {body:6s} {score}; its error is {off[-1]:.2f} of the stated")  # noqa: T201
    return float(np.median(off))


def _rows(everything: Course, rows: NDArray[np.bool_]) -> Course:
    return Course(**{name: column[rows] for name, column in vars(everything).items()})


def _score(judge: Judge, lessons: Course) -> tuple[str, NDArray[np.float32]]:
    """Return precision and recall among told candidates, and the ratio's errors over their stated uncertainty."""
    said = judge(lessons.looks)
    told = lessons.is_void >= 0
    yes, void = said.likely[told] >= 0.5, lessons.is_void[told] == 1  # noqa: PLR2004
    precision = (yes & void).sum() / max(yes.sum(), 1)
    recall = (yes & void).sum() / max(void.sum(), 1)
    sized = np.isfinite(lessons.log_ratio) & (said.likely >= 0.5)  # noqa: PLR2004
    off = (lessons.log_ratio - said.log_ratio)[sized] / said.log_ratio_err[sized]
    return f"candidates {told.sum():6d}  precision {precision:.3f}  recall {recall:.3f}", off


if __name__ == "__main__":
    main()
