"""The light's half-angle is read from the voids."""

from __future__ import annotations

import math

import numpy as np
import pytest

from bubblegrade.casting.outline import find_outline
from bubblegrade.casting.transmittance import darkness
from bubblegrade.drawn.pictures import Scene, draw, grid
from bubblegrade.optics import widest_light
from bubblegrade.photo.light import grey_light
from bubblegrade.settings import Settings
from bubblegrade.voids.detecting import Fitted, fitted_candidates
from bubblegrade.voids.fitting import Fits
from bubblegrade.voids.judging import learned_judge
from bubblegrade.voids.lighting import measure_lighting, usual_lighting


def seen(scene: Scene) -> Fitted:
    """Return what is measured in a drawn scene."""
    picture = draw(scene).picture
    light = grey_light(picture)
    outline = find_outline(light)
    assert outline is not None
    return fitted_candidates(darkness(light), picture, outline, Settings())


def large_voids(**fields: object) -> Scene:
    """Return a casting with 25 voids of 16 to 44 px."""
    x, y = grid(np.linspace(200, 600, 5), np.linspace(200, 600, 5))
    return Scene(casting_px=330.0, x_px=x, y_px=y, diameter_px=np.linspace(16.0, 44.0, 25), **fields)


@pytest.mark.parametrize("degrees", [20.0, 25.0, 30.0, 35.0, 40.0])
def test_the_light_of_a_drawn_scene_is_read_to_three_degrees(degrees: float) -> None:
    lighting = seen(large_voids(theta=math.radians(degrees))).lighting
    print(f"{degrees:.0f} degrees read as {math.degrees(lighting.theta):.1f} on {lighting.rings} voids")  # noqa: T201
    assert lighting.rings >= 3
    assert math.degrees(lighting.theta) == pytest.approx(degrees, abs=3.0)
    assert 0 < lighting.theta_err < 0.1


@pytest.mark.parametrize("degrees", [52.0, 60.0, 68.0])
def test_light_that_only_a_curved_underside_lets_in_is_read_to_three_degrees(degrees: float) -> None:
    assert math.radians(degrees) > 1.2 * widest_light()
    lighting = seen(large_voids(theta=math.radians(degrees), wall=0.8)).lighting
    assert math.degrees(lighting.theta) == pytest.approx(degrees, abs=3.0)


def test_no_more_light_is_read_than_a_flat_face_lets_in_where_it_is_not_plain() -> None:
    assert seen(large_voids(theta=widest_light())).lighting.theta <= widest_light()


@pytest.mark.parametrize("index", [1.47, 1.53, 1.56])
@pytest.mark.parametrize("degrees", [28.0, 32.0, 36.0])
def test_the_stated_doubt_of_the_light_holds_where_the_resin_is_not_the_usual_one(degrees: float, index: float) -> None:
    """Clear resins have 1.46 to 1.58 (handbook values); which one it is nobody told."""
    lighting = seen(large_voids(theta=math.radians(degrees), index=index)).lighting
    assert abs(lighting.theta - math.radians(degrees)) < 1.96 * lighting.theta_err
    assert 0 < lighting.theta_alike_err < lighting.theta_err < usual_lighting().theta_err


@pytest.mark.parametrize("degrees", [10.0, 14.0])
def test_a_light_too_narrow_to_leave_cores_is_not_told_and_sizes_come_out_all_the_same(degrees: float) -> None:
    scene = large_voids(theta=math.radians(degrees))
    fitted = seen(scene)
    assert (fitted.lighting.rings, fitted.lighting.theta_err) == (0, usual_lighting().theta_err)
    verdicts = learned_judge()(fitted.looks)
    size = 2 * fitted.fits.radius_px * np.exp(verdicts.log_ratio)
    best = np.argsort(verdicts.log_ratio_err)
    for x, y, d in zip(scene.x_px, scene.y_px, scene.diameter_px, strict=True):
        here = best[np.hypot(fitted.fits.x_px[best] - x, fitted.fits.y_px[best] - y) < 0.2 * d][0]
        assert verdicts.likely[here] > 0.5
        assert size[here] / d == pytest.approx(1.0, abs=max(0.02, 1.96 * float(verdicts.log_ratio_err[here])))


def test_light_through_the_walls_is_told_from_none() -> None:
    plain, walled = (seen(large_voids(theta=0.66, wall=w)).lighting.wall for w in (0.0, 0.6))
    assert plain <= 0.2
    assert walled >= 0.4


def test_without_voids_the_usual_light_is_assumed_and_said_to_be() -> None:
    lighting = seen(Scene()).lighting
    usual = usual_lighting()
    assert lighting.rings == 0
    assert (lighting.theta, lighting.theta_err) == (usual.theta, usual.theta_err)


def test_no_fits_at_all_give_the_usual_light() -> None:
    none = Fits(*[np.empty(0, np.float32)] * 10)
    assert measure_lighting([np.zeros((60, 60), np.float32)], none, noise=0.01) == usual_lighting()


def test_the_usual_light_is_a_little_narrower_than_the_widest() -> None:
    for index in (1.46, 1.5, 1.58):
        assert 0.8 * widest_light(index=index) < usual_lighting(index=index).theta < widest_light(index=index)
