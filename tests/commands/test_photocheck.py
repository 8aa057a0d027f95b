"""`bubblegrade photocheck` as a user runs it."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import cv2
import numpy as np
import pytest
from click.testing import CliRunner, Result

from bubblegrade.commands import main
from bubblegrade.fitness.check import RAISE

Photograph = Callable[..., Path]


def run(*args: object) -> Result:
    return CliRunner().invoke(main, ["photocheck", *map(str, args)])


def test_a_fit_photograph_is_fit_and_nothing_is_written(tmp_path: Path, photograph: Photograph) -> None:
    result = run(photograph(tmp_path / "a.png"))
    assert (result.exit_code, result.stderr) == (0, "")
    assert "a.png" in result.stdout
    assert "fit" in result.stdout
    assert [place.name for place in tmp_path.iterdir()] == ["a.png"]


def test_an_unfit_photograph_says_why_and_gets_a_picture(tmp_path: Path, photograph: Photograph) -> None:
    photograph(tmp_path / "in" / "a.png")
    photograph(tmp_path / "in" / "b.png", level=1.2)
    result = run(tmp_path / "in", "--out", tmp_path / "out")
    assert result.exit_code == 1
    assert "is at full scale" in result.stdout
    names = sorted(place.name for place in (tmp_path / "out").iterdir())
    assert names == ["b-checked.jpg", "photocheck.csv", "photocheck.json"]
    assert json.loads((tmp_path / "out" / "photocheck.json").read_text("utf-8"))["files"] == names


def test_pictures_of_an_earlier_result_are_no_photographs(tmp_path: Path, photograph: Photograph) -> None:
    photograph(tmp_path / "b.png", level=1.2)
    first = run(tmp_path, "--out", tmp_path)
    again = run(tmp_path, "--out", tmp_path, "--replace")
    assert (first.exit_code, again.exit_code) == (1, 1)
    assert first.stdout == again.stdout
    assert "add --replace" in run(tmp_path, "--out", tmp_path).stderr


def test_one_that_cannot_be_read_is_named_and_the_rest_is_done(tmp_path: Path, photograph: Photograph) -> None:
    photograph(tmp_path / "a.png")
    (tmp_path / "b.jpg").write_bytes(b"")
    result = run(tmp_path, "--json")
    assert result.exit_code == 3
    assert "b.jpg is empty" in result.stderr
    assert [unread["photo"] for unread in json.loads(result.stdout)["not_read"]] == ["b.jpg"]


@pytest.mark.parametrize("kind", ["blank", "black", "white", "noise", "chess"])
def test_a_picture_of_no_casting_is_unfit_and_says_what_to_do(tmp_path: Path, kind: str) -> None:
    rows, cols = np.indices((600, 800))
    pictures = {
        "blank": np.full((600, 800), 180),
        "black": np.zeros((600, 800)),
        "white": np.full((600, 800), 255),
        "noise": np.random.default_rng(1).integers(0, 256, (600, 800)),
        "chess": 20 + 200 * ((rows // 50 + cols // 50) % 2),
    }
    (tmp_path / "a.png").write_bytes(cv2.imencode(".png", pictures[kind].astype(np.uint8))[1].tobytes())
    result = run(tmp_path / "a.png")
    assert result.exit_code == 1
    assert "no casting in view, or its outline is lost in the light" in result.stdout
    assert (
        f"show it whole on the light, with no hand or clamp at it, or let 'grade' judge the frame with --whole; {RAISE}"
        in result.stdout
    )
    assert "judged, diffuse" not in result.stdout
    assert "as much light comes through the outline" not in result.stdout


def test_what_was_not_asked_is_not_told_and_what_cannot_be_told_is_named_once(
    tmp_path: Path, photograph: Photograph
) -> None:
    result = run(photograph(tmp_path / "a.png"))
    assert "smallest void asked for" not in result.stdout
    assert result.stdout.count("darkness in the middle of voids over that by optics") == 1


def test_an_unfit_one_outweighs_one_that_cannot_be_read(tmp_path: Path, photograph: Photograph) -> None:
    photograph(tmp_path / "a.png", level=1.2)
    (tmp_path / "b.jpg").write_bytes(b"")
    result = run(tmp_path)
    assert result.exit_code == 1
    assert "b.jpg is empty" in result.stderr


def test_nothing_that_can_be_read_is_nothing_usable(tmp_path: Path) -> None:
    (tmp_path / "b.jpg").write_bytes(b"no picture")
    assert run(tmp_path / "b.jpg", "--out", tmp_path / "out").exit_code == 2
    assert run(tmp_path / "none.jpg").exit_code == 2


def test_scale_size_thickness_and_height_are_told(tmp_path: Path, photograph: Photograph) -> None:
    said = ("--width", "30mm", "--smallest", "0.3mm", "--thickness", "10mm", "--camera-height", "100mm")
    result = run(photograph(tmp_path / "a.png"), *said)
    assert result.exit_code == 1
    assert "a void of 0.3 mm is 3.0 px across" in result.stdout
    assert "the camera is 10 times the casting's thickness away" in result.stdout


@pytest.mark.parametrize(
    ("options", "said"),
    [
        ((), "no photograph is named"),
        (("a.png", "--smallest", "0.1mm"), "--smallest says nothing without a scale"),
        (("a.png", "--mm-per-px", "0.1", "--width", "3mm"), "both give the scale"),
        (("a.png", "--width", "3mm", "--whole"), "--width needs the outline"),
        (("a.png", "--replace"), "--replace says nothing without a folder"),
        (("a.png", "--thickness", "9m9"), "--thickness"),
    ],
)
def test_a_request_that_makes_no_sense_is_refused_in_one_line(options: tuple[str, ...], said: str) -> None:
    result = run(*options)
    assert result.exit_code == 2
    assert said in result.stderr
    assert result.stderr.count("\n") == 1
