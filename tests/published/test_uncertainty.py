"""Statistics of readings against published and derived values.

Sources: JCGM 100:2008 (GUM), Guide to the expression of uncertainty in measurement: 4.3.7 (rectangular limits), 4.4.5
(worked example), 5.1.2 (quadrature), F.2.2.1 (resolution). JCGM 106:2012, the role of measurement uncertainty in
conformity assessment: clauses 7 and 8 (clauses from memory; arithmetic derived). NIST/SEMATECH e-Handbook of
Statistical Methods, 1.3.5.17 (MAD, outliers). EA-4/02 S9 (inputs from memory). Normal quantiles: scipy.
"""

from __future__ import annotations

import math

import pytest
from scipy import stats

from knowngood.handbook.quantities import Expected
from knowngood.handbook.readings import MAD_SCALE, Meter, Range, conformance, guarded, reference

GUM_TABLE_1 = [
    *(96.90, 98.18, 98.25, 98.61, 99.03, 99.49, 99.56, 99.74, 99.89, 100.07),
    *(100.33, 100.42, 100.68, 100.95, 101.11, 101.20, 101.57, 101.84, 102.36, 102.72),
]
"""JCGM 100:2008, 4.4.3, table 1 (readings from memory; they give the published mean and deviation, see below)."""

NIST_MASS = [199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57]
"""Tietjen and Moore 1972, as in NIST/SEMATECH e-Handbook 1.3.5.17.1: the last is the outlier."""


def meter(full: float, percent: float, counts: int, display: int) -> Meter:
    return Meter((Range(full, percent, counts),), (), (), (), display)


@pytest.mark.parametrize(
    ("percent", "counts", "value", "limit"),
    [
        (0.5, 3, 2.000, 0.01300),  # a meter maker's note on accuracy statements: 1.987 V to 2.013 V
        (0.08, 2, 2.000, 0.00360),  # the same: 1.9964 V to 2.0036 V
        (0.5, 2, 5.012, 0.02706),  # derived
    ],
)
def test_percent_of_reading_plus_counts(percent: float, counts: int, value: float, limit: float) -> None:
    assert meter(6.0, percent, counts, 6000).limit("V", value) == pytest.approx(limit, rel=1e-9)


def test_the_limit_is_rectangular() -> None:
    """JCGM 100:2008, 4.3.7: 27.060 mV / sqrt(3) = 15.6231 mV (derived). With the digit of 1 mV, F.2.2.1: 15.6258 mV."""
    found = meter(6.0, 0.5, 2, 6000).standard_uncertainty("V", 5.012)
    assert math.sqrt(found**2 - 0.001**2 / 12) == pytest.approx(0.0156231, abs=5e-8)


def test_a_rectangle_of_eight_degrees() -> None:
    """JCGM 100:2008, 4.4.5: limits of 96 and 104 degC, u = 4 / sqrt(3) = 2.3094 (printed 2.3).

    As a meter whose limit is 4 and whose digit is far smaller.
    """
    assert meter(400.0, 4.0, 0, 4 * 10**8).standard_uncertainty("V", 100.0) == pytest.approx(2.3094, abs=5e-5)


def test_a_hand_meter_at_a_hundred_volts() -> None:
    """EA-4/02 S9 without its calibrator: a digit of 0.1 V is rectangular within 0.05 V: 0.05 / sqrt(3) = 0.028868 V."""
    assert meter(200.0, 0.0, 0, 2000).standard_uncertainty("V", 100.0) == pytest.approx(0.028868, abs=5e-7)


def test_conformance_to_one_limit() -> None:
    """JCGM 106:2012, clause 7 (example from memory): -5.47 V, u 0.05 V, at most -5.40 V: Phi(1.40) = 0.91924."""
    assert conformance(-5.47, 0.05, -math.inf, -5.40) == pytest.approx(0.91924, abs=5e-6)


def test_conformance_to_two_limits_and_the_guarded_zone() -> None:
    """Derived: 3.160 V, u 0.010 V, limits 3.135 V to 3.465 V: 0.99379; with w = 2 u the zone is 3.155 V to 3.445 V."""
    assert conformance(3.160, 0.010, 3.135, 3.465) == pytest.approx(0.99379, abs=5e-6)
    assert guarded(Expected(3.3, 3.135, 3.465, "V"), 0.010) == pytest.approx((3.155, 3.445))


@pytest.mark.parametrize("coverage", [1.0, 2.0, 3.0])
def test_the_risk_at_the_edge_of_a_guarded_zone(coverage: float) -> None:
    """1 - Phi(k r), r = 1: for k = 2, 2.3 %."""
    low, _ = guarded(Expected(5.0, 4.0, 6.0, "V"), 0.01, coverage=coverage)
    assert 1 - conformance(low, 0.01, 4.0, 6.0) == pytest.approx(stats.norm.sf(coverage), rel=1e-9)


def test_the_scale_of_a_mad() -> None:
    """1 / Phi^-1(3/4) = 1.482602; its inverse 0.674490 is that of the modified z-score (NIST 1.3.5.17)."""
    assert pytest.approx(1 / stats.norm.ppf(0.75), rel=1e-15) == MAD_SCALE
    assert pytest.approx(0.674490, abs=5e-7) == 1 / MAD_SCALE


def test_median_and_mad_of_the_twenty_readings_of_the_gum() -> None:
    """Published mean 100.145, s 1.489. Derived: median 100.200, MAD 0.9550, 1.4826 MAD 1.41588."""
    mean = sum(GUM_TABLE_1) / 20
    assert mean == pytest.approx(100.145, abs=5e-4)
    assert math.sqrt(sum((one - mean) ** 2 for one in GUM_TABLE_1) / 19) == pytest.approx(1.489, abs=5e-4)
    found = reference(GUM_TABLE_1)
    assert (found.median, found.mad, found.count) == (pytest.approx(100.200), pytest.approx(0.9550), 20)
    assert MAD_SCALE * found.mad == pytest.approx(1.41588, abs=1e-5)  # 1.415885 to seven digits
    assert (96.90 - found.median) / (MAD_SCALE * found.mad) == pytest.approx(-2.3307, abs=5e-5)
    assert found.fits(96.90, 0.0)
    assert found.mad == pytest.approx(float(stats.median_abs_deviation(GUM_TABLE_1)))


def test_a_published_outlier_is_none_of_its_group_and_all_others_are() -> None:
    """Mass spectrometer data of Tietjen and Moore: 245.57 is the outlier by Grubbs's test."""
    found = reference(NIST_MASS)
    assert [one for one in NIST_MASS if not found.fits(one, 0.0)] == [245.57]
