"""Castings that are compared and were graded unlike one another: what they were graded by, in words."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

Level = str | float

SCALES: Final = {
    "stated": "a stated scale",
    "width": "a scale from the widest span",
    "card": "a scale from the card",
    "disc": "a scale from a coin or disc",
    "span": "a scale from two points",
}


@dataclass(frozen=True)
class Way:
    """One thing that a grading goes by."""

    column: str  # its name in `schema.GRADED`
    name: str  # as a factor that was changed along
    told: Callable[[Level], str]  # what a casting was graded with, in words
    why: str  # what hangs on it, and the cure
    counted: Callable[[Level], Level] = lambda level: level  # what of it counts


def unlike_by(way: Way, levels: Sequence[Level | None], were: Callable[[list[int]], str]) -> list[str]:
    """Return the sentence on one thing that castings were graded by; none where all that is known of it is alike.

    `were` names the castings at places among the `levels`, with the verb.
    """
    if len({way.counted(level) for level in set(levels) if level is not None}) < 2:  # noqa: PLR2004
        return []
    groups: dict[Level, list[int]] = {}
    for place, level in enumerate(levels):
        if level is not None:
            groups.setdefault(way.counted(level), []).append(place)
    *few, (usual, most) = sorted(groups.items(), key=lambda group: len(group[1]))
    told = [f"{were(own)} graded with {way.told(level)}" for level, own in few]
    every = sum(map(len, groups.values())) == len(levels)
    rest = f"the others with {way.told(usual)}" if every else f"{were(most)} graded with {way.told(usual)}"
    return [f"{', '.join(told)}, {rest}: {way.why}"]


def judged_words(level: Level) -> str:
    """Return what was judged."""
    return "the whole lit frame" if level else "an outline"


def accept_words(level: Level) -> str:
    """Return from which probability on a find counted."""
    return f"accept = {_plain(level)} in the settings"


def scale_words(level: Level) -> str:
    """Return what gave the scale."""
    return SCALES.get(str(level), str(level))


def version_words(level: Level) -> str:
    """Return which version graded."""
    return f"bubblegrade {level}"


def measuring_version(level: Level) -> Level:
    """Return what of a version tells how it measures: the third number grows where no measured number changes.

    >>> measuring_version("0.1.3")
    '0.1'
    """
    return ".".join(str(level).split(".")[:2])


def index_words(level: Level) -> str:
    """Return the refractive index that was taken."""
    return f"a refractive index of {_plain(level)}"


def _plain(level: Level) -> str:
    return f"{level:g}" if isinstance(level, int | float) else str(level)
