"""Records: what the user says about the photographs, and a graded casting in raw numbers."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from bubblegrade.casting.curved import Magnified
from bubblegrade.fitness.check import Fitness
from bubblegrade.grading.clarity import Clarity
from bubblegrade.grading.distribution import Histogram
from bubblegrade.grading.limits import GlassClass, glass_class
from bubblegrade.grading.sizes import SizeSummary
from bubblegrade.photo.mid_plane import THICKNESS_ERR_MM
from bubblegrade.photo.noted import Noted
from bubblegrade.photo.on_card import OnCard
from bubblegrade.photo.on_disc import OnDisc
from bubblegrade.photo.scale import Scale, Span, SpanPx
from bubblegrade.voids.lighting import Lighting
from bubblegrade.voids.table import Voids

MM2_PER_CM2: Final = 100.0
MM_PER_CM: Final = 10.0
BEHIND_BODIES: Final = "behind flakes, fibres and hardware"  # the part of a casting that is not judged for them


@dataclass(frozen=True)
class Request:
    """What the user says about the photographs."""

    mm_per_px: float | None = None
    width_mm: float | None = None  # the casting's widest span
    card: OnCard | None = None  # the casting lies on the scale card
    disc: OnDisc | None = None  # a coin or disc of known diameter lies beside it
    span: Span | None = None  # two points and the length between them
    thickness_mm: float | None = None
    camera_height_mm: float | None = None  # of the lens over the light, beside a width and a thickness
    whole: bool = False  # judge the lit part of the frame, without looking for an outline
    planted: bool = False  # measure the smallest countable size by planting voids into the photograph

    @property
    def is_scaled(self) -> bool:
        """Whether anything said gives a scale."""
        return any(said is not None for said in (self.mm_per_px, self.width_mm, self.card, self.disc, self.span))


@dataclass(frozen=True)
class NotJudged:
    """A part of the casting that was left out."""

    reason: str
    area_px: float


@dataclass(frozen=True, eq=False)
class Casting:
    """A graded photograph: raw numbers; wording beyond short reasons lives in show/."""

    photo: str
    sha256: str
    shape_px: tuple[int, int]  # rows, cols
    scale: Scale | None
    span_px: SpanPx | None  # the span that gave the scale
    outline_px: NDArray[np.float64]  # (N, 2) x, y; empty with --whole
    judged_px: tuple[NDArray[np.float64], ...]  # closed lines around the judged area, (N, 2) x, y each
    judged_area_px: float
    hidden_share: float  # of the voids, expected to lie unseen behind nearer ones
    magnified: Magnified  # by how much voids look larger through a curved surface
    turned_degrees: float  # by how much the casting was turned for the second photograph; NaN without one
    not_judged: tuple[NotJudged, ...]
    index_err_share: float  # part of every void's uncertainty, a share of its diameter: that of an index not told
    passes: float  # share of the bare light that clear resin lets through; NaN if unknown
    noise: float  # standard deviation of a pixel's darkness
    lighting: Lighting
    voids: Voids
    set_aside: Voids
    sizes_px: SizeSummary
    histogram_px: Histogram
    clarity: Clarity
    thickness_mm: float | None
    noted: Noted  # what the camera wrote into the file
    fitness: Fitness  # what every check says of the photograph
    warnings: tuple[str, ...]

    @property
    def unfit(self) -> tuple[str, ...]:
        """Why the photograph is not fit to measure; empty if it is."""
        return self.fitness.unfit

    @property
    def count(self) -> int:
        """Countable voids; of a frame that is judged, those that it does not cut."""
        return self.sizes_px.count

    @property
    def cut_count(self) -> int:
        """Voids that have no size, since the judged frame cuts them."""
        return len(self.voids) - self.sizes_px.count - self.sizes_px.below

    @property
    def unsure_count(self) -> int:
        """Finds that may or may not be voids."""
        return int((self.set_aside.kind == "unsure").sum())

    @property
    def void_scale(self) -> Scale | None:
        """The scale of each void, less what a curved surface or a look from aside enlarges; None without a scale.

        Its uncertainty has what the voids share, and the unknown height of each in the casting.
        """
        shared = self.shared_scale
        if shared is None:
            return None
        each = shared.mm_per_px * shared.height_err_share
        return replace(shared, mm_per_px_err=float(np.hypot(shared.mm_per_px_err, each)))

    @property
    def shared_scale(self) -> Scale | None:
        """The scale of the voids with the uncertainty that they share alone; None without a scale."""
        scale, curve = self.scale, self.magnified
        if scale is None:
            return None
        mm = scale.mm_per_px / (curve.factor * scale.enlarged)
        shares = (scale.mm_per_px_err / scale.mm_per_px, curve.err / curve.factor, scale.enlarged_err / scale.enlarged)
        return replace(scale, mm_per_px=mm, mm_per_px_err=mm * math.hypot(*shares))

    @property
    def judged_area_cm2(self) -> float:
        """Judged area; NaN without a scale."""
        return self.judged_area_px * self.scale.mm_per_px**2 / MM2_PER_CM2 if self.scale else float("nan")

    @property
    def judged_volume_cm3(self) -> float:
        """Judged volume, of a curved body by its mean depth; NaN without a scale or a thickness."""
        if not self.thickness_mm:
            return float("nan")
        return self.judged_area_cm2 * self.thickness_mm * self.magnified.filled / MM_PER_CM

    @property
    def sizes_mm(self) -> SizeSummary | None:
        """The sizes in mm; None without a scale."""
        shared, each = self.shared_scale, self.void_scale
        if shared is None or each is None:
            return None
        sizes = self.sizes_px.scaled(shared.mm_per_px, factor_err=shared.mm_per_px_err)
        largest = self.sizes_px.largest.scaled(each.mm_per_px, factor_err=each.mm_per_px_err)
        return replace(sizes, largest=largest)

    @property
    def glass(self) -> GlassClass | None:
        """Cross-section per 100 cm3 after optical-glass practice; None without a scale or a thickness."""
        if self.void_scale is None or self.thickness_mm is None:
            return None
        mm = self.void_scale.mm_per_px
        return glass_class(
            self.voids.diameter_px * mm, self.judged_volume_cm3, self.sizes_px.smallest * mm,
            err_share=math.hypot(self._sections_err_share, self.volume_err_share),
        )  # fmt: skip

    @property
    def volume_err_share(self) -> float:
        """Standard uncertainty of the judged area's mean depth, as a share; NaN without a thickness."""
        if not self.thickness_mm:
            return math.nan
        return math.hypot(THICKNESS_ERR_MM / self.thickness_mm, self.magnified.filled_err / self.magnified.filled)

    @property
    def _sections_err_share(self) -> float:
        """Standard uncertainty of the voids' cross-sections over an area at that scale, as a share, all off alike."""
        sections, curve = self.voids.diameter_px**2, self.magnified
        shares = np.nan_to_num(self.voids.diameter_err_px) / self.voids.diameter_px
        enlarged = self.scale.enlarged_err / self.scale.enlarged if self.scale else 0.0
        measured = float(np.sum(sections * shares)) / max(float(np.sum(sections)), 1.0)
        return 2.0 * math.hypot(measured, curve.err / curve.factor, enlarged)
