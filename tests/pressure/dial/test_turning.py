"""How far a needle has turned between two photographs, against drawn dials of known needles."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from bubblegrade.drawn.dials import DialFace, Shot, photograph, varied_face, varied_shot
from bubblegrade.errors import PhotoError
from bubblegrade.pressure.dial import DialPhoto, NeedleTurn, needle_turn

FACE = DialFace()
SHOT = Shot(needle_deg=120.0, radius_px=180.0)


def turn(face: DialFace, first: Shot, second: Shot, seed: int = 1) -> NeedleTurn:
    """Return what is found of two photographs."""
    return needle_turn(*(DialPhoto(photograph(face, s, seed + i), f"{i}.jpg") for i, s in enumerate((first, second))))


@pytest.mark.parametrize("by_deg", [-30.0, -2.7, 0.0, 0.8])
def test_a_needle_s_turn_is_found_to_a_fraction_of_a_degree(by_deg: float) -> None:
    found = turn(FACE, SHOT, replace(SHOT, needle_deg=120.0 + by_deg))
    assert found.clockwise_deg == pytest.approx(by_deg, abs=0.25)
    assert found.err_deg < 1.0


@pytest.mark.parametrize(
    "second",
    [
        {"tilt_deg": 20.0, "tilt_to_deg": 60.0},
        {"roll_deg": 12.0},
        {"exposure": 0.6},
        {"radius_px": 420.0},
        {"glare": 0.6, "glare_at": (-0.3, -0.5)},
    ],
    ids=["oblique", "rolled", "darker", "closer", "reflection"],
)
def test_another_view_of_a_still_needle_moves_it_by_less_than_half_a_degree(second: dict[str, float]) -> None:
    assert turn(FACE, SHOT, replace(SHOT, **second)).clockwise_deg == pytest.approx(0.0, abs=0.5)  # type: ignore[arg-type]


def test_light_needles_on_dark_faces_are_followed() -> None:
    dark = DialFace(ground=0.1, ink=0.9, needle=0.9)
    assert turn(dark, SHOT, replace(SHOT, needle_deg=125.0)).clockwise_deg == pytest.approx(5.0, abs=0.5)


def test_grey_of_16_bits_gives_the_same() -> None:
    eight = [photograph(FACE, replace(SHOT, needle_deg=deg), 1)[..., 0] for deg in (120.0, 115.0)]
    found, wide = (
        needle_turn(*(DialPhoto(code, "a") for code in codes))
        for codes in (eight, [c.astype(np.uint16) * 257 for c in eight])
    )
    assert wide == found


@pytest.mark.long
def test_varied_dials_by_hand_are_within_half_a_degree_or_say_so() -> None:
    off, read, seeds = [], 0, range(7000, 7003)
    for seed in seeds:
        random = np.random.default_rng(seed)
        face, start = varied_face(random), float(random.uniform(60.0, 200.0))
        by = float(random.uniform(-6.0, 3.0))
        try:
            found = turn(face, varied_shot(random, start), varied_shot(random, start + by), seed)
        except PhotoError:
            continue
        read += 1
        off.append(abs(found.clockwise_deg - by))
        assert off[-1] < max(0.5, 3.0 * found.err_deg)
    assert read >= 2
    assert np.median(off) < 0.3


def test_two_different_dials_are_refused() -> None:
    other = DialFace(majors=6, minors=4, top=160.0, words=3, inner_scale=True)
    photos = [DialPhoto(photograph(face, SHOT, 1), name) for face, name in ((FACE, "a.jpg"), (other, "b.jpg"))]
    with pytest.raises(PhotoError, match=r"a\.jpg and b\.jpg do not show the same dial"):
        needle_turn(*photos)


def test_a_photograph_without_a_dial_is_refused() -> None:
    wall = np.random.default_rng(1).integers(100, 140, (300, 300), np.uint8)
    with pytest.raises(PhotoError, match=r"wall\.jpg shows no round dial: fill the frame"):
        needle_turn(DialPhoto(wall, "wall.jpg"), DialPhoto(wall, "wall.jpg"))


def test_a_dial_without_a_needle_is_refused() -> None:
    bare = photograph(replace(FACE, needle=FACE.ground, needle_high=0.0), replace(SHOT, shadow=0.0), 1)
    with pytest.raises(PhotoError, match=r"bare\.jpg shows no needle that can be followed"):
        needle_turn(DialPhoto(bare, "bare.jpg"), DialPhoto(bare, "bare.jpg"))


def test_a_mirrored_dial_is_refused_though_its_scale_lies_on_the_other() -> None:
    # The marks of a scale are nearly their own mirror image; read so, a needle that fell by 5 degrees fell by 49.
    straight, later = (
        photograph(FACE, replace(SHOT, radius_px=300.0, needle_deg=deg, roll_deg=roll), 1)
        for deg, roll in ((162.0, 0.0), (156.6, 3.0))
    )
    mirrored = np.ascontiguousarray(later[:, ::-1])
    for pair in ((straight, mirrored), (mirrored, straight)):
        with pytest.raises(PhotoError, match=r"is mirrored, as front cameras|do not show the same dial"):
            needle_turn(*(DialPhoto(codes, "a.jpg") for codes in pair))
    assert needle_turn(DialPhoto(straight, "a"), DialPhoto(later, "b")).clockwise_deg == pytest.approx(-5.4, abs=0.25)
