"""A meter's statement of accuracy as a standard uncertainty, against published and derived figures.

JCGM 100:2008 (GUM) 4.3.7: limits of a rectangular distribution are half-width a, u = a / sqrt(3); F.2.2.1: a digit d of
a display is a rectangle of full width d, u = d / sqrt(12). ``Meter`` puts both together. What the handbook has no
function for is not checked: combined uncertainty with correlation (GUM equations 13 and 16, example H.2), effective
degrees of freedom (G.2b, H.1), means of repeated readings (4.4.3), triangular limits (4.4.6), conformance and guard
bands (JCGM 106), and straight lines.
"""

from __future__ import annotations

import math

import pytest

from knowngood.handbook.readings import Meter

CASES = {
    # percent, counts, counts of the display, reading in volt; limit of error in volt
    "0.08 % + 2 counts of 1 mV at 2.000 V: 3.600 mV, 1.9964 V to 2.0036 V, printed in a meter maker's note": (
        *(0.08, 2, 2000, 2.0),
        3.600e-3,
    ),
    "0.5 % + 2 counts of 1 mV at 5.012 V: 27.060 mV, derived": (0.5, 2, 6000, 5.012, 27.060e-3),
}


@pytest.mark.parametrize(("percent", "counts", "display", "volts", "limit"), CASES.values(), ids=["2 V", "5 V"])
def test_limits_of_a_meter(percent: float, counts: int, display: int, volts: float, limit: float) -> None:
    meter = Meter(percent, counts, display)
    digit = meter.resolution(volts)
    assert digit == pytest.approx(1e-3)
    of_limit = math.sqrt(meter.standard_uncertainty(volts) ** 2 - digit**2 / 12)
    assert of_limit * math.sqrt(3) == pytest.approx(limit, abs=1e-9)


def test_the_uncertainty_of_a_reading_and_what_the_digit_adds() -> None:
    """Limit 27.060 mV: u 15.6231 mV, U (k = 2) 31.2462 mV, derived; with the digit's own rectangle, which the source
    leaves out because the counts of the statement hold it already, 15.6258 mV. The difference is 0.02 %."""
    meter = Meter(0.5, 2, 6000)
    assert meter.standard_uncertainty(5.012) == pytest.approx(math.hypot(15.6231e-3, 1e-3 / math.sqrt(12)), abs=1e-7)
    assert meter.standard_uncertainty(5.012) == pytest.approx(15.6231e-3, rel=2e-4)
