"""From a number on a meter to how likely each state makes it: a probability model, checked by numeric integration.

Tolerances. A meter's standard uncertainty depends on the value that is read, so that the density of a state is
normalised only as far as that uncertainty is constant over its edge: 2e-4 on voltages. Resistances have a constant
spread, and lose only what lies beyond the ends of the scale.
"""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from knowngood.handbook.quantities import Expected, parse_expected
from knowngood.handbook.readings import (
    HIGH_UP_TO,
    LOG_SPREAD,
    NONE_BELOW,
    OHMS_RANGE,
    OVERLOAD_OF_CLEAR_RAIL,
    SLIP,
    Meter,
    ReadingModel,
    rail_to_ground,
    rail_voltage,
)

RAILS = ["5 V +/- 5 %", "12 V +/- 5 %", "3.3 V +/- 3 %", "0.9 V to 1.3 V", "385 V +/- 5 %"]
GROUNDS = [("20 ohm to 1 Mohm", 2.0), ("0.5 ohm to 300 ohm", 0.2), ("1 kohm +/- 50 %", 10.0)]


def voltages(text: str) -> ReadingModel:
    return rail_voltage(parse_expected(text), high=True)


def resistances(text: str, short_below: float) -> ReadingModel:
    return rail_to_ground(parse_expected(text), short_below)


def density(model: ReadingModel, state: str, low: float, high: float) -> float:
    """Integral of the density of a reading between two places of the scale (volts, or decades of an ohm)."""
    edges = [edge for span in model.spans.values() for edge in (span.low, span.high) if low < edge < high]
    points = sorted({low, high, *edges})
    whole = 0.0
    for start, end in pairwise(points):
        # Fine near the edges, where the density turns within a few uncertainties.
        near = (end - start) * np.concatenate([[0.0], np.geomspace(1e-7, 0.5, 1500)])
        places = np.unique(np.concatenate([start + near, end - near]))
        values = [model.likelihood(10.0**place if model.log else place)[state] for place in places]
        whole += float(np.trapezoid(values, places))
    return whole


# --- the meter ---


@pytest.mark.parametrize(
    ("value", "digit"),
    [(5.0, 0.001), (0.03, 0.001), (6.0, 0.001), (12.0, 0.01), (59.9, 0.01), (230.0, 0.1), (-12.0, 0.01), (0.0, 0.001)],
)
def test_the_last_digit_is_that_of_the_range(value: float, digit: float) -> None:
    """6000 counts: ranges of 6, 60 and 600 V show 0.001, 0.01 and 0.1 V."""
    assert Meter().resolution(value) == pytest.approx(digit)


def test_the_standard_uncertainty_of_five_volts_by_hand() -> None:
    """JCGM 100:2008, 4.3.7 and F.2.2.1, by hand.

    0.5 % + 3 counts at 5.000 V on the 6 V range of 6000 counts: the limit is 0.025 V + 0.003 V = 0.028 V, rectangular:
    0.028 / sqrt(3) = 0.016166 V. The digit of 0.001 V: 0.001 / sqrt(12) = 0.000289 V. Together
    sqrt(0.016166^2 + 0.000289^2) = 0.016168 V.
    """
    assert Meter(percent=0.5, counts=3, display=6000).standard_uncertainty(5.0) == pytest.approx(0.016168, abs=5e-7)


def test_the_standard_uncertainty_on_the_next_range_by_hand() -> None:
    """12.00 V on the 60 V range: limit 0.06 + 0.03 = 0.09 V, digit 0.01 V: sqrt(0.0027 + 0.00000833) = 0.05204 V."""
    assert Meter().standard_uncertainty(12.0) == pytest.approx(0.05204, abs=5e-6)


def test_a_digital_display_alone_by_hand() -> None:
    """F.2.2.1: a display of resolution d, otherwise perfect, has 0.29 d."""
    assert Meter(percent=0.0, counts=0).standard_uncertainty(5.0) == pytest.approx(0.29 * 0.001, abs=2e-6)


@given(st.floats(0.001, 600.0))
def test_a_better_meter_is_less_uncertain(value: float) -> None:
    assert Meter(percent=0.1, counts=1).standard_uncertainty(value) < Meter().standard_uncertainty(value)


# --- densities ---


@pytest.mark.parametrize("rail", RAILS)
def test_the_density_of_a_voltage_integrates_to_one_in_every_state(rail: str) -> None:
    model = voltages(rail)
    below, above = -1.0, 1.1 * model.high
    slips_off_scale = SLIP * (above - below - (model.high - model.low)) / (model.high - model.low)
    for state in model.spans:
        assert density(model, state, below, above) - slips_off_scale == pytest.approx(1.0, abs=2e-4), state


@pytest.mark.parametrize(("clear", "short_below"), GROUNDS)
def test_density_and_overload_of_a_resistance_sum_to_one_in_every_state(clear: str, short_below: float) -> None:
    """What the meter's error throws off the low end of the scale is lost: half the spread over the width of 'short'."""
    model = resistances(clear, short_below)
    for state, span in model.spans.items():
        whole = density(model, state, model.low, model.high) + model.likelihood(math.inf)[state]
        off_scale = LOG_SPREAD / math.sqrt(2 * math.pi) / (span.high - span.low) if span.low == model.low else 0.0
        assert whole == pytest.approx(1.0 - (1 - SLIP) * off_scale, abs=2e-4), state


@given(st.floats(0.5, 50.0), st.floats(0.01, 0.2), st.floats(-5.0, 700.0), st.booleans())
def test_every_likelihood_is_positive_and_finite(nominal: float, share: float, value: float, high: bool) -> None:
    model = rail_voltage(Expected(nominal, nominal * (1 - share), nominal * (1 + share), "V"), high=high)
    likelihood = model.likelihood(value)
    assert list(likelihood) == ["none", "weak", "good", "high"][: 4 if high else 3]
    assert all(0 < one < math.inf for one in likelihood.values())


@pytest.mark.parametrize(
    ("value", "state"), [(0.03, "none"), (2.5, "weak"), (4.62, "weak"), (5.0, "good"), (5.2, "good"), (9.0, "high")]
)
def test_a_plain_reading_points_at_its_state(value: float, state: str) -> None:
    likelihood = voltages("5 V +/- 5 %").likelihood(value)
    assert max(likelihood, key=likelihood.__getitem__) == state


def test_a_reading_at_the_limit_is_not_a_verdict() -> None:
    """4.75 V on '5 V +/- 5 %': the meter's error leaves both weak and good open."""
    likelihood = voltages("5 V +/- 5 %").likelihood(4.75)
    assert 0.02 < likelihood["weak"] / likelihood["good"] < 50


def test_the_density_in_the_middle_of_a_state_by_hand() -> None:
    """(1 - s) / width + s / range: 0.99 / 0.5 V + 0.01 / 600 V = 1.980017 per V; in the other states only the slips."""
    likelihood = voltages("5 V +/- 5 %").likelihood(5.0)
    assert likelihood["good"] == pytest.approx(1.980017, abs=1e-6)
    assert likelihood["none"] == pytest.approx(0.01 / 600, rel=1e-9)


# --- chances of outcomes ---


@pytest.mark.parametrize("rail", RAILS)
def test_chances_of_a_voltage_are_rows_that_sum_to_one(rail: str) -> None:
    model = voltages(rail)
    for row in model.chances(("good", "weak", "none", "high")).values():
        assert sum(row.values()) == pytest.approx(1.0, abs=1e-12)
        assert all(0 < one <= 1 for one in row.values())


@pytest.mark.parametrize("rail", ["5 V +/- 5 %", "12 V +/- 5 %", "3.3 V +/- 3 %", "0.9 V to 1.3 V"])
def test_chances_of_a_voltage_agree_with_the_integral_of_the_density(rail: str) -> None:
    """0.01: chances take the uncertainty in the middle of a state, the density that of the value read."""
    model = voltages(rail)
    spans = model.spans
    borders = {
        "none": (-1.0, spans["none"].high),
        "weak": (spans["weak"].low, spans["weak"].high),
        "good": (spans["good"].low, spans["good"].high),
        "high": (spans["high"].low, model.high),
    }
    for state, row in model.chances(("none", "weak", "good", "high")).items():
        for outcome, (low, high) in borders.items():
            assert row[outcome] == pytest.approx(density(model, state, low, high), abs=0.01), (state, outcome)


@pytest.mark.parametrize(("clear", "short_below"), GROUNDS)
def test_chances_of_a_resistance_agree_with_the_integral_of_the_density(clear: str, short_below: float) -> None:
    """Overload counts as clear; what the error throws off the low end counts as short (see above)."""
    model = resistances(clear, short_below)
    border = (model.spans["short"].high + model.spans["clear"].low) / 2
    for state, row in model.chances(("clear", "short")).items():
        assert sum(row.values()) == pytest.approx(1.0, abs=1e-12)
        clear_mass = density(model, state, border, model.high) + model.likelihood(math.inf)[state]
        assert row["clear"] == pytest.approx(clear_mass, abs=2e-3), state


def test_a_good_rail_mostly_reads_good() -> None:
    chances = voltages("5 V +/- 5 %").chances(("none", "weak", "good", "high"))
    assert all(chances[state][state] > 0.95 for state in chances)


# --- overload and slips ---


def test_overload_of_a_resistance_speaks_for_clear() -> None:
    """5 % of clear rails are above the range; of shorted ones only slips, to one of 6001 things a display can show."""
    likelihood = resistances("20 ohm to 1 Mohm", 2.0).likelihood(math.inf)
    assert likelihood["short"] == pytest.approx(SLIP / 6001)
    assert likelihood["clear"] == pytest.approx((1 - SLIP) * OVERLOAD_OF_CLEAR_RAIL + SLIP / 6001)


def test_overload_of_a_voltage_tells_nothing() -> None:
    assert len(set(voltages("5 V +/- 5 %").likelihood(math.inf).values())) == 1


def test_a_resistance_off_the_scale_counts_as_the_end_of_it() -> None:
    model = resistances("20 ohm to 1 Mohm", 2.0)
    assert model.likelihood(0.0) == model.likelihood(OHMS_RANGE[0])
    assert model.likelihood(1e12) == model.likelihood(OHMS_RANGE[1])


def most(model: ReadingModel) -> float:
    """The largest ratio that the slips leave possible: the highest density there can be, over that of a slip."""
    narrowest = math.inf
    for span in model.spans.values():
        spread = LOG_SPREAD if model.log else Meter().standard_uncertainty(0.0)
        narrowest = min(narrowest, max(span.high - span.low, spread * math.sqrt(2 * math.pi)))
    return 1.0 + (1 - SLIP) / SLIP * (model.high - model.low) / narrowest


@given(st.floats(0.5, 50.0), st.floats(0.005, 0.2), st.floats(-5.0, 1500.0))
def test_slips_bound_what_a_voltage_can_be_worth(nominal: float, share: float, value: float) -> None:
    model = rail_voltage(Expected(nominal, nominal * (1 - share), nominal * (1 + share), "V"), high=True)
    likelihood = model.likelihood(value)
    assert max(likelihood.values()) / min(likelihood.values()) <= most(model) * (1 + 1e-9)


@given(st.sampled_from(GROUNDS), st.floats(0.0, 1e9) | st.just(math.inf))
def test_slips_bound_what_a_resistance_can_be_worth(ground: tuple[str, float], value: float) -> None:
    model = resistances(*ground)
    likelihood = model.likelihood(value)
    bound = 1 + (1 - SLIP) / SLIP * OVERLOAD_OF_CLEAR_RAIL * 6001 if math.isinf(value) else most(model)
    assert max(likelihood.values()) / min(likelihood.values()) <= bound * (1 + 1e-9)


@pytest.mark.parametrize("rail", ["0.8 V to 1.3 V", "1.2 V +/- 5 %", "5 V +/- 5 %", "385 V +/- 5 %"])
def test_no_reading_of_an_ordinary_rail_is_worth_a_million(rail: str) -> None:
    assert most(voltages(rail)) < 1e6


def test_the_states_of_a_rail_touch_one_another() -> None:
    spans = voltages("5 V +/- 5 %").spans
    assert (spans["none"].low, spans["none"].high) == (0.0, NONE_BELOW * 5.0)
    assert spans["none"].high == spans["weak"].low
    assert spans["weak"].high == spans["good"].low == 4.75
    assert (spans["high"].low, spans["high"].high) == (5.25, HIGH_UP_TO * 5.0)
    assert "high" not in rail_voltage(parse_expected("5 V +/- 5 %"), high=False).spans
