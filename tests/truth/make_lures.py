"""Judge drawn lures and print how many of each kind pass, fail or are to be looked at again.

python tests/truth/make_lures.py 40
"""

from __future__ import annotations

import sys
from collections import Counter
from dataclasses import replace

import numpy as np

from bubblegrade.drawn.lure_faults import FAULTLESS, FAULTS, LIMITS, MM_PER_PX
from bubblegrade.drawn.lures import draw_lure
from bubblegrade.grading_run import Request, grade
from bubblegrade.inspection.judging import judge
from bubblegrade.inspection.seen import coarse_light, seen
from bubblegrade.photo.light import grey_light
from bubblegrade.photo.reading import Photo
from bubblegrade.runs.limits_file import read_limits
from bubblegrade.settings import Settings


def judged(kind: str, number: int) -> tuple[str, tuple[str, ...]]:
    """Return the verdict on a drawn lure of a kind, turned, mirrored and resized by chance, and why."""
    rng = np.random.default_rng([number, *kind.encode()])
    lure = {**FAULTLESS, **FAULTS}[kind](rng)
    size = float(2.0 ** rng.uniform(-1.0, 1.0))
    turned = float(rng.uniform(0.0, 360.0))
    lure = replace(lure, size=size, turned_degrees=turned, mirrored=bool(rng.integers(2)), seed=number)
    picture = draw_lure(lure).picture
    casting = grade(Photo(kind, picture, "0" * 64), Request(mm_per_px=MM_PER_PX / size), Settings())
    limits = read_limits(LIMITS, name="drawn")
    judgement = judge(casting, seen(casting, *coarse_light(grey_light(picture))), limits)
    return judgement.verdict, (f"size {size:.2f} turned {turned:.0f}", *(fault.line for fault in judgement.faults))


if __name__ == "__main__":
    for kind in (*FAULTLESS, *FAULTS):
        found = [judged(kind, number) for number in range(int(sys.argv[1]))]
        print(f"{kind:16}", dict(Counter(str(verdict) for verdict, _ in found)), flush=True)  # noqa: T201
        wrong = "pass" if kind in FAULTS else "fail"
        for verdict, why in found:
            if verdict in (wrong, "look again"):
                print(f"    {verdict}:", *why, sep="\n        ")  # noqa: T201
