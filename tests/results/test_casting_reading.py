"""A casting read back from run.json gives the record that it was read from."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pytest

from bubblegrade.errors import InputError
from bubblegrade.grading_run import Casting, Request
from bubblegrade.results.casting_reading import read_casting
from bubblegrade.results.casting_record import casting_record
from bubblegrade.results.entry import entry_of
from bubblegrade.results.run import Run, run_record
from bubblegrade.results.run_json import json_pieces, plain
from bubblegrade.settings import Settings
from bubblegrade.voids.missed import hidden_share

KEPT = (
    "photo", "sha256", "width_px", "height_px", "noted", "unfit", "scale", "span_px", "thickness_mm", "outline",
    "judged", "magnified", "turned_degrees", "index_err_share", "light", "counts", "sizes_px", "sizes_mm", "glass",
)  # fmt: skip


def run_of(*castings: Casting) -> dict[str, Any]:
    entries = tuple(entry_of(casting) for casting in castings)
    run = Run("0.1", Request(), Settings(), None, entries=entries, not_graded=(), pictures=())
    held: dict[str, Any] = json.loads("".join(json_pieces(run_record(run))))
    return held


@pytest.mark.parametrize("fixture", ["known_casting", "empty_casting"])
def test_what_is_read_back_says_the_same(fixture: str, request: pytest.FixtureRequest) -> None:
    make: Callable[..., Casting] = request.getfixturevalue(fixture)
    across = make().voids.diameter_px
    hidden = hidden_share(across, make().judged_area_px)
    run = run_of(make(unfit=("cut by the frame",), hidden_share=hidden, index_err_share=0.012))
    casting, basis = read_casting(run, place="run.json")
    again = plain(casting_record(casting))
    assert isinstance(again, dict)
    for name in KEPT:
        assert again[name] == run["castings"][0][name], name
    for column in ("x_px", "diameter_px", "kind", "reason"):
        assert again["set_aside"][column] == run["castings"][0]["set_aside"][column]
    assert basis.settings == Settings()


@pytest.mark.parametrize(
    "spoil",
    [lambda run: run.pop("settings"), lambda run: run["castings"].clear(), lambda run: run["castings"][0].pop("light")],
)
def test_what_is_no_result_of_one_photograph_is_refused(
    known_casting: Callable[..., Casting], spoil: Callable[[dict[str, Any]], None]
) -> None:
    run = run_of(known_casting())
    spoil(run)
    with pytest.raises(InputError, match="R is no result of one photograph: grade it again"):
        read_casting(run, place="R")


def test_a_result_without_the_shared_part_of_the_lights_doubt_is_read(known_casting: Callable[..., Casting]) -> None:
    run = run_of(known_casting())
    run["castings"][0]["light"].pop("half_angle_alike_err_rad")
    casting, _ = read_casting(run, place="R")
    assert casting.lighting.theta_alike_err == 0.0


def test_a_result_of_another_format_is_refused(known_casting: Callable[..., Casting]) -> None:
    with pytest.raises(InputError, match="has format 99"):
        read_casting({**run_of(known_casting()), "format": 99}, place="R")
