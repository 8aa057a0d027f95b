"""The rules of a zone: each holds what a zone shows against one limit; what straddles its limit is to be looked at.

A fault is certain where the whole 95 % interval lies on the wrong side of the limit, and a doubt where the interval
holds the limit. Finds that may be no voids give doubts only.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from bubblegrade.casting.curved import FLAT
from bubblegrade.grading.estimate import NORMAL_95
from bubblegrade.grading.score import clarity_score
from bubblegrade.grading_run import Casting
from bubblegrade.inspection.finds import Finds, Ruler
from bubblegrade.inspection.limits import Length, Zone
from bubblegrade.inspection.seen import Seen
from bubblegrade.inspection.verdicts import Fault, Verdict, ZoneSummary, wrong

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

PLACE_ERR_PX: Final = 0.5  # standard uncertainty of a void's centre (in lures; half of it in flat castings)
OUTLINE_ERR_PX: Final = 0.5  # and of the outline,
BENT_OUTLINE_ERR: Final = 0.004  # of a bent body's longer side, outwards: light that grazes its edge hides it


@dataclass(frozen=True, eq=False)
class Look:
    """A zone and all that its rules look at."""

    zone: Zone
    finds: Finds  # that reach into the zone
    everywhere: Finds  # all of the piece
    reaching: Mask  # which of those reach into the zone
    summary: ZoneSummary
    possible_cover: float  # with the finds that may be voids
    breaks_px: Floats  # (N, 3) x, y and largest diameter of what shows in the dark rim here and may be a void
    casting: Casting
    seen: Seen
    ruler: Ruler

    def faults_of(
        self, rule: str, broken: Mask, doubtful: Mask, badness: Floats, say: Callable[[int], str]
    ) -> list[Fault]:
        """Return up to one fault a verdict, on the finds that break a limit for sure and those that may."""
        found = []
        for verdict, rows in ((Verdict.FAIL, broken), (Verdict.AGAIN, doubtful & ~broken)):
            order = np.flatnonzero(rows)
            if len(order):
                order = order[np.argsort(-badness[order], kind="stable")]
                of = self.finds[order]
                more = f", and {len(order) - 1} more" if len(order) > 1 else ""
                reason = f"{say(int(order[0]))}{more}"
                found.append(Fault(verdict, self.zone.name, rule, reason, of.places_px, of.diameter_px))
        return found

    def hideable(self, limit: Length) -> float:
        """Return the diameter of the largest void that may lie where nothing is judged, in the limit's unit."""
        return float(self.ruler.read(np.array(self.summary.unseen_px), limit))

    def blind(self, rule: str, limit: Length) -> list[Fault]:
        """Return a doubt where voids of the limit's size are too small to be counted in this photograph."""
        least = float(self.ruler.read(np.array(self.casting.sizes_px.smallest), limit))
        if least <= limit.value:
            return []
        unit = limit.unit
        reason = f"voids of {limit} cannot be counted here, only those from {least:.3g} {unit} on: photograph it nearer"
        return [wrong(Verdict.AGAIN, self.zone.name, rule, reason)]


def too_large(look: Look) -> list[Fault]:
    """No void is larger than the largest allowed."""
    limit = look.zone.allowed.largest
    if limit is None:
        return []
    finds = look.finds
    low, high = look.ruler.bounds(finds.diameter_px, finds.diameter_err_px, limit)

    def say(i: int) -> str:
        return f"{_kind(finds, i)} of {_within(low[i], high[i], limit.unit)}, largest allowed {limit}"

    return look.blind("largest", limit) + look.faults_of(
        "largest", finds.sure & (low > limit.value), high > limit.value, high, say
    )


def in_rim(look: Look) -> list[Fault]:
    """Nothing shows in the dark rim that may be a void larger than the largest allowed."""
    limit = look.zone.allowed.largest
    if limit is None:
        return []
    largest = look.ruler.read(look.breaks_px[:, 2], limit)
    order = np.argsort(-largest, kind="stable")[: int((largest > limit.value).sum())]
    if not len(order):
        return []
    more = f", and {len(order) - 1} more" if len(order) > 1 else ""
    reason = (
        f"something shows in the dark rim, a void of up to {largest[order[0]]:.2g} {limit.unit} perhaps or the image "
        f"of one elsewhere, largest allowed {limit}{more}: show that part lit, with the piece turned a little"
    )
    of = look.breaks_px[order]
    return [Fault(Verdict.AGAIN, look.zone.name, "in_rim", reason, of[:, :2], of[:, 2])]


def too_many(look: Look) -> list[Fault]:
    """No more voids over a size than allowed."""
    allowed = look.zone.allowed
    if allowed.count is None:
        return []
    over = allowed.count_over or Length(look.casting.sizes_px.smallest, "px")
    finds = look.finds
    low, high = look.ruler.bounds(finds.diameter_px, finds.diameter_err_px, over)
    sure, may = finds.sure & (low > over.value), high > over.value
    verdict = Verdict.FAIL if sure.sum() > allowed.count else Verdict.AGAIN
    faults = look.blind("count", over)
    if may.sum() > allowed.count:
        numbers = f"{sure.sum()}" if sure.sum() == may.sum() else f"{sure.sum()} to {may.sum()}"
        of = finds[may][np.argsort(-finds.diameter_px[may], kind="stable")]
        reason = f"{numbers} {'void' if numbers == '1' else 'voids'} over {over}, allowed {allowed.count}"
        faults.append(Fault(verdict, look.zone.name, "count", reason, of.places_px, of.diameter_px))
    return faults


def too_covered(look: Look) -> list[Fault]:
    """Voids cover no more of the judged area than allowed."""
    limit, summary = look.zone.allowed.cover, look.summary
    if limit is None or not summary.judged_px:
        return []
    low = summary.cover_share - NORMAL_95 * summary.cover_err
    high = look.possible_cover + NORMAL_95 * summary.cover_err
    if high <= limit:
        return []
    verdict = Verdict.FAIL if low > limit else Verdict.AGAIN
    reason = f"voids cover {100 * max(low, 0.0):.2g} to {100 * high:.2g} %, allowed {100 * limit:g} %"
    return [wrong(verdict, look.zone.name, "cover", reason)]


def near_hardware(look: Look) -> list[Fault]:
    """No void is nearer to hardware than allowed."""
    limit = look.zone.allowed.from_hardware
    if limit is None or not look.seen.solid.any():
        return []
    gap = look.seen.at(look.seen.from_solid, look.finds.places_px) - look.finds.diameter_px / 2
    return _too_near(look, "from_hardware", gap, look.seen.solid_err_px, limit, "hardware")


def near_surface(look: Look) -> list[Fault]:
    """No void is nearer to the outline than allowed."""
    limit = look.zone.allowed.from_surface
    if limit is None:
        return []
    line = np.asarray(look.casting.outline_px, np.float32)
    inside = np.array([cv2.pointPolygonTest(line, (float(x), float(y)), measureDist=True) for x, y in
                       look.finds.places_px], np.float64)  # fmt: skip
    gap = inside.reshape(-1) - look.finds.diameter_px / 2
    hidden_px = BENT_OUTLINE_ERR * float(np.ptp(line, axis=0).max()) if look.casting.magnified != FLAT else 0.0
    return _too_near(look, "from_surface", gap, OUTLINE_ERR_PX, limit, "the outline", farther_px=hidden_px)


def _too_near(
    look: Look, rule: str, gap_px: Floats, err_px: float, limit: Length, what: str, *, farther_px: float = 0.0
) -> list[Fault]:
    """Return the faults of gaps, which may be larger, with a standard uncertainty of `farther_px`, and no smaller."""
    errs = np.sqrt(PLACE_ERR_PX**2 + err_px**2 + (look.finds.diameter_err_px / 2) ** 2)
    gap_px = np.maximum(gap_px, 0.0)
    low, _ = look.ruler.bounds(gap_px, errs, limit)
    _, high = look.ruler.bounds(gap_px, np.hypot(errs, farther_px), limit)

    def say(i: int) -> str:
        return f"{_kind(look.finds, i)} {_within(low[i], high[i], limit.unit)} from {what}, least allowed {limit}"

    return look.faults_of(rule, look.finds.sure & (high < limit.value), low < limit.value, -low, say)


def clustered(look: Look) -> list[Fault]:
    """No void of the zone is part of a cluster: so many within a distance of one, also across the zone's border."""
    allowed, over = look.zone.allowed, look.zone.allowed.cluster_over
    if allowed.cluster_within is None:
        return []
    finds, here, certain = look.everywhere, look.reaching, look.everywhere.sure
    faults: list[Fault] = []
    if over is not None:
        low, high = look.ruler.bounds(finds.diameter_px, finds.diameter_err_px, over)
        faults = look.blind("cluster", over)
        certain = certain & (low > over.value)
        may = high > over.value
        finds, here, certain = finds[may], here[may], certain[may]
    surely, perhaps = look.ruler.around_px(allowed.cluster_within, math.hypot(PLACE_ERR_PX, PLACE_ERR_PX))
    for verdict, rows, away in ((Verdict.FAIL, certain, surely), (Verdict.AGAIN, np.ones(len(finds), bool), perhaps)):
        near = _neighbours(finds.places_px[rows], away)
        members = np.flatnonzero((near >= allowed.cluster) & here[rows])
        if len(members):
            members = members[np.argsort(-near[members], kind="stable")]
            of = finds[rows][members]
            count = near[members[0]]
            reason = f"{count} voids within {allowed.cluster_within} of one of them, allowed {allowed.cluster - 1}"
            return [*faults, Fault(verdict, look.zone.name, "cluster", reason, of.places_px, of.diameter_px)]
    return faults


def _neighbours(places: Floats, within: float) -> NDArray[np.intp]:
    """Return how many of the places, each itself among them, lie within a distance of each."""
    if not len(places):
        return np.zeros(0, np.intp)
    tree = cKDTree(places)
    return np.array([len(near) for near in tree.query_ball_point(places, within)], np.intp)


def too_dull(look: Look) -> list[Fault]:
    """Clarity is as asked for: the zone's own cover with the veil of the whole photograph."""
    least, summary, whole = look.zone.allowed.clarity, look.summary, look.casting.clarity
    if least is None or not summary.judged_px:
        return []
    if math.isnan(whole.veil):
        return [wrong(Verdict.AGAIN, look.zone.name, "clarity", "clarity cannot be told here")]
    off = NORMAL_95 * np.array([summary.cover_err, 0.0 if math.isnan(whole.veil_err) else whole.veil_err])
    worse = np.clip(np.array([look.possible_cover, whole.veil]) + off, 0.0, 1.0)
    better = np.clip(np.array([summary.cover_share, whole.veil]) - off, 0.0, 1.0)
    low, high = clarity_score(*map(float, worse)), clarity_score(*map(float, better))
    if low >= least:
        return []
    verdict = Verdict.FAIL if high < least else Verdict.AGAIN
    reason = f"clarity {low:.0f} to {high:.0f}, least allowed {least:g}"
    return [wrong(verdict, look.zone.name, "clarity", reason)]


def not_judged(look: Look) -> list[Fault]:
    """No more of the zone than allowed stays unjudged; a zone without any judged part is never passed."""
    allowed, share = look.zone.allowed.unjudged, look.summary.unjudged_share
    if look.summary.judged_px and share <= allowed:
        return []
    if not look.summary.area_px:
        return [wrong(Verdict.AGAIN, look.zone.name, "unjudged", "the zone does not meet the piece")]
    reason = f"{100 * share:.0f} % cannot be judged, allowed {100 * allowed:g} %"
    return [wrong(Verdict.AGAIN, look.zone.name, "unjudged", reason)]


def unseen(look: Look) -> list[Fault]:
    """No void larger than allowed may lie where nothing is judged, as in a dark rim."""
    limit = look.zone.allowed.unseen
    if limit is None or (hideable := look.hideable(limit)) <= limit.value:
        return []
    reason = f"a void of up to {hideable:.2g} {limit.unit} could lie where nothing can be judged, allowed {limit}"
    return [wrong(Verdict.AGAIN, look.zone.name, "unseen", reason)]


def hidden(looks: Sequence[Look]) -> list[str]:
    """Return a remark on zones where voids over their limit could lie unseen and nothing is asked about that."""
    told = []
    for look in looks:
        limit, asked = look.zone.allowed.largest, look.zone.allowed.unseen
        if limit is not None and asked is None and look.hideable(limit) > limit.value:
            told.append(f"up to {look.hideable(limit):.2g} {limit.unit} in {look.zone.name}")
    if not told:
        return []
    return [
        f"this holds for what is seen; where no light comes through voids could lie unseen, {', '.join(told)}: show "
        "that part lit in a second photograph of the piece, or set unseen in the limits to have it looked at again"
    ]


def _kind(finds: Finds, i: int) -> str:
    return "void" if finds.sure[i] else "unsure find"


def _within(low: float, high: float, unit: str) -> str:
    return f"{low:.3g} to {high:.3g} {unit}"


RULES: Final[tuple[Callable[[Look], list[Fault]], ...]] = (
    too_large,
    in_rim,
    too_many,
    too_covered,
    near_hardware,
    near_surface,
    clustered,
    too_dull,
    not_judged,
    unseen,
)
