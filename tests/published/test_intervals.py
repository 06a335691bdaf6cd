"""95 % intervals against published tables and an independent library.

Sources: R. Newcombe, Two-sided confidence intervals for the single proportion, Statistics in Medicine 17 (1998),
table I, method 3 (score, no continuity correction), figures from memory; NIST/SEMATECH e-Handbook of Statistical
Methods 1.3.5.2, ZARR13.DAT: 195 readings, mean 9.261460, standard deviation 0.022789, interval 9.258242 to 9.264679,
from memory; scipy.stats as the independent route.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from knowngood.handbook.intervals import Interval, of_mean, of_ratio, of_share


@pytest.mark.parametrize(
    ("hits", "count", "low", "high"),
    [(81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0, 0.1611), (1, 29, 0.0061, 0.1718)],
)
def test_a_share_by_the_score_method(hits: int, count: int, low: float, high: float) -> None:
    found = of_share(hits, count)
    assert found.mean == hits / count
    assert (found.low, found.high) == pytest.approx((low, high), abs=5e-5)


@pytest.mark.parametrize(("hits", "count"), [(0, 1), (1, 1), (3, 8), (50, 50), (49, 50)])
def test_a_share_against_another_library(hits: int, count: int) -> None:
    other = stats.binomtest(hits, count).proportion_ci(0.95, method="wilson")
    assert (of_share(hits, count).low, of_share(hits, count).high) == pytest.approx((other.low, other.high), abs=1e-12)


def test_a_mean_of_the_handbook() -> None:
    """Readings with exactly the mean and the standard deviation that the handbook gives."""
    drawn = np.linspace(-1.0, 1.0, 195)
    readings = 9.261460 + 0.022789 * drawn / drawn.std(ddof=1)
    found = of_mean(readings.tolist())
    assert (found.low, found.high) == pytest.approx((9.258242, 9.264679), abs=2e-6)


@pytest.mark.parametrize("count", [2, 3, 12, 300])
def test_a_mean_against_another_library(count: int) -> None:
    values = np.random.default_rng(count).normal(5.0, 2.0, count)
    other = stats.ttest_1samp(values, 0.0).confidence_interval(0.95)
    found = of_mean(values.tolist())
    assert (found.low, found.high) == pytest.approx((other.low, other.high))


def test_a_ratio_over_equal_denominators_is_a_mean() -> None:
    values = [3.0, -1.0, 4.5, 2.0]
    whole, half = of_mean(values), of_ratio(values, [2.0] * 4)
    assert (half.mean, half.low, half.high) == pytest.approx((whole.mean / 2, whole.low / 2, whole.high / 2))


def test_a_ratio_against_the_bootstrap_of_another_library() -> None:
    """Unequal denominators: within a tenth of the width of a percentile bootstrap of the same pairs."""
    drawn = np.random.default_rng(6)
    hours = drawn.uniform(1.0, 6.0, 80)
    profit = 20.0 * hours + drawn.normal(0.0, 30.0, 80)
    other = stats.bootstrap(
        (profit, hours),
        lambda one, each: one.sum() / each.sum(),
        paired=True,
        vectorized=False,
        method="percentile",
        rng=7,
    ).confidence_interval
    found = of_ratio(profit.tolist(), hours.tolist())
    assert found.mean == pytest.approx(profit.sum() / hours.sum())
    assert (found.low, found.high) == pytest.approx((other.low, other.high), abs=0.1 * (other.high - other.low))


def test_a_ratio_of_one_pair_has_no_ends() -> None:
    assert of_ratio([30.0], [1.5]) == Interval(20.0, -np.inf, np.inf)
