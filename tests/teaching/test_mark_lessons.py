"""Lessons of the namer: what each dark mark of a picture of known truth really is."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import cv2
import numpy as np
import pytest

from bubblegrade.drawn.pictures import Scene, draw, grid
from bubblegrade.teaching.lessons import Truth
from bubblegrade.teaching.mark_lessons import mark_at, traced_marks, true_kinds
from bubblegrade.voids.mark_looks import Pixels
from bubblegrade.voids.marks import Marks
from bubblegrade.voids.naming import MARK_KINDS

BAR = (250.0, 250.0)


def labelled(*boxes: tuple[int, int, int, int]) -> Marks:
    """Return marks that fill boxes of x, y, width and height."""
    labels = np.zeros((200, 200), np.int32)
    for number, (x, y, w, h) in enumerate(boxes, start=1):
        labels[y : y + h, x : x + w] = number
    pixels = Pixels(*np.nonzero(labels), labels[labels > 0].astype(np.intp) - 1, len(boxes))
    nothing = np.zeros(len(boxes))
    return Marks(
        under=pixels.labels(labels.shape), pixels=pixels, x_px=nothing, y_px=nothing, area_px=nothing,
        length_px=nothing, width_px=nothing, mean=nothing,
        features=np.zeros((len(boxes), 1), np.float32),
    )  # fmt: skip


def truth(*clutter: tuple[str, float, float, float], void: tuple[float, float, float] | None = None) -> Truth:
    """Return clutter of kind, x, y and size, and a void of x, y and diameter."""
    x, y, d = (np.array([value]) for value in void) if void else (np.empty(0),) * 3
    return Truth(x, y, d, np.ones(len(x), bool), clutter)


def test_a_mark_is_the_item_whose_middle_is_on_or_near_it() -> None:
    marks = labelled((50, 50, 20, 8), (120, 120, 10, 10))
    assert mark_at(marks, 60, 54, 20) == 1
    assert mark_at(marks, 60, 61, 20) == 1
    assert mark_at(marks, 60, 80, 20) == 0
    assert mark_at(marks, 5, 5, 20) == 0


def test_of_several_things_in_one_mark_the_largest_gives_the_name() -> None:
    marks = labelled((50, 50, 20, 8), (120, 120, 10, 10), (160, 20, 10, 10))
    kind = true_kinds(marks, truth(("fibre", 60, 54, 20), ("flake", 62, 54, 6), void=(125.0, 125.0, 9.0)))
    assert [MARK_KINDS[k] for k in kind] == ["fibre", "void", "nothing"]


def saved(folder: Path) -> Path:
    """Save a drawn cup with voids and one dark bar, and its truth as the tracer tells it."""
    x, y = grid([160, 220, 280, 340], [160, 340])
    scene = Scene(
        width_px=500, height_px=500, casting_px=210.0, x_px=x, y_px=y, diameter_px=np.full(8, 16.0), theta=0.5
    )
    picture = draw(scene).picture
    cv2.line(picture, (230, 250), (270, 250), (60, 60, 60), 5)
    voids = [
        {"x": a, "y": b, "d_px": 16.0, "visible": 1.0, "hidden": 0.0, "lit": 1.0, "stretch": 1.0}
        for a, b in zip(x.tolist(), y.tolist(), strict=True)
    ]
    told = {
        "spec": {"n": 1.5, "body": "cup"},
        "voids": voids,
        "clutter": [{"kind": "rod", "x": BAR[0], "y": BAR[1], "size_px": 40.0}],
    }
    assert cv2.imwrite(str(folder / "cup.png"), picture)
    assert cv2.imwrite(str(folder / "cup.jpg"), picture)
    (folder / "cup.json").write_text(json.dumps(told))
    return folder / "cup.png"


def test_the_marks_of_a_traced_photograph_are_its_lesson(tmp_path: Path) -> None:
    lesson = traced_marks(saved(tmp_path))
    assert lesson is not None
    assert MARK_KINDS.index("fibre") in lesson.kind
    assert len(lesson.features) == len(lesson.kind)


def test_a_photograph_without_a_casting_teaches_nothing(tmp_path: Path) -> None:
    assert cv2.imwrite(str(tmp_path / "light.png"), np.full((300, 300, 3), 150, np.uint8))
    assert traced_marks(tmp_path / "light.png") is None


def test_the_command_line_writes_a_namer_that_can_be_loaded(tmp_path: Path) -> None:
    pytest.importorskip("torch")
    saved(tmp_path)
    out = tmp_path / "namer.npz"
    command = [sys.executable, "-m", "bubblegrade.teaching.namer", "--traced", str(tmp_path), "--out", str(out)]
    subprocess.run([*command, "--trainings", "1", "--processes", "1"], check=True, env=os.environ.copy())
    with np.load(out, allow_pickle=False) as held:
        assert held["usual"].sum() == pytest.approx(1.0, abs=1e-5)
