"""Published facts of copper and of uncertainty that are no single row of a table: ratios, cross-checks, annex H.2."""

from __future__ import annotations

import math
import statistics

import numpy as np
import pytest
from scipy import stats

from knowngood.handbook.copper import copper_at, fusing_pulse, trace_width
from knowngood.handbook.gauge import diameter
from knowngood.handbook.uncertainty import combine, correlation, mean_of, robust, straight_line

USUAL = 5e-4


@pytest.mark.parametrize(
    ("gauges", "power", "ratio"), [(1, 1, 1.122932), (3, 2, 2.00503), (10, 2, 10.1641), (39, 1, 92.0)]
)
def test_gauges_are_a_geometric_row(gauges: int, power: int, ratio: float) -> None:
    """ASTM B258-02: of diameters (power 1) and cross-sections (2), so many gauges apart."""
    assert (diameter(36 - gauges) / diameter(36)) ** power == pytest.approx(ratio, rel=1e-5)


@pytest.mark.parametrize(("current", "rise"), [(0.3, 5.0), (1.0, 10.0), (4.0, 60.0)])
def test_an_inner_trace_is_so_much_wider_at_any_current_and_rise(current: float, rise: float) -> None:
    """IPC-2221A fit: 2^(1/0.725) = 2.60144."""
    wider = trace_width(current, rise, layer="internal") / trace_width(current, rise, layer="external")
    assert wider == pytest.approx(2.60144, rel=1e-5)


def test_onderdonk_agrees_with_the_heat_that_copper_takes_up() -> None:
    """I sqrt(t) / A at 25 degC by c = 385 J/(kg K), 8890 kg/m^3 and the resistance of IEC 60028: 286.5 and 288.7."""
    at = copper_at(25.0)
    rise = math.log(1.0 + at.coefficient * (1083.0 - 25.0))
    heat = math.sqrt(385.0 * 8890.0 * rise / (at.resistivity * at.coefficient)) * 1e-6
    area = math.pi * 0.127**2 / 4.0
    ours = fusing_pulse(0.127e-3, 1.0, 25.0) / area
    assert heat == pytest.approx(286.5, rel=USUAL)
    assert ours == pytest.approx(288.7, rel=USUAL)
    assert ours / heat == pytest.approx(1.008, rel=1e-3)


def test_copper_is_of_one_mass_resistivity_and_one_zero() -> None:
    """IEC 60028, NBS Circular 31: 8.89 g/cm^3 and 0.15328 ohm g/m^2; resistance 0 at -234.45 degC, which NBS rounds."""
    at = copper_at(20.0)
    assert at.resistivity * 8.89e6 == pytest.approx(0.15328, rel=USUAL)
    assert 20.0 - 1.0 / at.coefficient == pytest.approx(-234.45, abs=0.005)


def test_a_line_is_the_one_of_an_independent_library() -> None:
    """scipy.stats.linregress, and numpy.polyfit for the covariance."""
    draw = np.random.default_rng(11)
    x = np.sort(draw.uniform(-3.0, 9.0, 12))
    y = 0.7 - 1.9 * x + draw.normal(0.0, 0.3, 12)
    ours, theirs = straight_line(tuple(x), tuple(y), at=4.0), stats.linregress(x, y)
    assert (ours.slope, ours.slope_uncertainty) == pytest.approx((theirs.slope, theirs.stderr))
    assert (ours.intercept, ours.intercept_uncertainty) == pytest.approx((theirs.intercept, theirs.intercept_stderr))
    _, covariance = np.polyfit(x, y, 1, cov=True)
    assert ours.correlation == pytest.approx(covariance[0, 1] / math.sqrt(covariance[0, 0] * covariance[1, 1]))
    assert ours.value_uncertainty == pytest.approx(math.sqrt(np.array([4.0, 1.0]) @ covariance @ np.array([4.0, 1.0])))


def test_spread_and_interval_are_those_of_an_independent_library() -> None:
    """scipy.stats: median_abs_deviation, iqr, t.interval."""
    readings = tuple(np.random.default_rng(4).normal(5.0, 0.1, 15))
    found, mean = robust(readings), mean_of(readings, 0.9)
    assert found.scale == pytest.approx(stats.median_abs_deviation(readings, scale="normal"))
    assert found.iqr_scale == pytest.approx(stats.iqr(readings, scale="normal"))
    low, high = stats.t.interval(0.9, 14, np.mean(readings), stats.sem(readings))
    assert (mean.mean - mean.half_width, mean.mean + mean.half_width) == pytest.approx((low, high))


VOLTS = (5.007, 4.994, 5.005, 4.990, 4.999)
AMPS = (19.663e-3, 19.639e-3, 19.640e-3, 19.685e-3, 19.678e-3)


def test_readings_taken_together_are_correlated() -> None:
    """JCGM 100:2008 (GUM), H.2 (readings from memory): with r as the five quotients scatter, H.2.4; without 0.204."""
    volts, amps = mean_of(VOLTS), mean_of(AMPS)
    sides = (1.0 / amps.mean, -volts.mean / amps.mean**2)
    each = (volts.standard, amps.standard)
    of_each = [one / other for one, other in zip(VOLTS, AMPS, strict=True)]
    scatter = statistics.stdev(of_each) / math.sqrt(5.0)
    assert combine(each, sides, (correlation(VOLTS, AMPS),)).standard == pytest.approx(scatter, rel=2e-3)
    assert combine(each, sides).standard == pytest.approx(0.204, abs=5e-4)
    assert scatter > 0.23
