"""corrected.csv: every find with its state, who put it right, and what grading had made of it."""

from __future__ import annotations

import csv
from collections.abc import Callable

from bubblegrade.corrected.changes import Added, Removed, Renamed, Resized, Step
from bubblegrade.corrected.numbers import Basis, applied
from bubblegrade.grading_run import Casting
from bubblegrade.results.corrected_table import COLUMNS, corrected_csv
from bubblegrade.settings import Settings


def test_the_table_has_every_find_beside_what_grading_made_of_it(known_casting: Callable[..., Casting]) -> None:
    casting = known_casting()
    did = (Removed("v0"), Resized("v1", 20.0), Renamed("s0", "void"), Added(100.0, 100.0, 12.0))
    steps = [Step(number, "=Ann", one) for number, one in enumerate(did, start=1)]
    text = corrected_csv(applied(casting, steps, Basis(Settings(), whole=False)), casting)
    rows = {row["find"]: row for row in csv.DictReader(text.splitlines())}
    assert tuple(rows["v0"]) == COLUMNS
    states = {name: row["state"] for name, row in rows.items()}
    assert states == {
        "v0": "removed", "v1": "counted", "v2": "counted", "s0": "counted", "s1": "set aside", "a4": "counted",
    }  # fmt: skip
    assert (rows["v1"]["diameter_px"], rows["v1"]["automatic_diameter_px"]) == ("20", "16")
    assert rows["v1"]["diameter_mm"] == "1"  # at 0.05 mm per px
    assert (rows["s0"]["kind"], rows["s0"]["automatic_kind"]) == ("void", "unsure")
    assert (rows["v2"]["source"], rows["v2"]["who"]) == ("automatic", "")
    assert (rows["a4"]["source"], rows["a4"]["who"]) == ("by hand", "'=Ann")  # no formula for a spreadsheet
    assert rows["a4"]["automatic_diameter_px"] == ""
