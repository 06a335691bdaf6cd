"""From a number on a meter to how likely each state makes it: a probability model, checked by numeric integration.

Tolerances. Densities, chances and conformance are closed forms, and are held to scipy.integrate within 1e-9. The one
approximation, that each limit of a state is blurred by the uncertainty at that limit, is held to the whole integral
over true values with the uncertainty at each of them.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import partial
from itertools import pairwise
from statistics import NormalDist
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate

from knowngood.errors import QuantityError
from knowngood.handbook.quantities import Expected, parse_expected
from knowngood.handbook.readings import (
    DEFAULT_METER,
    DIODE_SHORT,
    DIODE_SPREAD,
    ENOUGH,
    HIGH_UP_TO,
    LOG_SPREAD,
    MAP_COUNTS_AS,
    MOST_WORTH,
    NONE_BELOW,
    OHMS_RANGE,
    OVERLOAD_OF_CLEAR_RAIL,
    OVERLOAD_OF_SLIPS,
    SLIP,
    Measured,
    Meter,
    Range,
    ReadingModel,
    Reference,
    guarded,
    parse_ranges,
    rail_diode,
    rail_to_ground,
    rail_voltage,
    reference,
    written_ranges,
)

RAILS = ["5 V +/- 5 %", "12 V +/- 5 %", "3.3 V +/- 3 %", "0.9 V to 1.3 V", "385 V +/- 5 %"]
GROUNDS = [("20 ohm to 1 Mohm", 2.0), ("0.5 ohm to 300 ohm", 0.2), ("1 kohm +/- 50 %", 10.0)]
DROPS = ["0.45 V +/- 15 %", "0.2 V to 0.7 V", "1.5 V to 3 V"]
REFERENCES = {"5 V +/- 5 %": Reference(5.08, 0.02, 4), "12 V +/- 5 %": Reference(12.9, 0.0, 9)}


def only(percent: float, counts: int, display: int = 6000) -> Meter:
    """A meter for volts with ranges of 6, 60 and 600 V."""
    ranges = tuple(Range(full * display / 6000, percent, counts) for full in (6.0, 60.0, 600.0))
    return Meter(ranges, (), (), (), display)


def voltages(text: str, **more: Any) -> ReadingModel:
    return rail_voltage(parse_expected(text), high=True, **more)


def resistances(text: str, short_below: float, **more: Any) -> ReadingModel:
    return rail_to_ground(parse_expected(text), short_below, **more)


def drops(text: str, **more: Any) -> ReadingModel:
    return rail_diode(parse_expected(text), **more)


MODELS: dict[str, Callable[[], ReadingModel]] = {
    **{rail: partial(voltages, rail) for rail in RAILS},
    **{f"{rail} drifting": partial(voltages, rail, drift=0.04) for rail in RAILS},
    **{f"{rail} with others": partial(voltages, rail, reference=known) for rail, known in REFERENCES.items()},
    **{text: partial(resistances, text, short) for text, short in GROUNDS},
    "ground with others": partial(resistances, "1 kohm +/- 50 %", 10.0, reference=Reference(800, 40, 5)),
    **{text: partial(drops, text) for text in DROPS},
    "drop with others": partial(drops, "0.2 V to 0.7 V", reference=Reference(0.41, 0.01, 3)),
}


def value(model: ReadingModel, place: float) -> float:
    return 10.0**place if model.log else place


def density(model: ReadingModel, state: str, low: float, high: float) -> float:
    """Integral of the density of a reading between two places of the scale (volts, or decades of an ohm)."""
    marks = [edge for span in model.spans.values() for edge in (span.low, span.high)]
    if model.reference is not None:
        marks.append(math.log10(model.reference.median) if model.log else model.reference.median)
    # Densities turn within a few uncertainties of the marks: the pieces between are smooth.
    near = [mark + sigmas * blur(model, mark) for mark in marks for sigmas in (-9, -4, -2, 0, 2, 4, 9)]
    points = sorted({low, high, *(one for one in near if low < one < high)})
    pieces = [
        integrate.quad(lambda x: model.likelihood(value(model, x))[state], start, end, epsabs=1e-13, epsrel=1e-12)
        for start, end in pairwise(points)
    ]
    return float(sum(whole for whole, _ in pieces))


def blur(model: ReadingModel, place: float) -> float:
    """Standard uncertainty on the scale at a place, by the formulae of the GUM."""
    at = value(model, place)
    of_meter = DEFAULT_METER.standard_uncertainty(model.measured, at)
    return math.hypot(of_meter / (at * math.log(10)) if model.log else of_meter, model.spread)


# --- the meter ---


@pytest.mark.parametrize(
    ("measured", "value_", "digit"),
    [
        *(("V", 5.0, 0.001), ("V", 0.03, 0.001), ("V", 6.0, 0.001), ("V", 12.0, 0.01), ("V", 59.9, 0.01)),
        *(("V", 230.0, 0.1), ("V", -12.0, 0.01), ("V", 0.0, 0.001), ("V", 1e6, 0.1)),
        *(("ohm", 0.3, 0.1), ("ohm", 601.0, 1.0), ("ohm", 39e6, 1e4), ("diode", 0.45, 0.001), ("A", 7.0, 0.01)),
    ],
)
def test_the_last_digit_is_that_of_the_range(measured: Measured, value_: float, digit: float) -> None:
    """6000 counts: ranges of 6, 60 and 600 V show 0.001, 0.01 and 0.1 V; one of 10 A cannot show 0.001 A."""
    assert DEFAULT_METER.digit(measured, value_) == pytest.approx(digit)


def test_the_standard_uncertainty_of_five_volts_by_hand() -> None:
    """JCGM 100:2008, 4.3.7 and F.2.2.1, by hand.

    0.5 % + 3 counts at 5.000 V on the 6 V range of 6000 counts: the limit is 0.025 V + 0.003 V = 0.028 V, rectangular:
    0.028 / sqrt(3) = 0.016166 V. The digit of 0.001 V: 0.001 / sqrt(12) = 0.000289 V. Together
    sqrt(0.016166^2 + 0.000289^2) = 0.016168 V.
    """
    assert only(0.5, 3).standard_uncertainty("V", 5.0) == pytest.approx(0.016168, abs=5e-7)


def test_the_standard_uncertainty_on_the_next_range_by_hand() -> None:
    """12.00 V on the 60 V range: limit 0.06 + 0.03 = 0.09 V, digit 0.01 V: sqrt(0.0027 + 0.00000833) = 0.05204 V."""
    assert DEFAULT_METER.standard_uncertainty("V", 12.0) == pytest.approx(0.05204, abs=5e-6)


def test_a_digital_display_alone_by_hand() -> None:
    """F.2.2.1: a display of resolution d, otherwise perfect, has 0.29 d."""
    assert only(0.0, 0).standard_uncertainty("V", 5.0) == pytest.approx(0.29 * 0.001, abs=2e-6)


def test_each_range_has_its_own_accuracy() -> None:
    meter = Meter(parse_ranges("6 V 0.5 % + 3, 600 V 2 % + 8", "V"), (), (), (), 6000)
    assert meter.limit("V", 6.0) == pytest.approx(0.030 + 0.003)
    assert meter.limit("V", 10.0) == pytest.approx(0.2 + 0.8)
    assert meter.top("V") == 600.0


@given(st.floats(0.001, 600.0))
def test_a_better_meter_is_less_uncertain(value_: float) -> None:
    better = only(0.1, 1).standard_uncertainty("V", value_)
    assert better < DEFAULT_METER.standard_uncertainty("V", value_)


def test_what_a_person_left_out_of_a_reading_counts_too() -> None:
    """12 V for 12.00 V: a digit of 1 V, 1 / sqrt(12) = 0.288675 V, beside the meter's 0.05204 V: 0.293328 V."""
    model = voltages("12 V +/- 5 %")
    assert model.uncertainty(12.0, 1.0) == pytest.approx(0.293328, abs=5e-6)
    assert model.uncertainty(12.0, 0.01) == model.uncertainty(12.0) == pytest.approx(0.05204, abs=5e-6)
    exact, short = model.likelihood(12.0, 0.01), model.likelihood(12.0, 1.0)
    assert 1 < short["good"] / short["weak"] < exact["good"] / exact["weak"]


@pytest.mark.parametrize(
    ("text", "unit", "ranges"),
    [
        ("6 V 0.5 % + 3, 60 V 0.8 % + 5", "V", (Range(6.0, 0.5, 3), Range(60.0, 0.8, 5))),
        ("600 mV 0,5%+3; 6V 1 %+ 3", "V", (Range(0.6, 0.5, 3), Range(6.0, 1.0, 3))),
        ("600 ohm 1 % + 5, 40 Mohm 2 % + 5", "ohm", (Range(600.0, 1.0, 5), Range(40e6, 2.0, 5))),
    ],
)
def test_ranges_are_read_as_a_data_sheet_prints_them(text: str, unit: str, ranges: tuple[Range, ...]) -> None:
    assert parse_ranges(text, unit) == ranges
    assert parse_ranges(written_ranges(ranges, unit), unit) == ranges


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("0.5 % + 3", "'0.5 % \\+ 3' is no range of a meter in V. Write it as '6 V 0.5 % \\+ 3, 60 V"),
        ("", "'' is no range of a meter in V"),
        ("6 ohm 0.5 % + 3", "'6 ohm 0.5 % \\+ 3' is no range of a meter in V"),
        ("60 V 0.5 % + 3, 6 V 0.5 % + 3", "'6 V 0.5 % \\+ 3': ranges go upwards from above zero"),
        ("0 V 0.5 % + 3", "ranges go upwards from above zero"),
        ("6 V 21 % + 3", "no meter is that inaccurate \\(at most 20 % and 1000 counts\\)"),
        ("6 V 1 % + 1001", "no meter is that inaccurate"),
    ],
)
def test_what_is_no_range_is_refused_with_what_would_be_right(text: str, message: str) -> None:
    with pytest.raises(QuantityError, match=message):
        parse_ranges(text, "V")


# --- densities ---


@pytest.mark.parametrize("name", MODELS)
def test_density_and_overload_sum_to_one_in_every_state(name: str) -> None:
    model = MODELS[name]()
    for state in model.spans:
        whole = density(model, state, model.low, model.high) + model.likelihood(math.inf)[state]
        assert whole == pytest.approx(1.0, abs=1e-9), state


def rail_with_noise(model: ReadingModel, state: str, place: float) -> float:
    """The density by the whole integral: a true value anywhere in the state, a normal error as large as it is there.

    Of a resistance the error is in ohm; the density is by decades.
    """
    span, at = model.spans[state], value(model, place)

    def spread(true: float) -> float:
        other = LOG_SPREAD * math.log(10) * true if model.log else model.spread
        return math.hypot(DEFAULT_METER.standard_uncertainty(model.measured, true), other)

    def joint(true_place: float) -> float:
        true = value(model, true_place)
        around = NormalDist(true, spread(true))
        return (around.pdf(at) + around.pdf(-at)) * (at * math.log(10) if model.log else 1.0)

    near = [place + sigmas * blur(model, place) for sigmas in (-9, -4, -2, -1, 0, 1, 2, 4, 9)]
    points = sorted({span.low, span.high, *(one for one in near if span.low < one < span.high)})
    whole = sum(integrate.quad(joint, a, b, epsabs=1e-12)[0] for a, b in pairwise(points))
    slip = model.slip * (1 - OVERLOAD_OF_SLIPS[model.measured]) / (model.high - model.low)
    return (1 - model.slip) * (1 - span.overload) * whole / (span.high - span.low) + slip


@pytest.mark.parametrize(
    ("name", "within"),
    [*((name, 0.002) for name in (*RAILS[:4], *DROPS[:2])), (GROUNDS[0][0], 0.08), (GROUNDS[2][0], 0.02)],
)
def test_blurring_each_limit_is_near_the_whole_integral(name: str, within: float) -> None:
    """Within a part of a state's height at all limits: the uncertainty hardly changes within a few of itself.

    Not so for resistances near the last digit (a short below 0.2 ohm by a display of 0.1 ohm): that state is smeared
    over its whole width, and comes out up to 64 % of its height too high at its own low end.
    """
    model = MODELS[name]()
    for state, span in model.spans.items():
        height = 1.0 / (span.high - span.low)
        for edge in {span.low, span.high} - {model.low}:
            for sigmas in (-3.0, -1.0, 0.0, 0.5, 2.0):
                place = edge + sigmas * blur(model, edge)
                found = model.likelihood(value(model, place))[state]
                whole = rail_with_noise(model, state, place)
                assert found == pytest.approx(whole, abs=within * height), (state, edge, sigmas)


@pytest.mark.parametrize("name", MODELS)
def test_a_sign_and_a_place_below_the_scale_change_nothing_else(name: str) -> None:
    model = MODELS[name]()
    for at in (0.0, 0.04, 0.5, 12.0):
        assert model.likelihood(-at) == model.likelihood(at)
    if model.log:
        assert model.likelihood(0.0) == model.likelihood(OHMS_RANGE[0])


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
    """(1 - s) / width + s / range: 0.99 / 0.5 V + 0.01 x 0.999 / 600 V = 1.980017 per V; else only the slips."""
    likelihood = voltages("5 V +/- 5 %").likelihood(5.0)
    assert likelihood["good"] == pytest.approx(1.980017, abs=1e-6)
    assert likelihood["none"] == pytest.approx(0.01 * 0.999 / 600, rel=1e-9)


def test_a_value_without_a_width_is_as_wide_as_the_meter_is_unsure() -> None:
    """3 V: u = 10.396 mV, a peak of 1 / (u sqrt(2 pi)) = 38.373 per V, slips by it 2.2528 %."""
    model = voltages("3 V")
    assert model.slip == pytest.approx(0.022528, rel=1e-4)
    assert model.likelihood(3.0)["good"] == pytest.approx(0.977472 * 38.373, rel=1e-4)


# --- chances of outcomes ---


@pytest.mark.parametrize("name", MODELS)
def test_chances_are_the_integrals_of_the_density_with_overload_at_the_top(name: str) -> None:
    model = MODELS[name]()
    outcomes = tuple(sorted(model.spans, key=lambda state: model.spans[state].low))
    spans = [model.spans[one] for one in outcomes]
    inner = [(left.high + right.low) / 2 for left, right in pairwise(spans)]
    borders = [model.low, *(min(one, model.high) for one in inner), model.high]
    for state, row in model.chances(outcomes[::-1]).items():
        assert sum(row.values()) == pytest.approx(1.0, abs=1e-12)
        for index, outcome in enumerate(outcomes):
            inside = density(model, state, borders[index], borders[index + 1])
            over = model.likelihood(math.inf)[state] if index == len(outcomes) - 1 else 0.0
            assert row[outcome] == pytest.approx(inside + over, abs=1e-9), (state, outcome)


def test_a_good_rail_mostly_reads_good() -> None:
    chances = voltages("5 V +/- 5 %").chances(("none", "weak", "good", "high"))
    assert all(chances[state][state] > 0.95 for state in chances)


# --- overload and slips ---


def test_overload_of_a_resistance_speaks_for_clear_but_not_loudly() -> None:
    """5 % of clear rails are above the range; of shorted ones half of the slips, by a probe that does not touch."""
    likelihood = resistances("20 ohm to 1 Mohm", 2.0).likelihood(math.inf)
    assert likelihood["short"] == pytest.approx(SLIP / 2)
    assert likelihood["clear"] == pytest.approx((1 - SLIP) * OVERLOAD_OF_CLEAR_RAIL + SLIP / 2)


def test_overload_of_a_voltage_tells_nothing() -> None:
    assert len(set(voltages("5 V +/- 5 %").likelihood(math.inf).values())) == 1


def test_a_number_beyond_the_meter_says_what_overload_says() -> None:
    """Nobody's meter with a top range of 600 V showed 700 V; the rail is up there, or the pen slipped."""
    model = voltages("385 V +/- 5 %")
    assert model.likelihood(700.0) == model.likelihood(math.inf)
    assert max(model.likelihood(math.inf).items(), key=lambda one: one[1])[0] == "high"
    ground = resistances("20 ohm to 1 Mohm", 2.0)
    assert ground.likelihood(1e12) == ground.likelihood(math.inf)


def test_a_healthy_rail_beyond_the_meter_shows_overload() -> None:
    """Clear up to 20 Mohm by a meter that ends at 2 Mohm: a third of the three decades is beyond."""
    small = Meter((), parse_ranges("2 Mohm 1 % + 3", "ohm"), (), (), 2000)
    model = rail_to_ground(parse_expected("20 kohm to 20 Mohm"), 20.0, small)
    assert model.likelihood(math.inf)["clear"] == pytest.approx((1 - SLIP) * (0.05 + 0.95 / 3) + SLIP / 2, abs=1e-6)


def worth(model: ReadingModel, value_: float) -> float:
    """The largest ratio of two states that a reading makes."""
    likelihood = model.likelihood(value_)
    return max(likelihood.values()) / min(likelihood.values())


KNOWN = st.none() | st.builds(Reference, st.floats(0.4, 55.0), st.floats(0.0, 1.0), st.integers(1, 400))


@given(st.floats(0.05, 50.0), st.floats(1e-6, 0.2), KNOWN, st.floats(-5.0, 1500.0) | st.just(math.inf))
def test_no_voltage_is_worth_a_million(nominal: float, share: float, known: Reference | None, reading: float) -> None:
    limits = Expected(nominal, nominal * (1 - share), nominal * (1 + share), "V")
    model = rail_voltage(limits, high=True, reference=known)
    for one in (reading, nominal, known.median if known else 0.0):
        assert worth(model, one) <= MOST_WORTH * (1 + 1e-9)


@given(st.sampled_from(GROUNDS), KNOWN, st.floats(0.0, 1e9) | st.just(math.inf))
def test_no_resistance_is_worth_a_million(ground: tuple[str, float], known: Reference | None, reading: float) -> None:
    model = rail_to_ground(parse_expected(ground[0]), ground[1], reference=known)
    assert worth(model, reading) <= MOST_WORTH * (1 + 1e-9)


@pytest.mark.parametrize("rail", ["0.8 V to 1.3 V", "1.2 V +/- 5 %", "5 V +/- 5 %", "385 V +/- 5 %"])
def test_an_ordinary_rail_has_the_ordinary_share_of_slips(rail: str) -> None:
    assert voltages(rail).slip == SLIP


def test_a_narrow_state_has_more_slips() -> None:
    """1 V +/- 1 mV: 1 / 2 mV x 600 V = 3e5 to one, as odds against 0.999 million: 0.3003 / 1.3003 = 23 %."""
    model = rail_voltage(Expected(1.0, 0.999, 1.001, "V"), high=False)
    assert model.slip == pytest.approx(0.30030060 / 1.30030060, rel=1e-5)


def test_a_narrow_resistance_or_many_equal_units_have_more_slips() -> None:
    """1 kohm -+ 10 mohm, 8.686e-6 decades: 0.95 / that x 8.90309 decades / 0.5 million, as odds 1.9475.

    400 units at 1 V exactly, u = 4.6278 mV: (400 / 405) / (u sqrt(2 pi)) + (5 / 405) / 0.1 V = 85.2645 per V; x 600 V /
    0.999 million are odds of 0.05121.
    """
    ground = rail_to_ground(Expected(1000.0, 999.99, 1000.01, "ohm"), 10.0)
    assert ground.slip == pytest.approx(1.94753 / 2.94753, rel=1e-4)
    known = rail_voltage(parse_expected("1 V +/- 5 %"), high=False, reference=Reference(1.0, 0.0, 400))
    assert known.slip == pytest.approx(0.05121 / 1.05121, rel=1e-4)


def test_limits_that_drifted_add_to_the_spread() -> None:
    """4 % of 12 V, rectangular: 0.48 V / sqrt(3) = 0.277128 V; with the meter's 0.05204 V at 12 V 0.281972 V."""
    model = MODELS["12 V +/- 5 % drifting"]()
    assert model.spread == pytest.approx(0.277128, rel=1e-5)
    assert model.uncertainty(12.0) == pytest.approx(0.281972, rel=1e-4)


def test_the_top_of_a_meter_is_still_a_number() -> None:
    model = voltages("5 V +/- 5 %")
    assert not model.is_overload(-600.0)
    assert model.is_overload(-600.1)


def test_what_could_be_one_more_of_them() -> None:
    """3.5 times the root of 1.4826^2 x 0.01^2 x (1 + pi / 10) and 0.01^2: 0.06902."""
    known = Reference(5.0, 0.01, 5)
    assert known.fits(5.069, 0.01)
    assert not known.fits(4.9309, 0.01)
    assert not Reference(5.0, 0.0, 5).fits(5.1, 0.0)


def test_the_states_of_a_rail_touch_one_another() -> None:
    spans = voltages("5 V +/- 5 %").spans
    assert (spans["none"].low, spans["none"].high) == (0.0, NONE_BELOW * 5.0)
    assert spans["none"].high == spans["weak"].low
    assert spans["weak"].high == spans["good"].low == 4.75
    assert (spans["high"].low, spans["high"].high) == (5.25, HIGH_UP_TO * 5.0)
    assert "high" not in rail_voltage(parse_expected("5 V +/- 5 %"), high=False).spans


# --- forward drops ---


def test_diode_mode_tells_a_short_from_a_junction() -> None:
    model = rail_diode(parse_expected("0.45 V +/- 15 %"))
    for reading, state in ((0.0, "short"), (0.012, "short"), (0.44, "clear"), (0.39, "clear"), (math.inf, "clear")):
        likelihood = model.likelihood(reading)
        assert max(likelihood, key=likelihood.__getitem__) == state, reading
    assert model.spans["short"].high == DIODE_SHORT
    assert model.spread == DIODE_SPREAD


# --- where the true value lies ---


@pytest.mark.parametrize(
    ("name", "reading", "zone"),
    [
        *(("12 V +/- 5 %", one, zone) for one, zone in ((0.03, "absent"), (7.0, "low"), (-12.1, "in tolerance"))),
        *(("12 V +/- 5 %", one, "high") for one in (14.0, math.inf)),
        *(("20 ohm to 1 Mohm", one, zone) for one, zone in ((0.1, "shorted"), (6.0, "low"), (4700.0, "in tolerance"))),
        *(("20 ohm to 1 Mohm", one, zone) for one, zone in ((5e6, "high"), (math.inf, "open"))),
        *(("0.2 V to 0.7 V", one, zone) for one, zone in ((0.0, "shorted"), (0.12, "low"), (0.4, "in tolerance"))),
        *(("0.2 V to 0.7 V", one, zone) for one, zone in ((1.1, "high"), (math.inf, "open"))),
    ],
)
def test_a_reading_falls_in_one_of_six(name: str, reading: float, zone: str) -> None:
    model = MODELS[name]()
    zones = model.falls(reading)
    assert max(zones, key=lambda one: zones[one]) == zone
    assert zones[zone] > 0.95
    assert sum(zones.values()) == pytest.approx(1 - model.slip, abs=1e-12)


def test_a_reading_at_the_limit_is_in_tolerance_by_half() -> None:
    zones = voltages("12 V +/- 5 %").falls(11.4)
    assert zones["in tolerance"] == pytest.approx(0.5 * (1 - SLIP), abs=1e-9)
    assert zones["low"] == pytest.approx(0.5 * (1 - SLIP), abs=1e-9)


# --- known-good units ---


def test_five_units_weigh_as_much_as_the_map() -> None:
    """Half of the density is the map's 0.99 / 0.5 V, half a normal of sqrt(spread^2 + u^2) about their median."""
    known = Reference(5.05, 0.01, MAP_COUNTS_AS)
    model = rail_voltage(parse_expected("5 V +/- 5 %"), high=False, reference=known)
    spread = 1.482602218505602 * 0.01 * math.sqrt(1 + math.pi / (2 * MAP_COUNTS_AS))
    deviation = math.hypot(spread, DEFAULT_METER.standard_uncertainty("V", 5.05))
    normal = 1 / (deviation * math.sqrt(2 * math.pi))
    expected = 0.99 * (0.5 / 0.5 + 0.5 * normal) + 0.01 * 0.999 / 600
    assert model.likelihood(5.05)["good"] == pytest.approx(expected, rel=1e-6)


def test_five_units_of_a_resistance_by_hand() -> None:
    """800 ohm, MAD 40 ohm: 1.4826 x 40 x sqrt(1 + pi / 10) = 67.98 ohm, 0.036906 decades; with 0.04 of contact and
    0.003451 of the meter 0.054534, so a peak of 7.3154. Half of it, half of 1 / lg 3; 0.99 and 0.95 of clear rails."""
    model = MODELS["ground with others"]()
    assert model.likelihood(800.0)["clear"] == pytest.approx(
        0.9405 * (0.5 * 2.09590 + 0.5 * 7.3154) + 5.616e-4, rel=1e-4
    )


def test_digits_left_out_of_a_resistance_by_hand() -> None:
    """10 ohm written to 10 ohm: 10 / sqrt(12) of it are 0.12537 decades, with 0.04 and 0.0088 of the meter at 20 ohm
    0.13189: 20 ohm is 2.2824 of them away, Phi 0.011232 of 1 / 4.69897 decades."""
    found = resistances("20 ohm to 1 Mohm", 2.0).likelihood(10.0, 10.0)["clear"]
    assert found == pytest.approx(0.9405 * 0.011232 / 4.69897 + 5.616e-4, rel=1e-4)


def test_fewer_than_three_units_change_no_likelihood() -> None:
    for count in range(1, ENOUGH):
        known = Reference(5.05, 0.01, count)
        model = rail_voltage(parse_expected("5 V +/- 5 %"), high=True, reference=known)
        assert model.likelihood(5.04) == voltages("5 V +/- 5 %").likelihood(5.04)


def test_known_good_units_outside_the_map_make_such_a_reading_good() -> None:
    """The map says 5 V +/- 5 %, but nine good units read 5.4 V: one more of those is most likely good."""
    alone = voltages("5 V +/- 5 %").likelihood(5.4)
    known = Reference(5.4, 0.02, 9)
    joint = rail_voltage(parse_expected("5 V +/- 5 %"), high=True, reference=known).likelihood(5.4)
    assert alone["good"] < alone["high"]
    assert joint["good"] > 10 * joint["high"]


@given(st.lists(st.floats(0.1, 100.0), min_size=1, max_size=12), st.floats(0.0, 200.0))
def test_one_wild_reading_moves_the_median_no_further_than_the_next_value(values: list[float], wild: float) -> None:
    before, after = reference(values), reference([*values, wild])
    ordered = sorted(values)
    middle = len(values) // 2
    assert after.count == before.count + 1
    near = (ordered[max(0, middle - 1)], ordered[min(len(values) - 1, middle)], wild)
    assert min(near) <= after.median <= max(near)


@given(st.floats(0.5, 20.0), st.floats(0.001, 0.5))
def test_a_guard_band_draws_the_limits_in_and_a_negative_one_out(nominal: float, u: float) -> None:
    limits = Expected(nominal, nominal * 0.9, nominal * 1.1, "V")
    assert guarded(limits, u) == pytest.approx((limits.low + 2 * u, limits.high - 2 * u))
    assert guarded(limits, u, share=-1) == pytest.approx((limits.low - 2 * u, limits.high + 2 * u))


def test_the_sampled_reference_needs_a_value_each() -> None:
    with pytest.raises(ValueError, match="no median"):
        reference([])
    assert np.isfinite(reference([3.0]).spread)
