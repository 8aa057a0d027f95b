"""Cups of a trial that were graded unlike one another on the page: each was graded for itself, at its own time."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from bubblegrade.bench.castings import Kept
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

MOST_NAMED: Final = 4  # photographs; of more the rest is counted
AGAIN: Final = "grade them alike on the tray"
# By the request's name of each scale: its name among `SCALES`.
SCALE_FROM: Final = {"card": "card", "disc": "disc", "mm_per_px": "stated", "width_mm": "width", "span": "span"}
WAYS: Final = (
    Way(
        "resin_index",
        "refractive index taken",
        index_words,
        f"cups of one resin need one, for it moves diameters by 0.3 to 0.4 % a hundredth: {AGAIN}.",
    ),
    Way(
        "whole",
        "whole frame judged",
        judged_words,
        f"a frame takes in what is beside a cup, so their voids do not compare: {AGAIN}.",
    ),
    Way(
        "accept_share",
        "share from which a find counts",
        accept_words,
        f"what is taken for a void goes by it: {AGAIN}.",
    ),
    Way(
        "scale_from",
        "kind of scale",
        scale_words,
        f"1 % off in a scale is 1 % in a diameter: check that they agree, or {AGAIN}.",
    ),
    Way(
        "blank",
        "bare light",
        lambda level: "a photograph of the bare light" if level else "no photograph of the bare light",
        f"which finds count hangs on it a little: {AGAIN}.",
    ),
    Way(
        "version",
        "version of bubblegrade",
        version_words,
        f"versions may measure differently: {AGAIN}.",
        counted=measuring_version,
    ),
)


def unlike_cups(cups: Sequence[tuple[str, Kept]]) -> tuple[str, ...]:
    """Return a sentence for each thing that cups, each with its photograph's name, were graded unlike by."""
    names = [name for name, _ in cups]
    levels = [_graded_by(kept) for _, kept in cups]
    said = [
        unlike_by(way, [level[way.column] for level in levels], lambda places: _were(names, places)) for way in WAYS
    ]
    return tuple(sentence for sentences in said for sentence in sentences)


def _graded_by(kept: Kept) -> dict[str, Level | None]:
    """Return what a cup was graded by, by the columns of `WAYS`."""
    return {
        "resin_index": kept.basis.settings.index,
        "whole": kept.basis.whole,
        "accept_share": kept.basis.settings.accept,
        "scale_from": _scale_from(kept),
        "blank": kept.asked["request"].get("blank_sha256") is not None,
        "version": kept.asked["version"],
    }


def _scale_from(kept: Kept) -> str | None:
    """Return what gave the scale that counts, two points set on the page above all; None without one."""
    if kept.corrected.casting.scale != kept.graded.scale:
        return "span"
    request = kept.asked["request"]
    return next((scale for name, scale in SCALE_FROM.items() if request.get(name) is not None), None)


def _were(names: Sequence[str], places: Sequence[int]) -> str:
    named = ", ".join(names[place] for place in places[:MOST_NAMED])
    rest = f" and {len(places) - MOST_NAMED} more" if len(places) > MOST_NAMED else ""
    return f"{named}{rest} {'was' if len(places) == 1 else 'were'}"
