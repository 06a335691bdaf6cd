"""Replacement, stress, supplies and sensors: each comparison in both directions, and each guard with its message."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from knowngood.errors import RangeError
from knowngood.handbook import capacitors, parts, sensors, supplies

ELECTROLYTIC = {"old_capacitance": 470e-6, "new_capacitance": 470e-6, "old_voltage": 16.0, "new_voltage": 16.0}
CERAMIC: dict[str, Any] = {"old_code": "X5R", "new_code": "X5R", "old_voltage": 25.0, "new_voltage": 25.0}
CERAMIC |= {"old_capacitance": 1e-6, "new_capacitance": 1e-6}
FUSE = {"old_current": 2.0, "new_current": 2.0}
RESISTOR = {"old_resistance": 100.0, "new_resistance": 100.0, "old_power": 1.0, "new_power": 1.0}
DIODE = {"old_reverse": 100.0, "new_reverse": 100.0, "old_current": 3.0, "new_current": 3.0}
MOSFET = {"old_channel": "N", "new_channel": "N", "old_drain": 30.0, "new_drain": 30.0}
REGULATOR = {"old_output": 5.0, "new_output": 5.0, "old_current": 1.0, "new_current": 1.0}

LEAST, MOST, ALIKE = "at least", "at most", "alike"
RULES: list[tuple[Any, dict[str, Any], str, str, float]] = [
    (parts.electrolytic_fits, ELECTROLYTIC, "voltage", LEAST, 16.0),
    (parts.electrolytic_fits, ELECTROLYTIC, "temperature", LEAST, 105.0),
    (parts.electrolytic_fits, ELECTROLYTIC, "esr", MOST, 0.1),
    (parts.electrolytic_fits, ELECTROLYTIC, "ripple", LEAST, 1.0),
    (parts.electrolytic_fits, ELECTROLYTIC, "life", LEAST, 7.2e6),
    (parts.electrolytic_fits, ELECTROLYTIC, "pitch", ALIKE, 5e-3),
    (parts.electrolytic_fits, ELECTROLYTIC, "diameter", MOST, 10e-3),
    (parts.electrolytic_fits, ELECTROLYTIC, "height", MOST, 20e-3),
    (parts.electrolytic_fits, ELECTROLYTIC, "capacitance", ALIKE, 470e-6),
    (parts.ceramic_fits, CERAMIC, "capacitance", ALIKE, 0.5),
    (parts.ceramic_fits, CERAMIC, "voltage", LEAST, 25.0),
    (parts.ceramic_fits, CERAMIC, "length", LEAST, 2e-3),
    (parts.fuse_fits, FUSE, "current", ALIKE, 2.0),
    (parts.fuse_fits, FUSE, "voltage", LEAST, 250.0),
    (parts.fuse_fits, FUSE, "breaking", LEAST, 1500.0),
    (parts.fuse_fits, FUSE, "length", ALIKE, 20e-3),
    (parts.fuse_fits, FUSE, "diameter", ALIKE, 5e-3),
    (parts.resistor_fits, RESISTOR, "resistance", ALIKE, 100.0),
    (parts.resistor_fits, RESISTOR, "power", LEAST, 1.0),
    (parts.resistor_fits, RESISTOR, "tolerance", MOST, 0.05),
    (parts.resistor_fits, RESISTOR, "voltage", LEAST, 500.0),
    (parts.diode_fits, DIODE, "reverse", LEAST, 100.0),
    (parts.diode_fits, DIODE, "current", LEAST, 3.0),
    (parts.diode_fits, DIODE, "forward", MOST, 0.7),
    (parts.diode_fits, DIODE, "recovery", MOST, 50e-9),
    (parts.diode_fits, DIODE, "surge", LEAST, 100.0),
    (parts.mosfet_fits, MOSFET, "drain", LEAST, 30.0),
    (parts.mosfet_fits, MOSFET, "current", LEAST, 10.0),
    (parts.mosfet_fits, MOSFET, "on_resistance", MOST, 0.01),
    (parts.mosfet_fits, MOSFET, "gate_charge", MOST, 20e-9),
    (parts.mosfet_fits, MOSFET, "threshold", MOST, 2.5),
    (parts.mosfet_fits, MOSFET, "gate", LEAST, 20.0),
    (parts.regulator_fits, REGULATOR, "output", ALIKE, 5.0),
    (parts.regulator_fits, REGULATOR, "current", LEAST, 1.0),
    (parts.regulator_fits, REGULATOR, "input", LEAST, 15.0),
    (parts.regulator_fits, REGULATOR, "dropout", MOST, 0.5),
    (parts.regulator_fits, REGULATOR, "quiescent", MOST, 1e-3),
    (parts.regulator_fits, REGULATOR, "thermal_resistance", MOST, 60.0),
]


@pytest.mark.parametrize(("formula", "given", "name", "rule", "old"), RULES, ids=lambda one: getattr(one, "name", None))
def test_a_worse_property_speaks_against_a_part_and_a_better_one_does_not(
    formula: Any, given: dict[str, Any], name: str, rule: str, old: float
) -> None:
    def compared(new: float) -> Any:
        return formula(**{**given, f"old_{name}": old, f"new_{name}": new})

    more, less = compared(1.3 * old), compared(0.7 * old)
    assert compared(old).against == ()
    assert bool(more.against) == (rule in (MOST, ALIKE)), more
    assert bool(less.against) == (rule in (LEAST, ALIKE)), less
    for found in (more, less):
        assert (found.verdict == "does not fit") == bool(found.against)
    assert len(compared(old).not_compared) <= len(formula(**given).not_compared)


def test_what_was_not_given_is_named_and_not_taken_for_good() -> None:
    found = parts.electrolytic_fits(**ELECTROLYTIC, old_esr=0.1)
    assert found.verdict == "fits as far as compared"
    assert found.not_compared == ("temperature", "ESR", "ripple", "life", "pitch", "diameter", "height")
    assert "speed" in parts.fuse_fits(**FUSE, old_speed="T").not_compared
    everything = parts.ceramic_fits(**CERAMIC, old_length=2e-3, new_length=2e-3)
    assert (everything.verdict, everything.not_compared) == ("fits", ())


@pytest.mark.parametrize(
    ("old", "new", "against"),
    [
        ("X5R", "X7R", ()),
        ("X7R", "C0G", ()),
        ("X7R", "X5R", ("its temperature range is narrower",)),
        ("X7R", "Z7R", ("its temperature range is narrower",)),
        ("X7R", "X7S", ("it changes more",)),
        ("X7R", "Y5V", ("its temperature range is narrower and it changes more",)),
        ("C0G", "X7R", ("dielectric of class II or III in the place of class I",)),
        ("C0H", "C0G", ()),
        ("C0G", "C0H", ("its temperature coefficient may lie outside that of the old",)),
        ("C0G", "U2J", ("its temperature coefficient may lie outside that of the old",)),
    ],
)
def test_a_dielectric_is_replaced_by_one_as_stable(old: str, new: str, against: tuple[str, ...]) -> None:
    assert parts.ceramic_fits(**{**CERAMIC, "old_code": old, "new_code": new}).against == against


def test_kinds_are_the_same_or_it_does_not_fit() -> None:
    assert parts.fuse_fits(**FUSE, old_speed="T", new_speed="F").against == ("speed F, not T",)
    assert parts.resistor_fits(**RESISTOR, old_kind="fusible", new_kind="film").against == ("kind film, not fusible",)
    assert parts.mosfet_fits(**{**MOSFET, "new_channel": "P"}).against == ("channel P, not N",)


@pytest.mark.parametrize(
    ("asked", "message"),
    [
        (
            lambda: capacitors.electrolytic_life(3.6e6, 85.0, 90.0),
            "90 degC is above its rating; valid is up to 85 degC",
        ),
        (lambda: capacitors.electrolytic_life(3.6e6, 85.0, 60.0, ripple=1.0), "ripple and rated ripple go together"),
        (lambda: capacitors.electrolytic_life(3.6e6, 85.0, 60.0, rated_ripple=1.0), "one of them is not given"),
        (lambda: capacitors.mixed_life(3.6e6, 85.0, ((0.0, 60.0),)), "more than 0 together"),
        (lambda: capacitors.mixed_life(3.6e6, 85.0, ((-1.0, 60.0), (2.0, 60.0))), "0 or more each"),
        (lambda: capacitors.mixed_life(3.6e6, 85.0, ()), "more than 0 together"),
        (lambda: capacitors.mixed_life(3.6e6, 85.0, ((1.0, 90.0),)), "mixed-life: 90 degC is above its rating"),
        (lambda: capacitors.doubling_energy(50.0, 50.0), "doubling-energy: 50 degC is not below 50 degC."),
        (lambda: capacitors.ceramic_bias(0.0, curve=((0.0, 1e-6),)), "two points or more"),
        (
            lambda: capacitors.ceramic_bias(5.0, 1e-6),
            "neither code nor case nor size tells what 5 V leaves. Give the maker's",
        ),
        (lambda: capacitors.ceramic_bias(0.0, curve=((0.0, 1e-6), (0.0, 2e-6), (1.0, 1e-6))), "each voltage once"),
        (lambda: capacitors.ceramic_bias(1.0, curve=((0.0, 1e-6), (5.0, 0.0))), "more than 0 F at each"),
        (lambda: capacitors.ceramic_bias(6.0, curve=((0.0, 1e-6), (5.0, 1e-7))), "from 0 to 5 V, not to 6 V."),
        (lambda: capacitors.dielectric_drift("X5R", 1e-6, 105.0), "X5R holds from -55 to 85 degC, against 25 degC."),
        (lambda: capacitors.dielectric_drift("X5R", 1e-6, 50.0, 20.0), "against 25 degC."),
        (lambda: supplies.feedback_lower(0.8, 1e4, 0.8), "an output of 0.8 V is not above the 0.8 V reference."),
        (lambda: supplies.coil_ripple(5.0, 5.0, 1e-6, 1e6), "coil-ripple: it steps down; 5 V out of 5 V is no step"),
        (lambda: supplies.coil_for_ripple(5.0, 6.0, 1.0, 1e6), "coil-for-ripple: it steps down; 6 V out of 5 V"),
        (lambda: supplies.linear_loss(3.0, 3.3, 1.0), "linear-loss: it steps down; 3.3 V out of 3 V"),
        (lambda: supplies.coil_ripple(10.0, 5.0, 1e-6, 1e6, 1.0), "no continuous conduction; valid from 1.25 A."),
        (lambda: sensors.ntc_temperature(1e9, 1e4, 3380.0), "is no temperature from -60 to 300 degC."),
        (lambda: sensors.ntc_temperature(1e-9, 1e4, 500.0), "It is open, shorted, or another sensor."),
        (lambda: sensors.ntc_beta(1e4, 25.0, 1e4, 25.0), "both temperatures are the same; B needs two."),
        (lambda: sensors.ntc_by_points(1e4, ((0.0, 3e4), (25.0, 1e4))), "2 points; the curve goes through three."),
        (lambda: sensors.ntc_by_points(1e4, ((0.0, 3e4), (25.0, 1e4), (50.0, 0.0))), "resistances are above 0 ohm"),
        (lambda: sensors.ntc_by_points(1e4, ((-273.15, 3e4), (25.0, 1e4), (50.0, 4e3))), "above -273.15 degC"),
        (lambda: sensors.ntc_by_points(1e4, ((0.0, 3e4), (25.0, 1e4), (50.0, 1e4))), "have the same resistance"),
        (
            lambda: sensors.pt100_temperature(18.0),
            "a sensor of 100 ohm has 18.5201 to 390.481 ohm. It is open, shorted",
        ),
        (lambda: sensors.pt100_temperature(400.0), "18.5201 to 390.481 ohm"),
        (lambda: sensors.type_k_temperature(0.0555, 100.0), "type K has -6.458 to 54.89 mV."),
        (lambda: sensors.type_k_temperature(-0.0101, 25.0), "type-k-temperature: with the cold junction -9.1 mV"),
    ],
)
def test_a_formula_refuses_what_does_not_hold_together(asked: Any, message: str) -> None:
    with pytest.raises(RangeError) as raised:
        asked()
    assert message in str(raised.value)


def test_a_curve_is_straight_between_its_points_in_any_order() -> None:
    curve = ((12.0, 4e-6), (1.0, 20e-6), (5.0, 9e-6))
    assert capacitors.ceramic_bias(3.0, curve=curve).capacitance == pytest.approx(14.5e-6)
    assert capacitors.ceramic_bias(8.5, curve=curve).capacitance == pytest.approx(6.5e-6)
    assert capacitors.ceramic_bias(3.0, curve=curve).share is None


def test_drift_of_each_class_of_dielectric() -> None:
    found = capacitors.dielectric_drift("U2J", 1e-9, 125.0)
    assert (found.low, found.high) == pytest.approx((1e-9 * (1 - 0.087), 1e-9 * (1 - 0.063)))
    found = capacitors.dielectric_drift("Y5V", 1e-6, 60.0)
    assert (found.change, found.low, found.high) == pytest.approx((0.82, 0.18e-6, 1.22e-6))


@pytest.mark.parametrize(("temperature", "within"), [(24.9, False), (25.0, True), (50.0, True), (50.1, False)])
def test_b_is_relied_on_between_its_own_temperatures(temperature: float, within: bool) -> None:
    found = sensors.ntc_resistance(temperature, 1e4, 3380.0)
    assert found.within is within
    assert sensors.ntc_temperature(found.resistance, 1e4, 3380.0).within is within
    assert sensors.ntc_resistance(temperature, 1e4, 3380.0, 0.0, 100.0).within


def test_a_difference_is_said_with_both_values_and_what_is_allowed() -> None:
    found = parts.electrolytic_fits(**{**ELECTROLYTIC, "new_capacitance": 1e-3}, old_life=3.6e6, new_life=1.8e6)
    assert found.against == ("capacitance 1 mF, not 470 uF within 20 %", "life 500 h, below 1000 h")
    found = parts.resistor_fits(**RESISTOR, new_tolerance=0.1)
    assert found.against == ("tolerance 10 %, above 5 %",)


def test_what_needs_more_is_not_shown_without_it() -> None:
    assert capacitors.electrolytic_life(3.6e6, 105.0, 65.0).with_ripple is None
    assert supplies.coil_ripple(12.0, 5.0, 10e-6, 5e5).peak is None
    assert supplies.linear_loss(5.0, 3.3, 0.5).junction is None
    found = supplies.switch_loss(12.0, 2.0, 0.4, 0.3, 7e-8, 2.5e5)
    assert (found.junction, found.own) == (None, 0.0)
    assert found.power == pytest.approx(0.9)
    assert supplies.feedback_output(0.8, 1e4, 1e4).low is None


def test_the_ambient_and_own_current_of_a_regulator_count() -> None:
    found = supplies.linear_loss(5.0, 3.0, 1.0, 0.1, 10.0)
    assert (found.power, found.junction, found.efficiency) == pytest.approx((2.5, 50.0, 3.0 / 5.5))


@given(st.floats(-200.0, 850.0), st.sampled_from([100.0, 500.0, 1000.0]))
def test_platinum_there_and_back(temperature: float, nominal: float) -> None:
    resistance = sensors.pt100_resistance(temperature, nominal)
    assert sensors.pt100_temperature(resistance, nominal) == pytest.approx(temperature, abs=1e-6)


@given(st.floats(-250.0, 1372.0), st.floats(-40.0, 100.0))
@example(1372.0, 0.0)
@example(1372.0, 23.0)
def test_type_k_there_and_back(temperature: float, cold: float) -> None:
    assert sensors.type_k_temperature(sensors.type_k_voltage(temperature, cold), cold) == pytest.approx(
        temperature, abs=1e-5
    )


@given(st.floats(-60.0, 300.0), st.floats(1000.0, 6000.0))
def test_a_thermistor_by_its_b_there_and_back(temperature: float, beta: float) -> None:
    found = sensors.ntc_resistance(temperature, 1e4, beta)
    back = sensors.ntc_temperature(found.resistance, 1e4, beta)
    assert back.temperature == pytest.approx(temperature, abs=1e-6)
    assert (
        found.within == (25.0 <= temperature <= 50.0) or abs(temperature - 25.0) < 1e-6 or abs(temperature - 50) < 1e-6
    )


def test_the_tolerance_of_platinum_on_the_meter() -> None:
    """Against the difference of two resistances: 0.8 K at 100 degC, 0.55 K at -50 degC."""
    for temperature, kelvin in ((100.0, 0.8), (-50.0, 0.55)):
        found = sensors.pt100_tolerance(temperature, "B")
        rise = sensors.pt100_resistance(temperature + 0.5) - sensors.pt100_resistance(temperature - 0.5)
        assert (found.kelvin, found.resistance) == pytest.approx((kelvin, kelvin * rise), rel=1e-5)
    assert sensors.pt100_tolerance(0.0, "C").known == "class C is from memory, no pass or fail"
