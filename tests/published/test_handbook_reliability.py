"""The book's reliability against an independent library (scipy.stats), and its tables against their own rules.

Sources of what is asserted of tables: MIL-HDBK-217F Notice 2 (1995), environment factors of sections 14.1, 17.1, 19.1
and 22.1; stored energy of ``safety-and-test-after-repair``: circuit theory.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from knowngood.handbook import charge, part_rates, reliability


@pytest.mark.parametrize(("units", "chance"), [(1, 0.5), (40, 0.05), (1000, 0.01), (100, 0.98), (10, 0.0), (10, 1.0)])
def test_returns_by_chance_are_binomial(units: int, chance: float) -> None:
    found = reliability.returns_by_chance(units=units, chance=chance)
    other = stats.binom(units, chance)
    assert found.expected == pytest.approx(units * chance)
    assert (found.low, found.high) == (other.ppf(0.025), other.ppf(0.975))


@pytest.mark.parametrize(("sold", "returned", "units"), [(60, 3, 40), (10, 0, 200), (1000, 20, 50), (5, 5, 5)])
def test_returns_by_record_are_beta_binomial_and_their_share_a_score_interval(
    sold: int, returned: int, units: int
) -> None:
    found = reliability.returns_by_record(sold=sold, returned=returned, units=units)
    other = stats.betabinom(units, returned + 0.5, sold - returned + 0.5)
    score = stats.binomtest(returned, sold).proportion_ci(0.95, method="wilson")
    assert found.expected == pytest.approx(other.mean())
    assert (found.low, found.high) == (other.ppf(0.025), other.ppf(0.975))
    assert (found.share, found.share_low, found.share_high) == pytest.approx((returned / sold, score.low, score.high))


@pytest.mark.parametrize(
    ("trials", "failures", "confidence"), [(22, 0, 0.9), (22, 1, 0.95), (300, 7, 0.8), (4, 4, 0.9)]
)
def test_a_bound_with_failures_is_that_of_clopper_and_pearson(trials: int, failures: int, confidence: float) -> None:
    found = reliability.reliability_shown(trials=trials, failures=failures, confidence=confidence)
    other = stats.binomtest(trials - failures, trials, alternative="greater").proportion_ci(confidence, method="exact")
    assert found.reliability == pytest.approx(other.low)
    assert (found.with_prior is None) == (failures > 0)


@pytest.mark.parametrize(("failures", "confidence"), [(0, 0.6), (1, 0.9), (12, 0.95)])
def test_a_mean_time_between_failures_is_bounded_by_chi_square(failures: int, confidence: float) -> None:
    found = reliability.time_between_failures_shown(time=5.0, failures=failures, confidence=confidence)
    assert found == pytest.approx(10.0 / stats.chi2(2 * failures + 2).ppf(confidence))


def test_a_soak_is_the_time_by_which_a_chance_event_has_come() -> None:
    found = reliability.soak_time(shows_every=7200.0, cycle=1000.0, confidence=0.9)
    assert stats.expon(scale=7200.0).cdf(found.time) == pytest.approx(0.9)
    assert found.cycles == 17


FACTORS = {
    "switch, pushbutton or toggle": (3, 18),
    "switch, rocker": (3, 18),
    "joint, reflow solder": (2, 7),
    "joint, hand solder": (2, 7),
    "joint, crimp": (2, 7),
    "joint, spring contact": (2, 7),
    "crystal, 50 MHz": (3, 10),
    "fuse": (2, 8),
}
"""Environment factors, ground fixed and ground mobile."""


@pytest.mark.parametrize("part", FACTORS)
def test_rates_differ_between_environments_by_the_factor_of_the_handbook(part: str) -> None:
    """Within 5 %: the table rounds to two digits."""
    benign = part_rates.rate(part, "GB", commercial=False)
    found = tuple(part_rates.rate(part, environment, commercial=False) / benign for environment in ("GF", "GM"))
    assert found == pytest.approx(FACTORS[part], rel=0.05)


def test_a_rate_is_the_printed_one_and_the_quality_factor_multiplies_it() -> None:
    """Appendix A, capacitor CE or CU, ground fixed; quality factor of commercial parts 10."""
    part = "capacitor, aluminium CE or CU"
    assert part_rates.rate(part, "GF", commercial=False) == pytest.approx(0.019)
    assert part_rates.rate(part, "GF", commercial=True) == pytest.approx(0.19)


def test_stored_energy_of_a_mains_supply() -> None:
    assert charge.energy(220e-6, 400.0).energy == pytest.approx(17.6, rel=5e-4)
    assert charge.discharge_time(330e-6, 2200.0, 325.0, 60.0) == pytest.approx(1.23, abs=0.005)


def test_a_wearing_part_is_best_replaced_at_about_half_its_life_and_never_early_if_it_does_not_wear() -> None:
    """Age replacement, R. Barlow and L. Hunter (1960, from memory); the figures were computed apart from this code.

    The Python package reliability 0.9.0, optimal_replacement_time with q = 0, gives 493.185 and 0.0034620429 on a grid.
    """
    found = reliability.age_replacement(scale=1000.0, shape=2.5, planned=1.0, failed=5.0)
    assert found.at == pytest.approx(493.046957597, rel=1e-9)
    assert found.cost_rate == pytest.approx(0.00346204273879, rel=1e-9)
    assert found.cost_rate_if_never == pytest.approx(0.00563530248993, rel=1e-9)
    assert found.at == pytest.approx(493.185, rel=1e-3)
    for age in (0.9 * 493.047, 1.1 * 493.047):  # the cost rate itself, by Simpson's rule, is higher on both sides
        times = np.linspace(0.0, age, 2001)
        alive = np.exp(-((times / 1000.0) ** 2.5))
        lived = (alive[0] + alive[-1] + 4.0 * alive[1:-1:2].sum() + 2.0 * alive[2:-1:2].sum()) * age / 2000.0 / 3.0
        assert (alive[-1] + 5.0 * (1.0 - alive[-1])) / lived > found.cost_rate
    steady = reliability.age_replacement(scale=1000.0, shape=1.0, planned=1.0, failed=5.0)
    assert steady == reliability.Replacing(None, 0.005, 0.005)
    assert reliability.age_replacement(scale=1000.0, shape=2.5, planned=5.0, failed=5.0).at is None
