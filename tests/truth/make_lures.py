"""Judge drawn or traced lures and print how many of each kind pass, fail or are to be looked at again.

python tests/truth/make_lures.py 40
python tests/truth/make_lures.py DIR

where DIR holds the photographs of `python -m bubblegrade.drawn.traced_lures`, judged as they are and mirrored.
"""

from __future__ import annotations

import json
import sys
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np

from bubblegrade.drawn import lure_faults, traced_lures
from bubblegrade.drawn.lure_faults import FAULTLESS, FAULTS, limits_text
from bubblegrade.drawn.lures import draw_lure
from bubblegrade.grading_run import Request, grade
from bubblegrade.inspection.judging import judge
from bubblegrade.inspection.seen import seen
from bubblegrade.photo.light import grey_light
from bubblegrade.photo.reading import Photo, read_photo
from bubblegrade.runs.limits_file import read_limits
from bubblegrade.settings import Settings

Found = tuple[str, tuple[str, ...]]


def drawn(kind: str, number: int) -> Found:
    """Return the verdict on a drawn lure of a kind, turned, mirrored and resized by chance, and why."""
    rng = np.random.default_rng([number, *kind.encode()])
    lure = {**FAULTLESS, **FAULTS}[kind](rng)
    size = float(2.0 ** rng.uniform(-1.0, 1.0))
    turned = float(rng.uniform(0.0, 360.0))
    lure = replace(lure, size=size, turned_degrees=turned, mirrored=bool(rng.integers(2)), seed=number)
    request = Request(mm_per_px=lure_faults.MM_PER_PX / size)
    verdict, faults = judged(Photo(kind, draw_lure(lure).picture, "0" * 64), request, lure_faults.MM_PER_PX)
    return verdict, (f"size {size:.2f} turned {turned:.0f}", *faults)


def traced(path: Path) -> Iterator[Found]:
    """Yield the verdicts on a traced lure, as photographed and mirrored, and why."""
    truth = json.loads(path.with_suffix(".json").read_text())
    request = Request(mm_per_px=truth["mm_per_px_mid_plane"], thickness_mm=truth["spec"]["height"])
    photo = read_photo(path)
    for picture, how in ((photo.codes, ""), (np.ascontiguousarray(photo.codes[:, ::-1]), "mirrored")):
        verdict, faults = judged(replace(photo, codes=picture), request, traced_lures.VOID_MM_PER_PX)
        yield verdict, (f"{path.name} {how}", *faults)


def judged(photo: Photo, request: Request, mm_per_px: float) -> Found:
    """Return the verdict on a photograph of a lure, and the faults found."""
    casting = grade(photo, request, Settings())
    limits = read_limits(limits_text(mm_per_px), name="lure")
    judgement = judge(casting, seen(casting, grey_light(photo.codes)), limits)
    return str(judgement.verdict), tuple(fault.line for fault in judgement.faults)


def printed(kind: str, found: list[Found]) -> None:
    """Print the verdicts on lures of one kind, and all that is not as it was planted."""
    print(f"{kind:16}", dict(Counter(verdict for verdict, _ in found)), flush=True)  # noqa: T201
    for verdict, why in found:
        if verdict in ("pass" if kind in FAULTS else "fail", "look again"):
            print(f"    {verdict}:", *why, sep="\n        ")  # noqa: T201


if __name__ == "__main__":
    for kind in (*FAULTLESS, *FAULTS):
        if sys.argv[1].isdigit():
            printed(kind, [drawn(kind, number) for number in range(int(sys.argv[1]))])
        else:
            paths = sorted(Path(sys.argv[1]).glob(f"{kind.replace(' ', '-')}-*.jpg"))
            printed(kind, [found for path in paths for found in traced(path)])
