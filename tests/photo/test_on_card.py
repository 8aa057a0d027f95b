"""A casting on the scale card: squared, with true diameters in mm."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest
from click.testing import CliRunner
from numpy.typing import NDArray

from bubblegrade.commands import main
from bubblegrade.drawn.cards import PAINT_PX_PER_MM, Sheet, Shot, photograph
from bubblegrade.drawn.pictures import Scene, draw, grid
from bubblegrade.errors import PhotoError
from bubblegrade.photo.card import make_card
from bubblegrade.photo.lens import lens_from_focal
from bubblegrade.photo.light import linear
from bubblegrade.photo.noted import Noted
from bubblegrade.photo.on_card import OnCard, square_view
from bubblegrade.photo.reading import Photo

DIAMETERS_MM = np.array([0.8, 1.2, 2.0, 3.0])
RADIUS_MM = 20.0


def with_cup(sheet: Sheet, shot: Shot) -> Sheet:
    """Return the sheet with a cup of 16 voids in the middle of its window, balls as this shot sees them through resin.

    They lie on the sheet, and look drawn out in the direction of the camera.
    """
    side = int(56 * PAINT_PX_PER_MM)
    place = side / 2 + PAINT_PX_PER_MM * np.array([-9.0, -3.0, 3.0, 9.0])
    x, y = grid(place, place)
    scene = Scene(
        width_px=side, height_px=side, casting_px=RADIUS_MM * PAINT_PX_PER_MM, x_px=x, y_px=y, theta=0.62,
        diameter_px=np.tile(DIAMETERS_MM, 4) * PAINT_PX_PER_MM, electrons=0.0, vignette=0.0, blur_px=1.0, level=0.6,
    )  # fmt: skip
    passed = drawn_out(linear(draw(scene).picture[..., 1] / 255.0) / 0.6, place, shot)
    light = sheet.light.copy()
    rows, cols = light.shape
    top, left = (rows - side) // 2, (cols - side) // 2
    light[top : top + side, left : left + side] *= passed.astype(np.float32)
    return replace(sheet, light=light)


def drawn_out(passed: NDArray[np.float64], place: NDArray[np.float64], shot: Shot) -> NDArray[np.float64]:
    """Return the light of a cup with each void, at the crossings of `place`, made longer towards the camera."""
    inside = math.asin(math.sin(math.radians(shot.tilt_degrees)) / 1.5)
    towards = math.radians(shot.tilt_towards_degrees) + math.pi / 2  # the camera leans about the direction of its tilt
    unit = np.array([math.cos(towards), math.sin(towards)])
    back = np.eye(2) - (1.0 - math.cos(inside)) * np.outer(unit, unit)
    result, half = passed.copy(), int(2.5 * PAINT_PX_PER_MM)
    for x, y in np.rint(np.stack(np.meshgrid(place, place), axis=-1).reshape(-1, 2)).astype(int):
        patch = np.s_[y - half : y + half + 1, x - half : x + half + 1]
        middle = np.full(2, float(half))
        warp = np.column_stack([back, middle - back @ middle])
        how = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
        result[patch] = cv2.warpAffine(
            passed[patch], warp, (2 * half + 1,) * 2, flags=how, borderMode=cv2.BORDER_REPLICATE
        )
    return result


@pytest.fixture(scope="module", params=[12.0, 24.0], ids=["12 degrees", "24 degrees"])
def cup_on_card(request: pytest.FixtureRequest, sheet_of: Callable[..., Sheet]) -> NDArray[np.uint8]:
    """Return a photograph, from aside, of a cup on a card with a window of 60 mm."""
    shot = Shot(
        shape_px=(1700, 1800), focal_px=1900.0, mm_per_px=0.07, tilt_degrees=request.param, tilt_towards_degrees=40.0
    )
    return photograph(with_cup(sheet_of(make_card("a4", window_mm=60.0, film=False)), shot), shot)


def test_a_cup_photographed_from_aside_has_true_diameters_in_mm(cup_on_card: NDArray[np.uint8], tmp_path: Path) -> None:
    assert cv2.imwrite(str(tmp_path / "cup.png"), cup_on_card)
    place = tmp_path / "R"
    done = CliRunner().invoke(
        main,
        [
            "grade",
            str(tmp_path / "cup.png"),
            "--out",
            str(place),
            "--card",
            "--printed",
            "100mm",
            "--thickness",
            "0.2mm",
        ],
    )  # drawn flat on the card
    assert done.exit_code == 0, done.output
    rows = np.genfromtxt(place / "voids.csv", delimiter=",", names=True, dtype=None, encoding="utf-8")
    assert len(rows) == 16
    found = np.sort(rows["diameter_mm"]).reshape(4, 4)
    np.testing.assert_allclose(found.mean(axis=1), DIAMETERS_MM, rtol=0.01)
    assert (place / "cup-marked.jpg").exists()


@pytest.mark.parametrize(("turn", "quarters"), [(0.0, 0), (30.0, 0), (80.0, 1), (-70.0, -1)])
def test_the_direction_of_the_look_is_that_in_the_squared_view(
    turn: float, quarters: int, sheet_of: Callable[..., Sheet]
) -> None:
    shot = Shot(
        shape_px=(1000, 1100), focal_px=1100.0, mm_per_px=0.12, tilt_degrees=24.0, tilt_towards_degrees=40.0,
        turn_degrees=turn,
    )  # fmt: skip
    taken = Photo("cup.jpg", photograph(sheet_of(make_card("a4", window_mm=60.0, film=False)), shot), "0" * 64)
    _, scale = square_view(taken, OnCard(printed_mm=100.0), thickness_mm=None, index=1.5)
    # it looks along 40 + 90 degrees, on the card less its turn, and the view is turned by full quarters
    along = math.radians(130.0 - turn + 90.0 * quarters)
    assert math.remainder(scale.enlarged_along - along, math.pi) == pytest.approx(0.0, abs=0.03)


@pytest.mark.parametrize(("noted_35mm", "told"), [(33.0, 0), (40.0, 0), (24.0, 1), (52.0, 1), (math.nan, 0)])
def test_a_lens_of_another_camera_or_zoom_is_told(cup_on_card: NDArray[np.uint8], noted_35mm: float, told: int) -> None:
    taken = Photo("cup.jpg", cup_on_card, "0" * 64, noted=Noted(focal_35mm=noted_35mm))
    lens = replace(lens_from_focal(33.2, cup_on_card.shape[:2]), source="calibrated")
    view, _ = square_view(taken, OnCard(lens=lens), thickness_mm=None, index=1.5)
    assert len(view.warnings) == told
    assert all("calibrate this camera at this zoom" in line for line in view.warnings)


def test_without_a_card_in_view_the_photograph_is_refused() -> None:
    bare = Photo("cup.jpg", np.full((600, 800, 3), 150, np.uint8), "0" * 64)
    with pytest.raises(PhotoError, match=r"^cup\.jpg"):
        square_view(bare, OnCard(), thickness_mm=None, index=1.5)


@pytest.mark.parametrize(
    ("options", "says"),
    [
        (["--printed", "99mm"], "--printed says nothing without a card in view: add --card"),
        (["--card", "--width", "44mm"], "--width and --card both give the scale"),
        (["--card", "--blank", "light.jpg"], "--blank does not lie on the card"),
        (["--card", "--lens", "gone.toml"], "gone.toml cannot be opened"),
    ],
)
def test_what_does_not_go_with_a_card_is_refused(options: list[str], says: str, tmp_path: Path) -> None:
    done = CliRunner().invoke(main, ["grade", str(tmp_path / "cup.png"), "--out", str(tmp_path / "R"), *options])
    assert done.exit_code == 2
    assert says in done.stderr
    assert not (tmp_path / "R").exists()
