"""One row of castings.csv: every quantity of one photograph with its unit in the name and its uncertainty beside it."""

from __future__ import annotations

from typing import Final

from bubblegrade.grading.estimate import UNKNOWN, Estimate
from bubblegrade.grading.sizes import SizeSummary
from bubblegrade.grading_run import Casting
from bubblegrade.results.fitness_record import fitness_cells
from bubblegrade.results.quantities import (
    count_over,
    judged_area_cm2,
    judged_volume_cm3,
    not_judged_share,
    smallest_mm,
)

LENGTHS: Final = (
    *("largest", "d10_number", "d50_number", "d90_number", "d10_volume", "d50_volume", "d90_volume"),
    *("d_1_0", "d_3_2", "d_4_3"),
)
PLAIN_SIZES: Final = ("gsd", "span_number", "span_volume")
BETWEEN: Final = "; "  # reasons and warnings in one cell

Row = dict[str, object]


def casting_row(casting: Casting) -> Row:
    """Return the row: `_low` and `_high` are 95 % limits, `_err` one standard uncertainty; unknown is NaN or None."""
    return {
        "photo": casting.photo,
        "fit": not casting.unfit,
        **_counts(casting),
        **_sizes(casting.sizes_px, "px"),
        **_sizes(casting.sizes_mm, "mm"),
        **{key: cell for name in PLAIN_SIZES for key, cell in _limits(name, getattr(casting.sizes_px, name)).items()},
        **_clarity(casting),
        **_judged(casting),
        **_glass(casting),
        **_photograph(casting),
        "unfit": BETWEEN.join(casting.unfit),
        "warnings": BETWEEN.join(casting.warnings),
        "sha256": casting.sha256,
        **fitness_cells(casting.fitness),
    }


def _counts(casting: Casting) -> Row:
    sizes = casting.sizes_px
    return {
        "count": sizes.count,
        "count_low": sizes.count_low,
        "count_high": sizes.count_high,
        **_limits("count_per_cm2", count_over(casting, judged_area_cm2(casting))),
        **_limits("count_per_cm3", count_over(casting, judged_volume_cm3(casting))),
        "unsure_count": casting.unsure_count,
        "set_aside_count": len(casting.set_aside),
        "below_smallest_count": sizes.below,
        "hidden_share": casting.hidden_share,
        "smallest_countable_px": sizes.smallest,
        "smallest_countable_mm": smallest_mm(casting),
    }


def _sizes(sizes: SizeSummary | None, unit: str) -> Row:
    row: Row = {}
    for name in LENGTHS:
        row |= _limits(f"{name}_{unit}", UNKNOWN if sizes is None else getattr(sizes, name))
    return row


def _clarity(casting: Casting) -> Row:
    clarity = casting.clarity
    return {
        **_limits("clarity", Estimate(clarity.score, clarity.low, clarity.high)),
        "clarity_word": clarity.word,
        "cover_share": clarity.cover,
        "cover_share_err": clarity.cover_err,
        "veil_share": clarity.veil,
        "veil_share_err": clarity.veil_err,
    }


def _judged(casting: Casting) -> Row:
    left_out = sum(part.area_px for part in casting.not_judged)
    return {
        "judged_area_px": casting.judged_area_px,
        **_limits("judged_area_cm2", judged_area_cm2(casting)),
        **_limits("judged_volume_cm3", judged_volume_cm3(casting)),
        "not_judged_share": not_judged_share(casting, left_out),
        "not_judged": BETWEEN.join(f"{part.reason}: {part.area_px:.0f} px" for part in casting.not_judged),
    }


def _glass(casting: Casting) -> Row:
    glass = casting.glass
    number = f"{glass.number}{' or worse' if glass.or_worse else ''}" if glass else ""
    return {
        **_limits("void_area_mm2_per_100cm3", glass.area_mm2_per_100cm3 if glass else UNKNOWN),
        "glass_class_unconfirmed": number,
    }


def _photograph(casting: Casting) -> Row:
    rows, cols = casting.shape_px
    return {
        "photo_width_px": cols,
        "photo_height_px": rows,
        "mm_per_px": casting.scale.mm_per_px if casting.scale else None,
        "mm_per_px_err": casting.scale.mm_per_px_err if casting.scale else None,
        "scale_source": casting.scale.source if casting.scale else "",
        "thickness_mm": casting.thickness_mm,
        "magnified": casting.magnified.factor,
        "magnified_err": casting.magnified.err,
        "turned_degrees": casting.turned_degrees,
        "clear_transmittance_share": casting.passes,
        "noise_share": casting.noise,
        "light_half_angle_rad": casting.lighting.theta,
        "light_half_angle_err_rad": casting.lighting.theta_err,
        "light_measured_on_count": casting.lighting.rings,
        "blur_px": casting.lighting.blur_px,
    }


def _limits(name: str, estimate: Estimate) -> Row:
    """Return an estimate as three cells."""
    return {name: estimate.value, f"{name}_low": estimate.low, f"{name}_high": estimate.high}
