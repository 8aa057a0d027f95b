"""One casting as run.json holds it: the schema beside this module describes every field."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

import numpy as np

from bubblegrade.grading.limits import NOTE
from bubblegrade.grading.sizes import SizeSummary
from bubblegrade.grading_run import Casting
from bubblegrade.photo.noted import Noted
from bubblegrade.results.casting_row import LENGTHS, PLAIN_SIZES
from bubblegrade.results.fitness_record import fitness_record
from bubblegrade.results.quantities import (
    count_over,
    judged_area_cm2,
    judged_volume_cm3,
    not_judged_share,
    smallest_mm,
)
from bubblegrade.results.void_columns import Columns, set_aside_columns, void_columns

Part = dict[str, Any]


def casting_record(casting: Casting) -> Part:
    """Return the casting's part of run.json."""
    rows, cols = casting.shape_px
    return {
        "photo": casting.photo,
        "sha256": casting.sha256,
        "width_px": cols,
        "height_px": rows,
        "noted": _noted(casting.noted),
        "unfit": casting.unfit,
        "warnings": casting.warnings,
        "scale": asdict(casting.scale) if casting.scale else None,
        "span_px": _line(casting.span_px) if casting.span_px else None,
        "thickness_mm": casting.thickness_mm,
        "outline": _line(casting.outline_px),
        "judged": _judged(casting),
        "not_judged": [
            {**asdict(part), "share": not_judged_share(casting, part.area_px)} for part in casting.not_judged
        ],
        "magnified": asdict(casting.magnified),
        "turned_degrees": casting.turned_degrees,
        "clear_transmittance_share": casting.passes,
        "noise_share": casting.noise,
        "index_err_share": casting.index_err_share,
        "light": _light(casting),
        "counts": _counts(casting),
        "smallest_countable_px": casting.sizes_px.smallest,
        "smallest_countable_mm": smallest_mm(casting),
        "sizes_px": _sizes(casting.sizes_px),
        "sizes_mm": _sizes(casting.sizes_mm) if casting.sizes_mm else None,
        "size_ratios": {name: getattr(casting.sizes_px, name) for name in PLAIN_SIZES},
        "histogram": _histogram(casting),
        "clarity": _clarity(casting),
        "glass": _glass(casting),
        "voids": _without_photo(void_columns([casting])),
        "set_aside": _without_photo(set_aside_columns([casting])),
        "fitness": fitness_record(casting.fitness),
    }


def _noted(noted: Noted) -> Part:
    """Return what the camera noted, the time as it would be written."""
    return {**asdict(noted), "taken": noted.taken.isoformat() if noted.taken else None}


def _line(points: Any) -> Part:
    """Return points (N, 2) as two columns."""
    x_px, y_px = np.asarray(points, np.float64).T
    return {"x_px": x_px, "y_px": y_px}


def _judged(casting: Casting) -> Part:
    return {
        "area_px": casting.judged_area_px,
        "area_cm2": judged_area_cm2(casting),
        "volume_cm3": judged_volume_cm3(casting),
        "borders": [_line(border) for border in casting.judged_px],
    }


def _light(casting: Casting) -> Part:
    light = casting.lighting
    return {
        "half_angle_rad": light.theta,
        "half_angle_err_rad": light.theta_err,
        "half_angle_alike_err_rad": light.theta_alike_err,
        "wall_share": light.wall,
        "blur_px": light.blur_px,
        "measured_on_count": light.rings,
    }


def _counts(casting: Casting) -> Part:
    sizes = casting.sizes_px
    return {
        "voids": {"value": sizes.count, "low": sizes.count_low, "high": sizes.count_high},
        "per_cm2": count_over(casting, judged_area_cm2(casting)),
        "per_cm3": count_over(casting, judged_volume_cm3(casting)),
        "below_smallest": sizes.below,
        "hidden_share": casting.hidden_share,
        "unsure": casting.unsure_count,
        "set_aside": len(casting.set_aside),
    }


def _sizes(sizes: SizeSummary) -> Part:
    return {name: getattr(sizes, name) for name in LENGTHS}


def _histogram(casting: Casting) -> Part:
    classes = casting.histogram_px
    return {
        "lower_px": classes.lower,
        "upper_px": classes.upper,
        "count": classes.count,
        "count_low": classes.count_low,
        "count_high": classes.count_high,
        "number_share": classes.number_share,
        "volume_share": classes.volume_share,
    }


def _clarity(casting: Casting) -> Part:
    clarity = casting.clarity
    return {
        "score": clarity.score,
        "low": clarity.low,
        "high": clarity.high,
        "word": clarity.word,
        "settled": clarity.settled,
        "cover_share": clarity.cover,
        "cover_share_err": clarity.cover_err,
        "veil_share": clarity.veil,
        "veil_share_err": clarity.veil_err,
    }


def _glass(casting: Casting) -> Part | None:
    glass = casting.glass
    if glass is None:
        return None
    return {
        "void_area_mm2_per_100cm3": glass.area_mm2_per_100cm3,
        "counted": glass.counted,
        "class": glass.number,
        "or_worse": glass.or_worse,
        "note": NOTE,
    }


def _without_photo(columns: Columns) -> Part:
    """Return columns without the photograph's name, which stands above them."""
    return {name: column for name, column in columns.items() if name != "photo"}
