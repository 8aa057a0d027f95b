"""Control charts against the handbook's example, exact Poisson limits, and how often chance alone makes a signal."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from bubblegrade.quality.charts import NELSON, WESTERN, count_chart, individuals_chart

# NIST/SEMATECH e-Handbook of Statistical Methods 6.3.3.1: defects on 25 wafers (rows from memory; sum 400, centre 16).
WAFERS = [16, 14, 28, 16, 12, 20, 10, 12, 10, 17, 19, 17, 14, 16, 15, 13, 14, 16, 11, 20, 11, 19, 16, 31, 13]
# The same, 6.3.2.2: flow rates (from memory), centre 50.81, mean moving range 1.8778, limits 45.82 and 55.80.
FLOWS = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]


def test_the_wafers_of_the_handbook_have_its_centre_and_limits() -> None:
    chart = count_chart(WAFERS)
    assert chart.centre == 16.0
    np.testing.assert_allclose(chart.low, 4.0)
    np.testing.assert_allclose(chart.high, 28.0)
    assert [signal.at for signal in chart.signals if signal.rule == "beyond the limits"] == [23]  # 28 is on the limit


def test_the_dispersion_of_the_wafers_is_the_computed_one() -> None:
    # index of dispersion 37.875 on 24 degrees of freedom
    assert count_chart(WAFERS).dispersion_chance == pytest.approx(0.0357, abs=5e-5)
    assert count_chart(WAFERS).widened == 1.0


def test_few_expected_voids_have_exact_limits() -> None:
    chart = count_chart([3, 5, 4, 2, 6])
    assert chart.exact.all()
    low, high = stats.poisson.ppf([0.00135, 1 - 0.00135], 4.0)
    np.testing.assert_allclose(chart.low, low)
    np.testing.assert_allclose(chart.high, high)


def test_the_exact_limits_at_sixteen_are_those_of_the_reference() -> None:
    # computed: 5 and 29
    assert stats.poisson.ppf([0.00135, 1 - 0.00135], 16.0).tolist() == [5.0, 29.0]


def test_limits_follow_the_area_inspected() -> None:
    # u +- 3 sqrt(u / n) at u = 4, clipped at 0 (NIST/SEMATECH 6.3.3.1); below 9 expected the exact quantiles
    sizes = np.array([5.0, 2.5, 5.0, 1.0])
    chart = count_chart(4.0 * sizes, sizes)
    assert chart.kind == "u"
    np.testing.assert_allclose(chart.high[[0, 1]], [6.683282, 4 + 3 * np.sqrt(4 / 2.5)], atol=1e-6)
    np.testing.assert_allclose(chart.low[0], 1.316718, atol=1e-6)
    assert chart.high[3] == stats.poisson.ppf(1 - 0.00135, 4.0)


def test_castings_that_vary_by_themselves_get_wider_limits_and_few_false_signals() -> None:
    rng = np.random.default_rng(11)
    false, plain = [], []
    for _ in range(60):
        counts = rng.poisson(60.0 * rng.lognormal(0.0, 0.3, 40))
        chart = count_chart(counts)
        assert chart.widened > 1.2
        false.append(sum(signal.rule == "beyond the limits" for signal in chart.signals))
        plain.append(int((np.abs(counts - counts.mean()) > 3 * np.sqrt(counts.mean())).sum()))
    assert np.mean(false) < 0.5
    assert np.mean(plain) > 5


def test_equal_castings_seldom_go_beyond_the_limits() -> None:
    rng = np.random.default_rng(12)
    beyond = [
        signal.at
        for _ in range(200)
        for signal in count_chart(rng.poisson(20.0, 50)).signals
        if "limits" in signal.rule
    ]
    assert len(beyond) / (200 * 50) < 0.006


@pytest.mark.parametrize("mean", [0.1, 0.3, 0.5, 1.0, 2.0, 4.0])
def test_nearly_clear_castings_seldom_give_a_signal(mean: float) -> None:
    # the zones of a normal law give a signal on 0.17 of charts of 25 equal castings (simulated); zones of a Poisson
    # law taken for normal ones did on 0.86 of them at a mean of 0.1
    rng = np.random.default_rng(13)
    counts = rng.poisson(mean, (150, 25))
    assert np.mean([len(count_chart(each).signals) > 0 for each in counts]) < 0.12


def test_nearly_clear_castings_that_get_bubbles_are_told() -> None:
    chart = count_chart([0, 1, 0, 0, 0, 1, 0, 2, 0, 0, 1, 0, 0, 1, 0, 2, 3, 2, 3], base=slice(0, 14))
    rules = {signal.rule for signal in chart.signals}
    assert "2 of 3 in a row more than 2 sigma above" in rules
    assert all(signal.at >= 14 for signal in chart.signals)


def test_the_zones_of_few_voids_have_the_tails_of_poissons_law() -> None:
    # 3 of 1 expected: P(3 or more) = 0.0803, as a normal law has beyond 1.40 sigma: more than 1 and less than 2
    assert stats.norm.isf(stats.poisson.sf(2, 1.0)) == pytest.approx(1.403, abs=1e-3)
    rules = [signal.rule for signal in count_chart([0, 1, 2] * 10 + [3, 3, 0, 3, 3], base=slice(0, 30)).signals]
    assert "4 of 5 in a row more than 1 sigma above" in rules
    assert not any("2 sigma" in rule for rule in rules)


def test_the_centre_may_come_from_the_first_castings_alone() -> None:
    chart = count_chart([20] * 10 + [60], base=slice(0, 10))
    assert chart.centre == 20.0
    assert [signal.at for signal in chart.signals] == [10]


def test_the_flow_rates_of_the_handbook_have_its_limits() -> None:
    chart = individuals_chart(FLOWS)
    assert chart.centre == pytest.approx(50.81)
    assert np.abs(np.diff(FLOWS)).mean() == pytest.approx(1.8778, abs=5e-5)
    assert (chart.low[0], chart.high[0]) == pytest.approx((45.8159, 55.8041), abs=5e-3)
    assert chart.signals == ()


@pytest.mark.parametrize(
    ("scores", "at", "words", "source"),
    [
        ([0.1, -0.2, 2.2, 0.3, 2.3], 4, "2 of 3 in a row more than 2 sigma above", WESTERN),
        ([-0.5, -1.2, -1.3, 0.2, -1.4, -1.1], 5, "4 of 5 in a row more than 1 sigma below", WESTERN),
        ([0.3, 0.1, 0.4, 0.2, 0.5, 0.1, 0.3, 0.2], 7, "8 in a row above the centre", WESTERN),
        ([-0.6, -0.4, -0.1, 0.2, 0.5, 0.9], 5, "6 in a row rising", NELSON),
        ([0.9, 0.5, 0.2, -0.1, -0.4, -0.6], 5, "6 in a row falling", NELSON),
    ],
)
def test_runs_are_told_once_where_they_are_full(scores: list[float], at: int, words: str, source: str) -> None:
    # A base of alternating values sets centre 0 and one sigma of 1; the run follows it.
    step = 1.128 / 2
    base = [step, -step] * 20
    chart = individuals_chart(base + scores, base=slice(0, len(base)))
    np.testing.assert_allclose(chart.scores[len(base) :], scores, atol=1e-9)
    told = [(signal.at - len(base), signal.source) for signal in chart.signals if signal.rule == words]
    assert told == [(at, source)]


@pytest.mark.parametrize(("counts", "sizes"), [([], None), ([-1, 2], None), ([1, 2], [1.0, 0.0]), ([1, 2], [1.0])])
def test_counts_that_are_none_are_a_fault(counts: list[int], sizes: list[float] | None) -> None:
    with pytest.raises(ValueError, match="a chart of counts needs"):
        count_chart(counts, sizes)


@pytest.mark.parametrize("values", [[1.0], [1.0, np.nan, 2.0]])
def test_values_that_are_none_are_a_fault(values: list[float]) -> None:
    with pytest.raises(ValueError, match="needs two numbers"):
        individuals_chart(values)


def test_no_void_at_all_is_an_ordinary_chart() -> None:
    chart = count_chart([0, 0, 0])
    assert chart.centre == 0.0
    assert chart.signals == ()


@pytest.mark.parametrize("value", [5.0, 99.7, 97.3, 0.1])
def test_values_that_never_move_have_no_signal(value: float) -> None:
    for count in (3, 7, 10):  # their plain mean is off by the last digit
        assert individuals_chart([value] * count).signals == ()
