"""A trial from photographs to files: cups graded or taken over, compared, and everything written into one folder."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray

from bubblegrade.corrected.numbers import Basis
from bubblegrade.errors import InputError
from bubblegrade.grading.pattern import Pattern
from bubblegrade.grading.pattern_casting import MOST_HIDDEN_SHARE, Pouring, casting_pattern, judged_ground
from bubblegrade.grading.record import BEHIND_BODIES
from bubblegrade.photo.scale import STATED
from bubblegrade.pressure.poured import Poured, Stated
from bubblegrade.pressure.trial import Question, Trial, hold_trial
from bubblegrade.results.casting_reading import casting_of
from bubblegrade.results.casting_record import casting_record
from bubblegrade.results.folder import ResultFolder
from bubblegrade.results.run import NotGraded, asked_record, write_run
from bubblegrade.results.run_json import plain
from bubblegrade.results.trial import write_trial
from bubblegrade.runs.inputs import Sources, find_sources
from bubblegrade.runs.many import Reports, grade_each
from bubblegrade.runs.one import Task
from bubblegrade.runs.one_mould import body_of, through_one_surface
from bubblegrade.runs.poured import Named, check_once, check_populations, check_pressures
from bubblegrade.runs.put_right import has_corrections, put_right
from bubblegrade.runs.same_cup import left_out, shown
from bubblegrade.runs.unlike_sizes import size_of, stated_in_px, unlike_sizes
from bubblegrade.show.trial_pictures import trial_pictures

UNKNOWN_POURING: Final = Pouring()
SETUP_CURE: Final = (
    "give a scale with --width or --mm-per-px, or say --same-setup if camera, distance and zoom were the same"
)


@dataclass(frozen=True)
class TrialTask:
    """What to do with a trial's cups."""

    grading: Task
    question: Question
    same_setup: bool = False  # sizes in px may be compared
    across_recipes: bool = False  # cups of several recipes may be compared
    pouring: Pouring = UNKNOWN_POURING
    earlier: tuple[Path, ...] = ()  # folders with results to take over from


@dataclass(frozen=True)
class Answered:
    """What came of a trial."""

    trial: Trial
    not_graded: tuple[NotGraded, ...]
    taken_over: int  # photographs that were not graded again
    trial_json: str


def run_trial(
    cups: Sequence[Named],
    faults: Sequence[NotGraded],
    task: TrialTask,
    place: Path,
    *,
    replace_old: bool,
    reports: Reports,
) -> Answered:
    """Grade the cups that need it, compare them and write everything below `place`.

    Raises
    ------
    InputError
        The cups cannot be compared.
    OutputError
        The results cannot be written.
    """
    said = _checked(cups, faults, task)
    sources = find_sources([cup.path for cup in cups], out=place)
    with ResultFolder.prepare(place, replace=replace_old) as folder:
        outcome = grade_each(
            Sources(sources.photographs, (*faults, *sources.faults)),
            task.grading,
            folder,
            reports,
            earlier=(place, *task.earlier),
        )
        stated = {source.name: _stated_of(source.path, cups) for source in sources.photographs}
        places = {source.name: source.path for source in sources.photographs}
        poured, sizes, shows, right, bodies = [], [], [], [], {}
        for graded in (entry.record for entry in outcome.run.entries):
            record, words = _put_right(graded, places[graded["photo"]], task.grading)
            right += words
            poured.append(poured_cup(record, stated[record["photo"]], task.pouring))
            sizes.append(size_of(record))
            shows.append(shown(record, stated[record["photo"]].setting))
            bodies[record["photo"]] = body_of(record)
        left = {**left_out(shows), **without_span(poured, scaled=task.grading.request.is_scaled)}
        poured = [cup for cup in poured if cup.photo not in left]
        check_left(poured, outcome.run.not_graded, left.values())
        unit = unit_of(poured, same_setup=task.same_setup)
        option = "--same-setup" if unit == "px" else stated_in_px(task.grading.request)
        poured, curved = through_one_surface(poured, bodies)
        said = (*said, *right, *dict.fromkeys(left.values()), *unlike_sizes(option, sizes), *curved)
        trial = hold_trial(poured, replace(task.question, unit=unit), warnings=said)
        run = outcome.run
        asked = asked_record(run.request, run.settings, blank_sha256=run.blank_sha256)
        text = write_trial(folder, trial, version=run.version, graded=asked)
        for name, picture in trial_pictures(trial).items():
            folder.write_text(f"{name}.svg", picture.svg)
            folder.write_bytes(f"{name}.png", picture.png)
        write_run(folder, replace(run, pictures=folder.written))
    taken_over = len(outcome.run.entries) - len(outcome.castings)
    return Answered(trial, outcome.run.not_graded, taken_over, text)


def _checked(cups: Sequence[Named], faults: Sequence[NotGraded], task: TrialTask) -> tuple[str, ...]:
    """Return warnings, after refusing what no grading would mend."""
    check_once(cups)
    check_pressures(cups, faults)
    request = task.grading.request
    if not request.is_scaled and not task.same_setup:
        raise InputError(f"sizes would be in px, which compare only within one set-up: {SETUP_CURE}")
    if task.question.casting_cm3 is not None and request.thickness_mm is None:
        raise InputError("--casting-volume needs the cups' own volume: add --thickness, such as 14mm")
    return check_populations(cups, across=task.across_recipes)


def _put_right(record: dict[str, Any], photograph: Path, task: Task) -> tuple[dict[str, Any], list[str]]:
    """Return a casting's record as corrected on the page, and what to say of that."""
    if not has_corrections(photograph):
        return record, []
    basis = Basis(task.settings, task.request.whole)
    put = put_right(casting_of(record, basis), photograph, basis)
    if not put.words:
        return record, list(put.remarks)
    after = plain(casting_record(put.casting))
    assert isinstance(after, dict)  # noqa: S101 - plain keeps mappings
    return after, list(put.remarks)


def _stated_of(path: Path, cups: Iterable[Named]) -> Stated:
    return next(cup.stated for cup in cups if cup.path == path)


def without_span(cups: Iterable[Poured], *, scaled: bool) -> dict[str, str]:
    """Return the photographs that have no scale although a length was stated for all, each with what to say."""
    return {
        cup.photo: f"{cup.photo} is left out: the frame cuts its casting's widest span, so that it has no scale."
        for cup in cups
        if scaled and math.isnan(cup.mm_per_px)
    }


def check_left(cups: Sequence[Poured], not_graded: Sequence[NotGraded], left_out: Iterable[str] = ()) -> None:
    """Refuse a trial of which too little is left; `left_out` says of photographs why they count for no cup.

    Raises
    ------
    InputError
        Cups at two pressures are not left.
    """
    settings = list(dict.fromkeys(cup.stated.setting for cup in cups))
    if len(settings) > 1:
        return
    left = f"only cups at {settings[0]} are" if settings else "no cup is"
    said = [each.rstrip(".") for each in dict.fromkeys(left_out)]
    if not_graded:
        faults = f"{len(not_graded)} photograph{'' if len(not_graded) == 1 else 's'}"
        said.append(f"{faults} could not be graded: mend what is said above")
    raise InputError(f"{left} left, {'; '.join(said)}; two pressures are needed")


def unit_of(cups: Sequence[Poured], *, same_setup: bool) -> str:
    """Return the unit of the cups' lengths: mm, or px where that may be.

    Raises
    ------
    InputError
        Some have a scale and some have none, or none has and the set-up is not said to be the same.
    """
    without = [cup.photo for cup in cups if math.isnan(cup.mm_per_px)]
    if not without:
        return "mm"
    if len(without) < len(cups):
        raise InputError(f"{', '.join(without)} without a scale cannot be compared with the others: give all a scale")
    if not same_setup:
        raise InputError(f"sizes are in px, which compare only within one set-up: {SETUP_CURE}")
    return "px"


def poured_cup(record: dict[str, Any], stated: Stated, pouring: Pouring = UNKNOWN_POURING) -> Poured:
    """Return the cup that run.json's `record` of a casting shows; lengths in mm where it has a scale, else in px."""
    unit = "mm" if record["scale"] else "px"
    names = ("x_px", "y_px", "diameter_px", "cut", f"diameter_{unit}")
    voids = {name: np.array(record["voids"][name], np.float64) for name in names}
    sizes = voids[f"diameter_{unit}"]
    volume = record["judged"]["volume_cm3"]["value"]
    return Poured(
        photo=record["photo"],
        sha256=record["sha256"],
        stated=stated,
        diameters=sizes[np.isfinite(sizes) & (voids["cut"] == 0.0)],
        smallest=record[f"smallest_countable_{unit}"],
        mm_per_px=record["scale"]["mm_per_px"] if record["scale"] else math.nan,
        volume_cm3=math.nan if volume is None else volume,
        unfit=tuple(record["unfit"]),
        casting=_casting(record),
        size_err=_size_err(record),
        pattern=_pattern(record, np.column_stack([voids[n] for n in names[:3]]), pouring),
    )


def _size_err(record: dict[str, Any]) -> float:
    """Return the median share that is stated as standard uncertainty of the countable diameters; 0 without any."""
    sizes, errs = (np.array(record["voids"][name], np.float64) for name in ("diameter_px", "diameter_err_px"))
    told = np.isfinite(errs) & (sizes >= record["smallest_countable_px"])
    return float(np.median(errs[told] / sizes[told])) if told.any() else 0.0


def _casting(record: dict[str, Any]) -> float:
    """Return the root of the outline's area; NaN where it is not sure, or where the photograph gives its own scale."""
    line, scale = record["outline"], record["scale"]
    if record["unfit"] or len(line["x_px"]) == 0 or (scale and scale["source"] != STATED):
        return math.nan
    edge = np.column_stack([line["x_px"], line["y_px"]]).astype(np.float32)
    return math.sqrt(cv2.contourArea(edge)) * (scale["mm_per_px"] if scale else 1.0)


def _pattern(record: dict[str, Any], voids_px: NDArray[np.float64], pouring: Pouring) -> Pattern | None:
    """Return where a casting's voids, (n, 3) x, y, diameter, lie; None where bodies hide too much of it."""
    hidden = sum(part["share"] for part in record["not_judged"] if part["reason"] == BEHIND_BODIES)
    if hidden > MOST_HIDDEN_SHARE:
        return None
    known = np.isfinite(voids_px[:, 2]) & (voids_px[:, 2] > 0.0)
    borders = [np.column_stack([line["x_px"], line["y_px"]]) for line in record["judged"]["borders"]]
    aside = record["set_aside"]
    bodies = np.column_stack([np.array(aside[n], np.float64) for n in ("x_px", "y_px", "diameter_px")])
    return casting_pattern(
        voids_px[known],
        judged_ground(borders, (record["height_px"], record["width_px"])),
        hardware_px=bodies[np.array(aside["kind"], np.str_) == "hardware"],
        pouring=pouring,
        seed=int(record["sha256"][:8], 16),
    )
