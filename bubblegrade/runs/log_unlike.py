"""Castings of the log that were graded unlike one another, so that their numbers do not wholly compare: what to say."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

from bubblegrade.grading.estimate import Estimate
from bubblegrade.quality.factors import ALIKE, Difference, Factor
from bubblegrade.records.reading import Row
from bubblegrade.runs.graded_unlike import (
    Level,
    Way,
    accept_words,
    index_words,
    judged_words,
    measuring_version,
    scale_words,
    unlike_by,
    version_words,
)
from bubblegrade.show.words import castings_were

Columns = Mapping[str, Sequence[Any]]  # by name, an entry a casting

COUNTED: Final = ("voids", "clarity")  # measures that hang on which finds count, and on where they were sought
TRIALS: Final = "shrinkage"
BY_AREA: Final = ("cm2", "cm3")
# Of a length, by which two kinds of scale differ at worst: a coin makes it 4 to 7 % short where nothing is known of
# the camera, with a doubt of up to 5 % (tests/benchmarks/README.md).
SCALES_OFF: Final = 0.1
BESIDE_WAYS: Final = {"resin_index": ("resin",)}  # fields of a casting that one of `GRADED` is looked at with
AGAIN: Final = "grade them alike and tie them again"


@dataclass(frozen=True)
class Hanging(Way):
    """One thing that measures of the log hang on."""

    measures: tuple[str, ...] = COUNTED
    per: tuple[str, ...] | None = None  # what voids are counted in, where it only matters with that
    most: float = math.inf  # ratio of two counts that it makes at most


# Figures are of 35 photographs of castings of known voids, graded both ways.
WAYS: Final = (
    Hanging(
        "whole",
        "whole frame judged",
        judged_words,
        f"a frame takes in what is beside the casting, so counts by area and clarity do not compare: {AGAIN}",
        measures=(*COUNTED, TRIALS),
    ),
    Hanging(
        "accept_share",
        "share from which a find counts",
        accept_words,
        f"what is taken for a void goes by it: {AGAIN}",
        measures=(*COUNTED, TRIALS),
    ),
    Hanging(
        "scale_from",
        "kind of scale",
        scale_words,
        f"1 % off in a scale is 2 % in voids per cm2: check that they agree, or {AGAIN}",
        measures=("voids",),
        per=BY_AREA,
        most=1.0 / (1.0 - SCALES_OFF) ** 2,
    ),
    Hanging(
        "version",
        "version of bubblegrade",
        version_words,
        f"versions may measure differently: {AGAIN}",
        measures=(*COUNTED, TRIALS),
        counted=measuring_version,
    ),
)
INDEX: Final = Hanging(
    "resin_index",
    "refractive index taken",
    index_words,
    "castings of one resin need one, for it moves diameters by 0.3 to 0.4 % a hundredth, though counts and clarity "
    f"hardly: {AGAIN}",
)


def unlike_gradings(columns: Columns, measure: str, *, per: str) -> list[str]:
    """Return a sentence for each thing that chosen castings were graded unlike by, where the measure hangs on it.

    What a casting's record does not tell is passed over, and so is what `columns` lack, in which all are alike. A
    refractive index may differ from resin to resin.
    """
    numbers, said = columns["number"], []
    for way in _ways(columns, measure, per=per):
        said += _unlike(way, numbers, columns[way.column])
    if measure in INDEX.measures and INDEX.column in columns:
        one_resin = _of_one_resin(columns)
        levels = [level if own else None for level, own in zip(columns[INDEX.column], one_resin, strict=True)]
        said += _unlike(INDEX, numbers, levels)
    return said


def unlike_results(results: Sequence[Row]) -> list[str]:
    """Return a sentence for each thing that the newest results of each kind of one casting were made unlike by.

    Hold tests, which measure no photograph of it, are passed over.
    """
    newest = {result["kind"]: result for result in results if result["kind"] != "hold"}  # later ones come last
    said = []
    for way in (*WAYS, INDEX):
        taken = {kind: each[way.column] for kind, each in newest.items()}
        levels = {kind: way.counted(level) for kind, level in taken.items() if level is not None}
        if len(set(levels.values())) > 1:
            told = ", ".join(f"{kind} with {way.told(level)}" for kind, level in levels.items())
            said.append(f"Its results were made unlike, {told}: {way.why}.")
    return said


def graded_by(columns: Columns, measure: str, *, per: str) -> dict[str, list[str | None]]:
    """Return what castings were graded by as factors that may have been changed along, by name."""
    found = {}
    for way in _ways(columns, measure, per=per):
        words = {level: None if level is None else str(way.counted(level)) for level in set(columns[way.column])}
        found[way.name] = [words[level] for level in columns[way.column]]
    return found


def told_if_alike(factor: Factor) -> Factor:
    """Return a factor of whose differences only those are told that its groups, graded unlike, cannot owe to that.

    Where groups were graded unlike throughout, the interval of a ratio of counts is widened by what the ways can make
    of it together; where that has no end, nothing is told.
    """
    along = [way for way in WAYS if way.name in factor.together_with]
    if not along:
        return factor
    most = math.prod(way.most for way in along)
    differences = tuple(_widened(each, most) for each in factor.differences)
    words, told = ([each.word for each in some] for some in (factor.differences, differences))
    apart = words == told and any(word != ALIKE for word in told)
    others = tuple(name for name in factor.together_with if not apart or name not in {way.name for way in along})
    return replace(factor, differences=differences, together_with=others)


def _ways(columns: Columns, measure: str, *, per: str) -> list[Hanging]:
    """Return the ways that are read and that a measure hangs on."""
    return [
        way for way in WAYS if way.column in columns and measure in way.measures and (way.per is None or per in way.per)
    ]


def _widened(difference: Difference, most: float) -> Difference:
    """Return a ratio that may be up to `most` times as large or as small as it seems, told where 1 lies outside."""
    if math.isinf(most):
        return replace(difference, word=ALIKE)
    effect = difference.effect
    wide = Estimate(effect.value, effect.low / most, effect.high * most)
    return replace(difference, effect=wide, word=difference.word if wide.low > 1.0 or wide.high < 1.0 else ALIKE)


def _unlike(way: Way, numbers: Sequence[int], levels: Sequence[Level | None]) -> list[str]:
    """Return the sentence on one thing; none where all that is known of it is alike."""
    return unlike_by(way, levels, lambda places: castings_were([numbers[place] for place in places]))


def _of_one_resin(columns: Columns) -> list[bool]:
    """Tell of each casting whether its resin, as far as known, was graded with several refractive indices."""
    plain = {name: None if name is None else " ".join(name.split()).casefold() for name in set(columns["resin"])}
    resins = [plain[name] for name in columns["resin"]]
    levels_of: dict[str | None, set[Level]] = {resin: set() for resin in (None, *resins)}
    for resin, level in set(zip(resins, columns[INDEX.column], strict=True)):
        if level is not None:
            levels_of[resin].add(level)
    every, unnamed = set().union(*levels_of.values()), levels_of[None]
    several = {resin: len(every if resin is None else levels | unnamed) > 1 for resin, levels in levels_of.items()}
    return [several[resin] for resin in resins]
