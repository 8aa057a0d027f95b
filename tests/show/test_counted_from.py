"""Counts of photographs that were counted from unlike sizes on are not left to be compared."""

from __future__ import annotations

import io
from collections.abc import Callable
from dataclasses import replace

from rich.console import Console

from bubblegrade.grading_run import Casting
from bubblegrade.photo.scale import Scale
from bubblegrade.show.counted_from import counted_from, unlike_counts
from bubblegrade.show.tables import show_castings

MakeCasting = Callable[..., Casting]


def said(*castings: Casting) -> list[str]:
    return unlike_counts(counted_from(casting) for casting in castings)


def scaled(mm_per_px: float) -> Scale:
    return Scale(mm_per_px=mm_per_px, mm_per_px_err=0.0, source="stated")


def test_a_photograph_of_a_third_of_the_pixels_counts_from_three_times_the_size_on(known_casting: MakeCasting) -> None:
    fine, coarse = known_casting(scale=scaled(0.04)), known_casting(photo="sent.jpg", scale=scaled(0.12))
    assert fine.sizes_px.smallest == coarse.sizes_px.smallest == 5.0
    line = (
        "Counts do not compare: voids were counted from 0.200 mm on in cup.jpg, from 0.600 mm on in sent.jpg. "
        "Photograph all alike, or compare what voids.csv has from 0.600 mm on."
    )
    assert said(fine, coarse) == said(coarse, fine) == [line]
    file = io.StringIO()
    show_castings([fine, coarse], Console(file=file, width=200))
    assert file.getvalue().splitlines()[-1] == line


def test_photographs_taken_alike_get_no_such_sentence(known_casting: MakeCasting) -> None:
    assert said() == said(known_casting()) == []
    assert said(known_casting(scale=scaled(0.05)), known_casting(scale=scaled(0.054))) == []


def test_what_has_no_scale_is_compared_with_its_like_alone(known_casting: MakeCasting) -> None:
    unscaled = known_casting(scale=None)
    blurred = known_casting(photo="b.jpg", scale=None, sizes_px=replace(unscaled.sizes_px, smallest=8.0))
    assert said(unscaled, known_casting()) == []
    (line,) = said(unscaled, blurred)
    assert "from 5.00 px on in cup.jpg, from 8.00 px on in b.jpg" in line
