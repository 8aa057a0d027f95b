"""Pictures of voids under pressure: what they say, what they shade, and that they never change by themselves."""

from __future__ import annotations

import functools
import io
import math
import subprocess
import sys
import xml.etree.ElementTree as ET
from collections.abc import Callable
from itertools import pairwise
from typing import Any

import matplotlib as mpl
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from bubblegrade.show.plot_canvas import round_numbers, spread_out
from bubblegrade.show.plots import (
    Cup,
    Gain,
    Left,
    Limit,
    Picture,
    Setting,
    Shrinkage,
    gain_by_pressure,
    left_by_pressure,
    sizes_at_each_setting,
    sizes_by_pressure,
)

ATMOSPHERE_KPA = 101.325
PSI_KPA = 6.894757
PSIG = np.arange(0.0, 65.0, 5.0)
KPA = ATMOSPHERE_KPA + PSI_KPA * PSIG
LIMITS = (
    Limit("mould's own casting pressure", 50.0),
    Limit("rated working pressure", 60.0),
    Limit("relief valve", 65.0),
)


def setting(psig: float, *, cups: int = 3, voids: int = 40, countable: float = 0.12) -> Setting:
    """Return a setting of cups that keep to Boyle's law, sized 0.30 mm in open air."""
    random = np.random.default_rng(int(psig))
    kpa = ATMOSPHERE_KPA + PSI_KPA * psig
    median = 0.30 * (kpa / ATMOSPHERE_KPA) ** (-1.0 / 3.0)
    poured = tuple(Cup(median * np.exp(0.4 * random.normal(size=voids)), countable) for _ in range(cups))
    return Setting(f"{psig:g} psi", kpa, poured, median, 0.95 * median, 1.06 * median, 0.4)


def no_voids(psig: float) -> Setting:
    """Return a setting in which nothing was found, so that nothing was fitted."""
    return Setting(f"{psig:g} psi", ATMOSPHERE_KPA + PSI_KPA * psig, (Cup(np.empty(0), 0.12),))


SETTINGS = tuple(setting(psig) for psig in (0.0, 15.0, 30.0, 60.0))
FIT = Shrinkage(
    exponent=0.318,
    exponent_low=0.267,
    exponent_high=0.371,
    absolute_kpa=KPA,
    median=0.30 * (KPA / ATMOSPHERE_KPA) ** -0.318,
    low=0.28 * (KPA / ATMOSPHERE_KPA) ** -0.318,
    high=0.32 * (KPA / ATMOSPHERE_KPA) ** -0.318,
    boyle=0.30 * (KPA / ATMOSPHERE_KPA) ** (-1.0 / 3.0),
)


def gain(**changes: Any) -> Gain:
    """Return a curve from 24 voids down to under 3."""
    expected = 24.0 * np.exp(-PSIG / 27.0)
    facts: dict[str, Any] = {
        "psig": PSIG,
        "expected": expected,
        "low": 0.7 * expected,
        "high": 1.4 * expected,
        "target": 5.0,
        "visible_mm": 0.0873,
        "chosen_psig": 45.0,
        "limits": LIMITS,
    }
    return Gain(**{**facts, **changes})


def left(**changes: Any) -> Left:
    """Return what Boyle's law leaves."""
    ratio = KPA / ATMOSPHERE_KPA
    facts = {"diameter_share": ratio ** (-1 / 3), "area_share": ratio ** (-2 / 3), "volume_share": 1.0 / ratio}
    return Left(**{"psig": PSIG, "absolute_kpa": KPA, **facts, **changes})


PICTURES: dict[str, Callable[[], Picture]] = {
    "sizes by pressure": lambda: sizes_by_pressure(SETTINGS, FIT),
    "sizes at each setting": lambda: sizes_at_each_setting(SETTINGS),
    "gain": lambda: gain_by_pressure(gain()),
    "left": lambda: left_by_pressure(left()),
}


@functools.cache
def usual(name: str) -> Picture:
    """Return one of the pictures, drawn once."""
    return PICTURES[name]()


def texts(picture: Picture) -> str:
    """Return all words of a picture's SVG, a line each."""
    root = ET.fromstring(picture.svg)  # noqa: S314 - our own text
    found = ("".join(element.itertext()).strip() for element in root.iter("{http://www.w3.org/2000/svg}text"))
    return "\n".join(found)


def ids(picture: Picture) -> set[str]:
    """Return the names of a picture's parts."""
    return {name for element in ET.fromstring(picture.svg).iter() if (name := element.get("id"))}  # noqa: S314


@pytest.mark.parametrize("name", PICTURES)
def test_the_same_numbers_give_the_same_bytes_in_any_style_of_the_machine(name: str) -> None:
    first = usual(name)
    with mpl.rc_context({"font.size": 30.0, "figure.dpi": 33.0, "axes.facecolor": "red", "svg.fonttype": "path"}):
        again = PICTURES[name]()
    assert first == again
    assert "<dc:date>" not in first.svg


@pytest.mark.parametrize("name", PICTURES)
def test_the_pixels_are_a_picture_of_its_size_with_ink_on_a_light_ground(name: str) -> None:
    pixels = np.asarray(Image.open(io.BytesIO(usual(name).png)).convert("L"))
    assert pixels.shape[1] >= 1300
    assert np.median(pixels) > 230
    assert (pixels < 80).mean() > 0.003


@pytest.mark.parametrize("name", PICTURES)
def test_no_words_leave_the_picture(name: str) -> None:
    pixels = np.asarray(Image.open(io.BytesIO(usual(name).png)).convert("RGB")).astype(int)
    border = np.concatenate([part.reshape(-1, 3) for part in (pixels[:3], pixels[-3:], pixels[:, :3], pixels[:, -3:])])
    assert (border == border[0]).all()


def test_sizes_by_pressure_say_the_fit_its_limits_and_each_setting() -> None:
    picture = usual("sizes by pressure")
    said = texts(picture)
    for words in ("fit: exponent 0.318 (0.267 to 0.371)", "Boyle: exponent 1/3", "480 voids at 4 settings"):
        assert words in said
    for one in SETTINGS:
        assert one.words in said
        assert f"{one.absolute_kpa:.0f}" in said
        assert f"{one.median:.3f}" in said
    assert {"band", "fit", "boyle"} <= ids(picture)


def test_the_sizes_too_small_to_count_are_shaded_at_each_setting() -> None:
    limited = (setting(0.0, countable=0.1), setting(30.0, countable=0.15))
    by_pressure = sizes_by_pressure(limited)
    for picture in (by_pressure, sizes_at_each_setting(limited)):
        assert {"too-small-0-psi", "too-small-30-psi"} <= ids(picture)
    assert "too small to count" in texts(by_pressure)


def test_where_no_limit_is_known_nothing_is_shaded() -> None:
    unlimited = (setting(0.0, countable=0.0), setting(30.0, countable=math.nan))
    for picture in (sizes_by_pressure(unlimited), sizes_at_each_setting(unlimited)):
        assert not [name for name in ids(picture) if name.startswith("too-small")]
        assert "too small to count" not in texts(picture)


def test_a_setting_without_voids_keeps_its_place() -> None:
    some = (setting(0.0), no_voids(40.0))
    assert "40 psi" in texts(sizes_by_pressure(some, FIT))
    assert {"40 psi", "no countable void", "0 voids"} <= set(texts(sizes_at_each_setting(some)).split("\n"))


def test_nothing_but_empty_settings_are_an_ordinary_picture() -> None:
    empty = (no_voids(0.0), Setting("20 psi", 239.2, ()))
    assert "0 voids at 2 settings" in texts(sizes_by_pressure(empty))
    assert texts(sizes_at_each_setting(empty)).count("no countable void") == 2


def test_one_setting_alone_is_an_ordinary_picture() -> None:
    assert "1 setting" in texts(sizes_by_pressure(SETTINGS[:1]))


def test_voids_measured_in_px_say_so() -> None:
    for picture in (sizes_by_pressure(SETTINGS, unit="px"), sizes_at_each_setting(SETTINGS, unit="px")):
        assert "diameter, px" in texts(picture)


def test_each_setting_has_a_row_with_its_pressures_cups_and_voids() -> None:
    picture = usual("sizes at each setting")
    said = texts(picture)
    for one in SETTINGS:
        assert f"{one.absolute_kpa:.0f} kPa absolute" in said
        assert f"median {one.median:.3f}" in said
    assert said.count("3 cups") == said.count("120 voids") == len(SETTINGS)
    assert "countable from 0.120" in said
    assert "population" in ids(picture)


def test_the_gain_says_target_choice_and_every_limit_in_words() -> None:
    picture = usual("gain")
    said = texts(picture)
    for words in (
        "target: at most 5",
        f"chosen: 45 psi, {24.0 * math.exp(-45.0 / 27.0):.2f} voids",
        "mould's own casting pressure: 50 psi",
        "rated working pressure: 60 psi",
        "relief valve: 65 psi",
        "through each further 5 psi",
        "expected number of voids that can be seen, 0.0873 mm and larger",
    ):
        assert words in said
    assert {"above-limits", "band", "expected", "chosen"} <= ids(picture)
    assert f"{24.0 * (1.0 - math.exp(-5.0 / 27.0)):.1f}" in said.split("\n")


@pytest.mark.parametrize(
    ("top", "number", "numbers"), [(80, "0.37", 16), (120, "0.37", 12), (300, "0.37", 15), (80, "0.0037", 8)]
)
def test_so_many_bars_have_numbers_as_stand_clear_of_each_other(top: int, number: str, numbers: int) -> None:
    psig = np.arange(0.0, top + 5.0, 5.0)
    expected = 100.0 - float(number) * psig / 5.0
    drawn = gain(psig=psig, expected=expected, low=expected - 1.0, high=expected + 1.0)
    assert texts(gain_by_pressure(drawn)).split("\n").count(number) == numbers


def test_without_a_choice_or_limits_none_are_drawn() -> None:
    picture = gain_by_pressure(gain(chosen_psig=math.nan, limits=()))
    assert "chosen" not in texts(picture)
    assert not {"above-limits", "chosen"} & ids(picture)


def test_a_gain_of_nothing_and_of_one_pressure_are_ordinary_pictures() -> None:
    nothing = np.zeros(len(PSIG))
    assert "target" in texts(gain_by_pressure(gain(expected=nothing, low=nothing, high=nothing + 3.0)))
    one = {name: np.array([4.0]) for name in ("expected", "low", "high")}
    assert "target" in texts(gain_by_pressure(gain(psig=PSIG[:1], chosen_psig=0.0, limits=LIMITS[:1], **one)))


def test_a_limit_at_the_left_has_its_words_at_the_right_of_its_line() -> None:
    picture = gain_by_pressure(gain(limits=(Limit("rated working pressure", 5.0),)))
    assert "rated working pressure: 5 psi" in texts(picture)


def test_what_is_left_says_its_shares_and_both_pressures() -> None:
    # 60 psi gauge at sea level leaves 0.58161 of a diameter, 0.33827 of an area and 0.19674 of a volume, computed
    said = texts(usual("left"))
    for words in ("58 % left", "34 % left", "20 % left", "diameter", "projected area", "volume", "101", "515"):
        assert words in said
    assert "share of what it was at open air; a mark every 5 psi" in said
    assert "20 psi" in texts(left_by_pressure(left(since="20 psi")))


def test_plots_leave_the_windows_of_whoever_imports_them_alone() -> None:
    code = "import sys, bubblegrade.show.plots; sys.exit('matplotlib.pyplot' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


@given(st.floats(1e-3, 1e3), st.floats(1.5, 1e4))
def test_round_numbers_lie_within_their_span(low: float, ratio: float) -> None:
    found = round_numbers(low, low * ratio)
    assert all(low <= number <= low * ratio for number in found)
    assert found == sorted(found)
    assert ratio < 2.5 or found


@given(st.lists(st.floats(0.0, 100.0), min_size=1, max_size=6))
def test_labels_keep_their_order_and_stand_apart(wanted: list[float]) -> None:
    placed = spread_out(wanted, 5.0, 0.0, 100.0)
    assert all(0.0 <= height <= 100.0 for height in placed)
    heights = sorted(placed)
    assert all(after - before > 3.5 for before, after in pairwise(heights))
    assert [placed[number] for number in sorted(range(len(wanted)), key=lambda one: wanted[one])] == heights
