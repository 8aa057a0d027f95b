"""What one photograph adds to a result."""

from __future__ import annotations

import json
from collections.abc import Callable

from bubblegrade.grading_run import Casting
from bubblegrade.results.entry import entry_of
from bubblegrade.results.run_json import to_json

MakeCasting = Callable[..., Casting]


def test_an_entry_read_back_is_the_entry(known_casting: MakeCasting) -> None:
    entry = entry_of(known_casting())
    assert json.loads(to_json(entry.record)) == entry.record


def test_a_renamed_entry_has_its_new_name_in_both_parts(known_casting: MakeCasting) -> None:
    entry = entry_of(known_casting()).renamed("=b.jpg")
    assert (entry.record["photo"], entry.row["photo"]) == ("=b.jpg", "'=b.jpg")
