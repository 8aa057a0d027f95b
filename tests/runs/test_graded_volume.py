"""The share of a casting that graded voids take, for weighing it beside them."""

from __future__ import annotations

import json
import math
from pathlib import Path

import pytest

from bubblegrade.errors import InputError
from bubblegrade.results.folder import RUN_FILE
from bubblegrade.runs.graded_volume import read_seen_volume


def graded(folder: Path, diameters_mm: list[float], volume_cm3: float | None) -> Path:
    """Write what a record of one casting says of its voids."""
    casting = {
        "photo": "cup.jpg",
        "judged": {"volume_cm3": {"value": volume_cm3}},
        "voids": {"diameter_mm": diameters_mm},
        "smallest_countable_mm": 0.5,
    }
    (folder / RUN_FILE).write_text(json.dumps({"castings": [casting]}))
    return folder


def test_voids_from_the_smallest_countable_size_on_are_summed_up(tmp_path: Path) -> None:
    seen = read_seen_volume(graded(tmp_path, [0.49, 0.5, 1.0, 2.0], 4.0), None)
    assert seen.share.value == pytest.approx(math.pi / 6 * (0.5**3 + 1.0 + 2.0**3) / 4000.0)  # spheres
    assert seen.share.low < seen.share.value < seen.share.high


def test_without_a_volume_there_is_no_share(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="graded without a scale or a thickness"):
        read_seen_volume(graded(tmp_path, [1.0], None), None)


def test_a_refused_photograph_is_answered_with_a_few_names_and_the_number_of_the_rest(tmp_path: Path) -> None:
    def named(names: list[str]) -> Path:
        (tmp_path / RUN_FILE).write_text(json.dumps({"castings": [{"photo": name} for name in names]}))
        return tmp_path

    with pytest.raises(InputError, match=r"name one of a, b, c, d, e or 2 more$"):
        read_seen_volume(named(list("abcdefg")), "h")
    with pytest.raises(InputError, match=r"name one of a, b, c, d, e$"):
        read_seen_volume(named(list("abcde")), "h")
