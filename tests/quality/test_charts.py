"""Control charts against the handbook's example, exact Poisson limits, and how often chance alone makes a signal."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from bubblegrade.drawn.populations import population
from bubblegrade.grading.score import clarity_score
from bubblegrade.quality.charts import (
    NELSON,
    WESTERN,
    Law,
    clarity_chart,
    count_chart,
    individuals_chart,
    marked_by_chance,
)

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


def test_the_wafers_vary_no_more_than_chance_makes_them() -> None:
    # index of dispersion 37.875 on 24 degrees of freedom: chance 0.0357
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


@pytest.mark.parametrize(("mean", "shape"), [(0.5, 0.25), (2.0, 0.7), (10.0, 3.0), (60.0, 10.0)])
def test_castings_that_vary_by_themselves_give_few_false_signals(mean: float, shape: float) -> None:
    # negative binomial counts; 25 normal values give a signal on 0.2 of charts, limits of a normal law as wide as the
    # neighbours do on 0.3 to 0.8 of these (simulated)
    rng = np.random.default_rng(11)
    charts = [count_chart(rng.poisson(rng.gamma(shape, mean / shape, 25))) for _ in range(120)]
    assert np.mean([bool(chart.signals) for chart in charts]) < 0.25
    assert np.mean([any("limits" in signal.rule for signal in chart.signals) for chart in charts]) < 0.15


def test_castings_that_vary_by_themselves_and_get_twice_the_voids_are_told() -> None:
    rng = np.random.default_rng(14)
    seen = []
    for _ in range(60):
        chart = count_chart(rng.poisson(np.repeat([30.0, 60.0], 25) * rng.lognormal(0.0, 0.3, 50)), base=slice(0, 25))
        seen.append(min([signal.at for signal in chart.signals if signal.at >= 25], default=50) - 24)
    assert np.median(seen) <= 4


def test_the_limits_of_castings_that_vary_are_those_of_their_law() -> None:
    rng = np.random.default_rng(15)
    counts = rng.poisson(rng.gamma(2.0, 4.0, 3000))  # negative binomial of shape 2 and mean 8
    chart = count_chart(counts)
    low, high = stats.nbinom.ppf([0.00135, 1 - 0.00135], 2.0, 2.0 / (2.0 + 8.0))
    assert chart.low[0] == low
    assert chart.high[0] == pytest.approx(high, rel=0.05)
    assert chart.widened == pytest.approx(np.sqrt(1 + 8.0 / 2.0), rel=0.05)  # variance 40 where chance alone has 8


def clarity_of(counts: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Return the clarity of castings of 10 cm2 with so many voids, lognormal about 0.4 mm."""
    sizes_mm = [population(count, 0.4, 1.5, rng=rng) for count in counts]
    return np.array([clarity_score(float(np.sum(np.pi / 4 * each**2)) / 1000.0, 0.0) for each in sizes_mm])


@pytest.mark.parametrize("mean", [3.0, 5.0, 20.0])
def test_castings_of_equal_clarity_seldom_give_a_signal(mean: float) -> None:
    # 25 normal values do on 0.2 of charts; charts of clarity itself did on 0.45, 0.32 and 0.21 of these (simulated)
    rng = np.random.default_rng(16)
    charts = [clarity_chart(clarity_of(rng.poisson(mean, 25), rng)) for _ in range(150)]
    assert np.mean([bool(chart.signals) for chart in charts]) < 0.32


def test_twice_the_voids_are_told_by_clarity() -> None:
    rng = np.random.default_rng(17)
    seen = []
    for _ in range(60):
        chart = clarity_chart(clarity_of(rng.poisson(np.repeat([10.0, 20.0], 25)), rng), base=slice(0, 25))
        first = min((signal for signal in chart.signals if signal.at >= 25), key=lambda signal: signal.at, default=None)
        seen.append(50 if first is None else first.at - 24)
        assert first is None or "above" not in first.rule
    assert np.median(seen) <= 4


def test_limits_of_clarity_lie_on_its_scale() -> None:
    # roots of 0.1 and 0.2 in turn: centre 0.15, mean moving range 0.1, limits 0.15 +- 3 x 0.1 / 1.128
    chart = clarity_chart([clarity_score(root**2, 0.0) for root in (0.1, 0.2) * 5])
    assert chart.centre == pytest.approx(clarity_score(0.15**2, 0.0))
    assert chart.low[0] == pytest.approx(clarity_score((0.15 + 0.3 / 1.128) ** 2, 0.0))
    assert chart.high[0] == 100.0  # the lower limit of the root is below 0


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


@pytest.mark.parametrize("base", [3, 5, 10, 20])
def test_limits_from_few_single_values_mark_alike_castings_as_often_as_is_said(base: int) -> None:
    draws = np.random.default_rng(7).standard_normal((400, base + 30))
    charts = [individuals_chart(row, base=slice(0, base)) for row in draws]
    shares = [len({signal.at for signal in chart.signals if signal.at >= base}) / 30 for chart in charts]
    assert np.mean(shares) == pytest.approx(marked_by_chance("single", base), abs=0.015)


def marked(counts: np.ndarray, base: int, *, widened: bool) -> tuple[float, float]:
    """Return the share of castings after the base that charts mark, of those widened or not, and its standard error."""
    charts = [count_chart(row, base=slice(0, base)) for row in counts]
    later = counts.shape[1] - base
    shares = [
        len({signal.at for signal in chart.signals if signal.at >= base}) / later
        for chart in charts
        if (chart.widened > 1.0) is widened
    ]
    return float(np.mean(shares)), float(np.std(shares)) / len(shares) ** 0.5


@pytest.mark.parametrize("base", [3, 5, 10, 20])
def test_limits_from_few_counts_mark_castings_as_often_as_is_said(base: int) -> None:
    rng = np.random.default_rng(7)
    equal = rng.poisson(50.0, (150, base + 30))
    varying = rng.poisson(rng.gamma(4.0, 200.0 / 4.0, (150, base + 30)))  # by 50 %
    laws: tuple[tuple[np.ndarray, Law], ...] = ((equal, "equal"), (varying, "varying"))
    for counts, law in laws:
        share, err = marked(counts, base, widened=law == "varying")
        assert share == pytest.approx(marked_by_chance(law, base), abs=3.0 * err)


def test_limits_from_few_counts_that_hide_how_castings_vary_mark_several_times_as_many() -> None:
    rng = np.random.default_rng(7)
    varying = rng.poisson(rng.gamma(25.0, 50.0 / 25.0, (150, 35)))  # by 20 %
    share, err = marked(varying, 5, widened=False)
    assert share - 2.0 * err > 2.0 * marked_by_chance("equal", 5)
