"""Cups become a trial: what is kept, what is left out, what is refused."""

from __future__ import annotations

import math

import numpy as np
import pytest

from bubblegrade.errors import InputError
from bubblegrade.pressure.cups import Cup, gather

SIZES = np.array([0.1, 0.2, 0.3, 0.4])


def cup(setting: str = "0psi", gauge_ratio: float = 0.0, **changes: object) -> Cup:
    """Return a cup with voids of 0.1 to 0.4, all countable."""
    facts = {"diameters": SIZES, "smallest": 0.05, **changes}
    return Cup(setting, gauge_ratio, **facts)  # type: ignore[arg-type]


def test_the_moments_are_those_of_the_voids_above_the_limit() -> None:
    trial = gather([cup(smallest=0.15), cup("15psi", 1.0)])
    logs = np.log(SIZES[1:])
    assert trial.count.tolist() == [3.0, 4.0]
    assert trial.mean[0] == pytest.approx(logs.mean())
    assert trial.squares[0] == pytest.approx(np.sum((logs - logs.mean()) ** 2))
    assert trial.log_limit[0] == pytest.approx(math.log(0.15))


def test_a_void_of_just_the_smallest_size_counts() -> None:
    assert gather([cup(smallest=0.2), cup("15psi", 1.0)]).count[0] == 3.0


def test_what_has_no_size_is_left_out() -> None:
    trial = gather([cup(diameters=np.array([math.nan, 0.2, math.inf])), cup("15psi", 1.0)])
    assert trial.count[0] == 1.0


def test_the_squeeze_is_that_of_the_combined_gas_law() -> None:
    trial = gather([cup(), cup("15psi", 1.0, warmth=1.1)])
    assert trial.log_squeeze.tolist() == [0.0, pytest.approx(math.log(2.0 / 1.1))]


def test_settings_are_ordered_by_pressure_and_cups_as_given() -> None:
    trial = gather([cup("60psi", 4.0), cup(), cup("15psi", 1.0), cup()])
    assert trial.settings == ("0psi", "15psi", "60psi")
    assert trial.setting.tolist() == [2, 0, 1, 0]
    assert trial.reference == 0


def test_open_air_is_the_reference_also_where_a_vacuum_lies_below_it() -> None:
    trial = gather([cup("3psia", -0.8), cup(), cup("15psi", 1.0)])
    assert trial.settings == ("3psia", "0psi", "15psi")
    assert (trial.open_setting, trial.reference) == (1, 1)


def test_without_an_open_cup_the_lowest_setting_is_the_reference() -> None:
    trial = gather([cup("30psi", 2.0), cup("15psi", 1.0)])
    assert trial.open_setting is None
    assert trial.settings[trial.reference] == "15psi"


def test_a_cup_without_a_named_mix_has_one_of_its_own() -> None:
    trial = gather([cup(mix="a"), cup(), cup("15psi", 1.0, mix="a"), cup("15psi", 1.0)])
    assert trial.mix.tolist() == [0, 1, 0, 2]


def test_raising_the_limit_leaves_smaller_voids_out() -> None:
    trial = gather([cup(smallest=0.2), cup("15psi", 1.0, smallest=0.2)], raised=1.25)
    assert trial.count.tolist() == [2.0, 2.0]
    assert trial.log_limit[0] == pytest.approx(math.log(0.25))


def test_empty_cups_at_one_setting_are_left_out() -> None:
    trial = gather([cup(), cup("15psi", 1.0), cup("15psi", 1.0, diameters=np.array([]))])
    assert len(trial.cups) == 2


def test_no_cup_at_all_is_refused() -> None:
    with pytest.raises(InputError, match=r"^no cup was given: cast cups at two pressures"):
        gather([])


def test_one_setting_only_is_refused() -> None:
    with pytest.raises(
        InputError, match=r"^30psi is the only pressure with voids: add cups at another one, best at 0psi"
    ):
        gather([cup("30psi", 2.0), cup("30psi", 2.0)])


def test_two_names_of_one_pressure_are_one_setting_and_refused() -> None:
    with pytest.raises(InputError, match=r"^30psi, two bar is the only pressure with voids"):
        gather([cup("30psi", 2.0), cup("two bar", 2.0)])


def test_voids_at_one_setting_of_two_are_refused() -> None:
    with pytest.raises(InputError, match=r"^0psi is the only pressure with voids"):
        gather([cup(), cup("60psi", 4.0, diameters=np.array([0.01]))])


def test_empty_cups_at_several_settings_are_refused_with_their_names() -> None:
    none = np.array([])
    with pytest.raises(InputError, match=r"^45psi, 60psi have cups without a void above the limit") as caught:
        gather([cup(), cup("45psi", 3.0), cup("45psi", 3.0, diameters=none), cup("60psi", 4.0, diameters=none)])
    assert str(caught.value).endswith("photograph them from closer, or cast with more voids")


def test_cups_without_any_void_are_refused() -> None:
    with pytest.raises(InputError, match=r"^0psi is the only pressure with voids"):
        gather([cup(diameters=np.array([]))])


@pytest.mark.parametrize("fact", [{"gauge_ratio": -1.0}, {"warmth": 0.0}, {"smallest": 0.0}])
def test_a_cup_in_vacuum_or_without_a_limit_is_a_broken_promise(fact: dict[str, float]) -> None:
    with pytest.raises(AssertionError, match="a cup has a pressure"):
        Cup(**{"setting": "x", "gauge_ratio": 0.0, "diameters": SIZES, "smallest": 0.1, **fact})  # type: ignore[arg-type]


@pytest.mark.parametrize("gauge_ratio", [2.8e-4, -2.5e-4])  # 14.7 psia and 101.3 kPa abs at sea level
def test_an_open_cup_written_as_an_absolute_pressure_is_open(gauge_ratio: float) -> None:
    assert gather([cup("open", gauge_ratio), cup("60psi", 4.0)]).open_setting == 0
    assert gather([cup("0.2psi", 0.014), cup("60psi", 4.0)]).open_setting is None
