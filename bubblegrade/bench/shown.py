"""What a casting's page shows: every find with its place and words, borders, and the numbers before and after."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from bubblegrade.bench.castings import Kept
from bubblegrade.corrected.changes import (
    Added,
    Change,
    LeftOut,
    Redone,
    Removed,
    Renamed,
    Resized,
    Scaled,
    Undone,
    Zone,
)
from bubblegrade.corrected.finds import Find, State, automatic_finds
from bubblegrade.corrected.history import holding, to_redo, to_undo
from bubblegrade.grading.estimate import Estimate
from bubblegrade.grading_run import Casting
from bubblegrade.results.run_json import plain
from bubblegrade.show.report.castings import thinned
from bubblegrade.show.size_classes import LIMITS_MM, LIMITS_PX, size_classes
from bubblegrade.show.words import area, length, percent, rounded, score
from bubblegrade.units import count_of

Part = dict[str, Any]


@dataclass(frozen=True)
class Number:
    """A quantity as graded and as corrected, in words."""

    name: str
    graded: str
    corrected: str

    @property
    def changed(self) -> bool:
        """Whether a correction has moved it."""
        return self.graded != self.corrected


def finds_record(kept: Kept) -> Part:
    """Return the finds and borders as the page's script takes them; what was removed is left out."""
    casting = kept.corrected.casting
    limits = LIMITS_MM if casting.void_scale else LIMITS_PX
    mm = casting.void_scale.mm_per_px if casting.void_scale else 1.0
    held = plain(
        {
            "finds": [
                {
                    "name": find.name,
                    "x": find.x_px,
                    "y": find.y_px,
                    "d": find.diameter_px,
                    "kind": find.kind,
                    "state": str(find.state),
                    "size": int(np.searchsorted(np.array(limits), find.diameter_px * mm, side="right")),
                    "says": find_words(find, casting),
                }
                for find in kept.finds
                if not find.gone
            ],
            "mm_per_px": mm if casting.void_scale else None,
            "borders": [thinned(border) for border in casting.judged_px],
            "left_out": kept.corrected.left_out,
            "zones": [{"name": zone.zone.name, "corners": zone.zone.corners} for zone in kept.corrected.zones],
            "span": casting.span_px,
            "steps": len(kept.steps),
            "undo": to_undo(kept.steps),
            "redo": to_redo(kept.steps),
        }
    )
    assert isinstance(held, dict)  # noqa: S101 - plain keeps mappings
    return held


def find_words(find: Find, casting: Casting) -> str:
    """Return a find in words: its kind, its diameter with the standard uncertainty, its place, who put it right."""
    said = [find.kind, _size(find, casting), f"at x {find.x_px:.1f}, y {find.y_px:.1f}"]
    if find.state is State.LEFT_OUT:
        said.append("left out of the judged area")
    elif not find.judged:
        said.append("where nothing could be judged")
    if find.reason and find.state is not State.COUNTED:
        said.append(find.reason)
    if find.who:
        said.append(f"put right by {find.who}")
    return ", ".join(said)


def numbers(kept: Kept) -> tuple[Number, ...]:
    """Return every number of a casting, with its 95 % interval where it has one."""
    before, after = (dict(_numbers(casting)) for casting in (kept.graded, kept.corrected.casting))
    return tuple(Number(name, before[name], after[name]) for name in after)


def zone_rows(kept: Kept) -> tuple[tuple[str, str, str], ...]:
    """Return each zone with its count and its largest void."""
    return tuple(
        (zone.zone.name, f"{zone.count} ({zone.low:.0f} to {zone.high:.0f})", length(zone.largest_px, _casting(kept)))
        for zone in kept.corrected.zones
    )


def step_words(kept: Kept) -> tuple[tuple[int, str, str, bool], ...]:
    """Return each step, latest first: its number, who took it, what it did, and whether it holds."""
    held = {step.number for step in holding(kept.steps)}
    named = {find.name: _find_at(find.kind, find.x_px, find.y_px) for find in automatic_finds(kept.graded)}
    for step in kept.steps:
        if isinstance(step.did, Added):
            named[f"a{step.number}"] = _find_at(step.did.kind, step.did.x_px, step.did.y_px)
    return tuple(
        (step.number, step.who, _did(step.did, named), step.number in held or isinstance(step.did, Undone | Redone))
        for step in reversed(kept.steps)
    )


def headline(casting: Casting) -> str:
    """Return a casting in a few words."""
    said = [count_of(casting.count, "void"), f"clarity {score(casting.clarity)} {casting.clarity.word}".rstrip()]
    if casting.count:
        said.append(f"largest {length(casting.sizes_px.largest.value, casting)}")
    return ", ".join(said)


def legend(kept: Kept) -> tuple[tuple[int, str, int], ...]:
    """Return the number, limits and count of each class of size."""
    classes = size_classes(_casting(kept))
    return tuple((place, one.label, int(one.members.sum())) for place, one in enumerate(classes))


def aside_kinds(kept: Kept) -> tuple[tuple[str, int], ...]:
    """Return the kinds that are no voids, with their counts."""
    kinds = [str(kind) for kind in _casting(kept).set_aside.kind]
    return tuple((kind, kinds.count(kind)) for kind in sorted(set(kinds)))


def _casting(kept: Kept) -> Casting:
    return kept.corrected.casting


def _size(find: Find, casting: Casting) -> str:
    scale = casting.void_scale
    if scale is None:
        doubt = f" ± {rounded(find.diameter_err_px, 2)}" if math.isfinite(find.diameter_err_px) else ""
        return f"{rounded(find.diameter_px)}{doubt} px"
    across = find.diameter_px * scale.mm_per_px
    off = math.hypot(find.diameter_err_px * scale.mm_per_px, find.diameter_px * scale.mm_per_px_err)
    doubt = f" ± {rounded(off, 2)}" if math.isfinite(off) else ""
    return f"{rounded(across)}{doubt} mm"


def _numbers(casting: Casting) -> list[tuple[str, str]]:
    # In mm the limits hold the scale's uncertainty as well.
    counts, clarity = casting.sizes_px, casting.clarity
    sizes, unit = (counts, "px") if casting.sizes_mm is None else (casting.sizes_mm, "mm")
    lengths = {
        "largest": sizes.largest,
        "D10 by number": sizes.d10_number,
        "D50 by number": sizes.d50_number,
        "D90 by number": sizes.d90_number,
        "D50 by volume": sizes.d50_volume,
        "D[3,2]": sizes.d_3_2,
    }
    return [
        ("voids", f"{counts.count} ({counts.count_low:.0f} to {counts.count_high:.0f})"),
        *((name, _estimate(estimate, unit)) for name, estimate in lengths.items()),
        ("clarity", f"{score(clarity)} {clarity.word}".rstrip()),
        ("cover", _share(clarity.cover, clarity.cover_err)),
        ("veil", _share(clarity.veil, clarity.veil_err)),
        ("smallest countable", length(counts.smallest, casting)),
        ("unsure", str(casting.unsure_count)),
        ("judged", area(casting.judged_area_px, casting)),
        ("scale", _scale(casting)),
    ]


def _estimate(estimate: Estimate, unit: str) -> str:
    if not estimate.known:
        return "-"
    value = f"{rounded(estimate.value)} {unit}"
    if not (math.isfinite(estimate.low) and math.isfinite(estimate.high)):
        return value
    return f"{value} ({rounded(estimate.low)} to {rounded(estimate.high)})"


def _share(share: float, err: float) -> str:
    """Return a share of the light with its standard uncertainty."""
    if not math.isfinite(err):
        return percent(share, decimals=2)
    return f"{percent(share, decimals=2)} ± {percent(err, decimals=2)}"


def _scale(casting: Casting) -> str:
    if casting.scale is None:
        return "none: sizes in px"
    doubt = percent(casting.scale.mm_per_px_err / casting.scale.mm_per_px, decimals=1)
    return f"{casting.scale.mm_per_px:.5g} mm per px ± {doubt}; {casting.scale.source}"


def _find_at(kind: str, x_px: float, y_px: float) -> str:
    return f"{kind} at x {x_px:.1f}, y {y_px:.1f}"


def _did(did: Change | Undone | Redone, named: Mapping[str, str]) -> str:
    """Return a step in words; `named` are the finds by their names."""
    match did:
        case Added(x, y, diameter, kind):
            said = f"added a {_find_at(kind, x, y)}, {rounded(diameter)} px"
        case Removed(find):
            said = f"removed the {named.get(find, find)}"
        case Resized(find, diameter):
            said = f"made the {named.get(find, find)} {rounded(diameter)} px"
        case Renamed(find, kind):
            said = f"named the {named.get(find, find)} {kind}"
        case LeftOut():
            said = "left an area out"
        case Zone(name):
            said = f"drew the zone {name}"
        case Scaled(span):
            said = f"set the scale by two points {span.long_mm:g} mm apart"
        case Undone(of):
            said = f"undid step {of}"
        case Redone(of):
            said = f"did step {of} again"
    return said
