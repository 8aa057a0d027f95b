"""One casting read back from run.json: what `casting_record` wrote, to six digits; where a fault lay is not kept."""

from __future__ import annotations

import datetime
import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from bubblegrade.casting.curved import Magnified
from bubblegrade.corrected.numbers import Basis, applied
from bubblegrade.errors import InputError
from bubblegrade.fitness.check import Check, Fitness, Limit, Verdict
from bubblegrade.grading.clarity import Clarity
from bubblegrade.grading.distribution import size_histogram
from bubblegrade.grading.sizes import summarise
from bubblegrade.grading_run import Casting, NotJudged
from bubblegrade.photo.noted import Noted
from bubblegrade.photo.scale import Scale
from bubblegrade.results.run import FORMAT
from bubblegrade.settings import Settings
from bubblegrade.voids.lighting import Lighting
from bubblegrade.voids.table import Voids

Part = dict[str, Any]


def read_casting(run: Part, *, place: str) -> tuple[Casting, Basis]:
    """Return the only casting of a run, and what grading was told; `place` is the file's, for messages.

    Raises
    ------
    InputError
        It is no such run, or of another format than this version writes.
    """
    try:
        if run["format"] != FORMAT:
            raise InputError(f"{place} has format {run['format']}, this version reads {FORMAT}: grade it again")
        (record,) = run["castings"]
        asked = {**run["settings"], "grades": tuple(run["settings"]["grades"].items())}
        basis = Basis(Settings(**asked), whole=bool(run["request"]["whole"]))
        return casting_of(record, basis), basis
    except (LookupError, TypeError, ValueError, AttributeError) as error:
        raise InputError(f"{place} is no result of one photograph: grade it again") from error


def casting_of(record: Part, basis: Basis) -> Casting:
    """Return the casting of one of a run's parts, graded as `basis` says.

    The sizes and their distribution follow from the table: `applied` sums them up.
    """
    return applied(_casting(record, basis.settings), (), basis).casting


def _casting(record: Part, settings: Settings) -> Casting:
    voids = _finds(record["voids"])
    span = record["span_px"] and _points(record["span_px"]).tolist()
    smallest = record["smallest_countable_px"]
    aside = _finds(record["set_aside"])
    return Casting(
        photo=record["photo"],
        sha256=record["sha256"],
        shape_px=(record["height_px"], record["width_px"]),
        scale=Scale(**record["scale"]) if record["scale"] else None,
        span_px=((span[0][0], span[0][1]), (span[1][0], span[1][1])) if span else None,
        outline_px=_points(record["outline"]),
        judged_px=tuple(_points(border) for border in record["judged"]["borders"]),
        judged_area_px=record["judged"]["area_px"],
        hidden_share=record["counts"]["hidden_share"],
        magnified=Magnified(**record["magnified"]),
        turned_degrees=_number(record["turned_degrees"]),
        not_judged=tuple(NotJudged(part["reason"], part["area_px"]) for part in record["not_judged"]),
        index_err_share=record.get("index_err_share", 0.0),
        passes=_number(record["clear_transmittance_share"]),
        noise=_number(record["noise_share"]),
        lighting=_lighting(record["light"]),
        voids=voids,
        set_aside=aside,
        sizes_px=summarise(
            voids.diameter_px,
            voids.diameter_err_px,
            smallest=smallest,
            seed=int(record["sha256"][:8], 16),
            doubtful=aside.unsure_px,
        ),
        histogram_px=size_histogram(voids.diameter_px),
        clarity=_clarity(record["clarity"], settings),
        thickness_mm=record["thickness_mm"],
        noted=_noted(record["noted"]),
        fitness=Fitness(tuple(_check(check) for check in record["fitness"]["checks"])),
        warnings=tuple(record["warnings"]),
    )


def _lighting(light: Part) -> Lighting:
    return Lighting(
        theta=light["half_angle_rad"],
        theta_err=_number(light["half_angle_err_rad"]),
        wall=light["wall_share"],
        blur_px=light["blur_px"],
        rings=light["measured_on_count"],
        theta_alike_err=light.get("half_angle_alike_err_rad", 0.0),
    )


def _clarity(clarity: Part, settings: Settings) -> Clarity:
    return Clarity(
        score=_number(clarity["score"]),
        low=_number(clarity["low"]),
        high=_number(clarity["high"]),
        cover=_number(clarity["cover_share"]),
        veil=_number(clarity["veil_share"]),
        grades=settings.grades,
        cover_err=_number(clarity["cover_share_err"]),
        veil_err=_number(clarity["veil_share_err"]),
    )


def _number(value: float | None) -> float:
    """Return a number; what cannot be known is null in the file."""
    return math.nan if value is None else float(value)


def _points(line: Part) -> NDArray[np.float64]:
    return np.stack([np.array(line[axis], np.float64) for axis in ("x_px", "y_px")], axis=1)


def _finds(columns: Part) -> Voids:
    numbers = ("x_px", "y_px", "diameter_px", "diameter_err_px", "edge_width_px", "contrast")
    words = {name: columns[name] for name in ("judged", "cut", "kind")}
    reasons = columns.get("reason", [""] * len(columns["kind"]))
    return Voids.of(**{name: [_number(cell) for cell in columns[name]] for name in numbers}, **words, reason=reasons)


def _noted(noted: Part) -> Noted:
    taken = noted["taken"] and datetime.datetime.fromisoformat(noted["taken"])
    numbers = {name: _number(value) for name, value in noted.items() if name not in {"camera", "taken"}}
    return Noted(camera=noted["camera"], taken=taken, **numbers)


def _check(check: Part) -> Check:
    return Check(
        name=check["name"],
        title=check["title"],
        value=_number(check["value"]),
        unit=check["unit"],
        limit=Limit(_number(check["care_limit"]), _number(check["unfit_limit"]), least=bool(check["smaller_is_worse"])),
        verdict=Verdict(check["verdict"]),
        fault=check["fault"],
        effect=check["effect"],
        cure=check["cure"],
    )
