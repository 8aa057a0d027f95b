"""Good and spoiled photographs: damages at their stated sizes are caught, none far below, and no good one alarms."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
import pytest

from bubblegrade.drawn import spoiled
from bubblegrade.fitness.check import Check, Fitness, Verdict

Picture = np.ndarray
Draw = Callable[..., Picture]

SAMPLES = (
    *("cup-open-a", "cup-open-b", "cup-30psi-a", "cup-60psi-a", "cup-clear-a", "cup-tapered-a"),
    *("lure-plain-a", "lure-glitter-a"),
)
# Drawn castings of other seeds: few and many voids, and light, slopes, noise, blur and exposures that are fine.
GOOD: tuple[dict[str, Any], ...] = (
    *({"seed": seed, "voids": voids} for seed, voids in ((31, 5), (32, 12), (33, 25), (34, 60), (35, 90))),
    *({"seed": 40 + number, "theta": theta} for number, theta in enumerate((0.25, 0.45, 0.6))),
    *({"seed": 50 + number, "gradient": slope} for number, slope in enumerate((0.1, 0.2, 0.3))),
    *({"seed": 60 + number, "electrons": electrons} for number, electrons in enumerate((2500.0, 20_000.0))),
    *({"seed": 70 + number, "blur_px": blur} for number, blur in enumerate((0.4, 1.0, 1.2))),
    *({"seed": 80 + number, "level": level} for number, level in enumerate((0.2, 0.35, 0.75))),
    *({"seed": 90 + number, "clear": clear} for number, clear in enumerate((0.5, 0.7, 0.85))),
    {"seed": 99, "voids": 40, "wall": 0.5, "vignette": 0.2},
)


@dataclass(frozen=True)
class Damage:
    """A damage, the size at which it must be caught, and one at which it must not be."""

    name: str
    check: str
    spoil: Callable[[Picture, float], Picture]
    caught: float
    passed: float
    drawn_only: bool = False


def cut_off(picture: Picture, share: float) -> Picture:
    """Return the picture without this share of its width, on the left."""
    return np.ascontiguousarray(picture[:, round(share * picture.shape[1]) :])


def crushed(picture: Picture, black: float) -> Picture:
    """Return a drawn cup as one of resin so dark that it lets a tenth of the light through, its blacks crushed."""
    return spoiled.blackened(spoiled.front_lit(spoiled.exposed(picture, 0.11), 240.0, 9.0), black)


def neighboured(picture: Picture, share: float) -> Picture:
    """Return a drawn cup of 480 px with another one beside it, of whose width the frame shows this share."""
    cols = picture.shape[1]
    return np.ascontiguousarray(spoiled.in_company(picture, 1.0)[:, : round(1.5 * cols - 240 + share * 480)])


DAMAGES = (
    Damage("overexposed", "clipped_casting", spoiled.exposed, 1.9, 1.3),
    Damage("light clipped", "clipped_backlight", spoiled.exposed, 1.72, 1.3, drawn_only=True),
    Damage("underexposed", "clear_light", spoiled.exposed, 0.07, 0.2),
    Damage("crushed blacks", "crushed", crushed, 0.3, 0.1, drawn_only=True),
    Damage(
        "no backlight", "backlight", lambda p, ground: spoiled.front_lit(p, 240.0, ground), 0.5, 1.0, drawn_only=True
    ),
    Damage("coloured light", "colour_cast", lambda p, gain: spoiled.coloured(p, (gain, 0.9, 1.0)), 0.25, 0.6),
    Damage("cut off", "cut", cut_off, 0.3, 0.05),
    Damage("vignette", "unevenness", spoiled.vignetted, 0.85, 0.3, drawn_only=True),
    Damage("uneven", "unevenness", spoiled.sloped, 0.6, 0.3),
    Damage("level bands", "bands", lambda p, swing: spoiled.banded(p, swing, 90.0), 0.04, 0.01),
    Damage("upright bands", "bands", lambda p, swing: spoiled.banded(p, swing, 17.0, upright=True), 0.04, 0.01),
    Damage("screen, 5 px", "pattern", lambda p, swing: spoiled.gridded(p, swing, 5.0, degrees=7.0), 0.06, 0.02),
    Damage("screen, 13 px", "pattern", lambda p, swing: spoiled.gridded(p, swing, 13.0), 0.06, 0.02),
    Damage("moire, 40 px", "pattern", lambda p, swing: spoiled.gridded(p, swing, 40.0, degrees=20.0), 0.06, 0.02),
    Damage("out of focus", "edge_width", spoiled.defocused, 3.2, 0.9),
    Damage("motion to the side", "motion", spoiled.moved, 8.0, 2.5),
    Damage("motion aslant", "motion", lambda p, length: spoiled.moved(p, length, degrees=50.0), 8.0, 2.5),
    Damage("seen twice, 10 px", "second_exposure", lambda p, s: spoiled.taken_twice(p, s, (9.0, 5.0)), 0.45, 0.05),
    Damage("seen twice, 31 px", "second_exposure", lambda p, s: spoiled.taken_twice(p, s, (-20.0, 24.0)), 0.45, 0.05),
    Damage("light too narrow", "outline_held", spoiled.narrowed, 0.6, 0.85, drawn_only=True),
    Damage("edge of the light", "outline_along_edge", spoiled.narrowed, 0.6, 0.85, drawn_only=True),
    Damage("ruled sheet", "outline_dimmer", lambda p, passed: spoiled.ruled(p, passed, 40), 0.3, 0.95, drawn_only=True),
    Damage("a bay", "outline_hull", lambda p, size: spoiled.chipped(p, 240.0, size), 0.6, 0.2, drawn_only=True),
    Damage("a second casting", "beside", spoiled.in_company, 0.5, 0.25),
    Damage("a second casting, cut", "beside", neighboured, 0.5, 0.05, drawn_only=True),
    Damage("camera leaning", "drawn_out", spoiled.leant, 18.0, 6.0, drawn_only=True),
    Damage("JPEG", "jpeg_step", lambda p, quality: spoiled.compressed(p, round(quality)), 50, 80),
)  # fmt: skip
BASES = ("drawn 40 voids", "drawn 15 voids", "sample")
CASES = [(damage, base) for damage in DAMAGES for base in BASES if base != "sample" or not damage.drawn_only]


@pytest.fixture(scope="module")
def bases(drawn: Draw, sample: Draw) -> dict[str, Picture]:
    """Return the photographs to spoil."""
    return {"drawn 40 voids": drawn(11), "drawn 15 voids": drawn(12, 15), "sample": sample("lure-plain-a")}


@pytest.mark.parametrize(("damage", "base"), CASES, ids=[f"{damage.name}, {base}" for damage, base in CASES])
def test_a_damage_at_its_stated_size_is_caught_and_one_far_below_is_not(
    damage: Damage, base: str, bases: dict[str, Picture],
    checked: Callable[..., Fitness], check_of: Callable[..., Check],
) -> None:  # fmt: skip
    caught = check_of(checked(damage.spoil(bases[base], damage.caught)), damage.check)
    passed = check_of(checked(damage.spoil(bases[base], damage.passed)), damage.check)
    assert caught.verdict in (Verdict.CARE, Verdict.UNFIT)
    assert caught.fault
    assert passed.verdict is Verdict.FIT


@pytest.mark.parametrize("base", BASES)
def test_blur_is_said_as_the_least_that_it_can_be(
    base: str, bases: dict[str, Picture], checked: Callable[..., Fitness], check_of: Callable[..., Check]
) -> None:
    check = check_of(checked(spoiled.defocused(bases[base], 4.0)), "edge_width")
    assert check.value < 1.05 * 2.563 * 4.0
    assert " or more" in check.fault


@pytest.mark.parametrize("base", BASES)
@pytest.mark.parametrize(("length_px", "degrees"), [(7.0, 20.0), (9.0, 0.0), (14.0, 130.0), (20.0, 90.0)])
def test_motion_is_told_as_long_as_it_was(
    length_px: float, degrees: float, base: str, bases: dict[str, Picture],
    checked: Callable[..., Fitness], check_of: Callable[..., Check],
) -> None:  # fmt: skip
    check = check_of(checked(spoiled.moved(bases[base], length_px, degrees=degrees)), "motion")
    assert check.value == pytest.approx(length_px, rel=0.12)
    assert " or more" not in check.fault


@pytest.mark.parametrize(("length_px", "degrees"), [(32.0, 60.0), (45.0, 15.0)])
def test_motion_longer_than_most_voids_is_no_less_told(
    length_px: float, degrees: float, bases: dict[str, Picture],
    checked: Callable[..., Fitness], check_of: Callable[..., Check],
) -> None:  # fmt: skip
    moved = spoiled.moved(bases["drawn 40 voids"], length_px, degrees=degrees)
    assert check_of(checked(moved), "motion").value == pytest.approx(length_px, rel=0.12)


@pytest.mark.parametrize("base", ["drawn 40 voids", "sample"])
@pytest.mark.parametrize("radius_px", [3.5, 5.0, 7.0, 9.0])
def test_the_disc_of_a_lens_out_of_focus_is_told_as_wide_as_it_was(
    radius_px: float, base: str, bases: dict[str, Picture],
    checked: Callable[..., Fitness], check_of: Callable[..., Check],
) -> None:  # fmt: skip
    check = check_of(checked(spoiled.out_of_focus(bases[base], radius_px)), "void_blur")
    assert check.value == pytest.approx(0.6 * radius_px, rel=0.06)
    assert check.verdict is (Verdict.UNFIT if radius_px == 9.0 else Verdict.CARE)


@pytest.mark.parametrize("base", BASES)
@pytest.mark.parametrize(
    "spoil",
    [
        lambda picture: picture,
        lambda picture: spoiled.defocused(picture, 2.5),
        lambda picture: spoiled.defocused(picture, 4.0),
        lambda picture: spoiled.moved(picture, 10.0, degrees=20.0),
        lambda picture: spoiled.gridded(picture, 0.06, 13.0, degrees=20.0),
        lambda picture: spoiled.compressed(picture, 30),
    ],
)
def test_what_is_no_disc_is_not_told_as_one(
    spoil: Callable[[Picture], Picture], base: str, bases: dict[str, Picture],
    checked: Callable[..., Fitness], check_of: Callable[..., Check],
) -> None:  # fmt: skip
    assert check_of(checked(spoil(bases[base])), "void_blur").verdict is Verdict.CANNOT_TELL


@pytest.mark.parametrize("side", [16, 24, 30])
def test_a_picture_too_small_for_its_spectrum_tells_no_disc(
    side: int, bases: dict[str, Picture], checked: Callable[..., Fitness], check_of: Callable[..., Check]
) -> None:
    small = cv2.resize(bases["drawn 40 voids"], (side, side), interpolation=cv2.INTER_AREA)
    assert check_of(checked(small, whole=True), "void_blur").verdict is Verdict.CANNOT_TELL


def alarms(fitness: Fitness) -> list[str]:
    """Return what a photograph is blamed for."""
    return [check.fault for verdict in (Verdict.UNFIT, Verdict.CARE) for check in fitness.of(verdict)]


@pytest.mark.parametrize("facts", GOOD, ids=[str(facts) for facts in GOOD])
def test_a_good_drawn_photograph_alarms_nobody(
    facts: dict[str, Any], drawn: Draw, checked: Callable[..., Fitness]
) -> None:
    assert alarms(checked(drawn(**facts))) == []


@pytest.mark.parametrize("name", SAMPLES)
def test_a_good_sample_alarms_nobody_however_it_lies(name: str, sample: Draw, checked: Callable[..., Fitness]) -> None:
    picture = sample(name)
    assert alarms(checked(picture)) == []
    assert alarms(checked(np.ascontiguousarray(cv2.rotate(picture, cv2.ROTATE_90_CLOCKWISE)[:, ::-1]))) == []


def test_the_overexposed_sample_is_unfit(sample: Draw, checked: Callable[..., Fitness]) -> None:
    fitness = checked(sample("cup-too-bright"))
    assert fitness.verdict is Verdict.UNFIT
    assert [
        line.endswith("at full scale: expose less, and let no lamp or window mirror in it") for line in fitness.unfit
    ] == [True]


def test_the_bench_holds_at_least_sixty_photographs() -> None:
    assert len(CASES) + len(GOOD) + len(SAMPLES) >= 60
