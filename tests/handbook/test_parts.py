"""Replacement, stress, supplies and sensors: each comparison in both directions, and each guard with its message."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from knowngood.errors import RangeError
from knowngood.handbook import book, capacitors, measuring, parts, sensors, supplies

ELECTROLYTIC = {"old_capacitance": 470e-6, "new_capacitance": 470e-6, "old_voltage": 16.0, "new_voltage": 16.0}
CERAMIC: dict[str, Any] = {"old_code": "X5R", "new_code": "X5R", "old_voltage": 25.0, "new_voltage": 25.0}
CERAMIC |= {"old_capacitance": 1e-6, "new_capacitance": 1e-6}
FUSE = {"old_current": 2.0, "new_current": 2.0}
RESISTOR = {"old_resistance": 100.0, "new_resistance": 100.0, "old_power": 1.0, "new_power": 1.0}
DIODE = {"old_reverse": 100.0, "new_reverse": 100.0, "old_current": 3.0, "new_current": 3.0}
MOSFET = {"old_channel": "N", "new_channel": "N", "old_drain": 30.0, "new_drain": 30.0}
REGULATOR = {"old_output": 5.0, "new_output": 5.0, "old_current": 1.0, "new_current": 1.0}

RULES: list[tuple[Any, dict[str, Any], str, float, str]] = [
    (parts.electrolytic_fits, ELECTROLYTIC, "voltage", 16.0, "voltage 11.2 V, below 16 V"),
    (parts.electrolytic_fits, ELECTROLYTIC, "temperature", 105.0, "temperature 73.5 degC, below 105 degC"),
    (parts.electrolytic_fits, ELECTROLYTIC, "esr", 0.1, "ESR 130 mohm, above 100 mohm"),
    (parts.electrolytic_fits, ELECTROLYTIC, "ripple", 1.0, "ripple 700 mA, below 1 A"),
    (parts.electrolytic_fits, ELECTROLYTIC, "life", 7.2e6, "life 1400 h, below 2000 h"),
    (parts.electrolytic_fits, ELECTROLYTIC, "pitch", 5e-3, "pitch 6.5 mm, not 5 mm within 2 %"),
    (parts.electrolytic_fits, ELECTROLYTIC, "diameter", 10e-3, "diameter 13 mm, above 10 mm"),
    (parts.electrolytic_fits, ELECTROLYTIC, "height", 20e-3, "height 26 mm, above 20 mm"),
    (parts.electrolytic_fits, ELECTROLYTIC, "capacitance", 470e-6, "capacitance 611 uF, not 470 uF within 20 %"),
    (parts.ceramic_fits, CERAMIC, "capacitance", 0.5, "capacitance 650 mF, not 500 mF within 20 %"),
    (parts.ceramic_fits, CERAMIC, "voltage", 25.0, "voltage 17.5 V, below 25 V"),
    (parts.ceramic_fits, CERAMIC, "length", 2e-3, "length of the case 1.4 mm, below 2 mm"),
    (parts.fuse_fits, FUSE, "current", 2.0, "current 2.6 A, not 2 A"),
    (parts.fuse_fits, FUSE, "voltage", 250.0, "voltage 175 V, below 250 V"),
    (parts.fuse_fits, FUSE, "breaking", 1500.0, "breaking capacity 1.05 kA, below 1.5 kA"),
    (parts.fuse_fits, FUSE, "length", 20e-3, "length 26 mm, not 20 mm within 2 %"),
    (parts.fuse_fits, FUSE, "diameter", 5e-3, "diameter 6.5 mm, not 5 mm within 4 %"),
    (parts.resistor_fits, RESISTOR, "resistance", 100.0, "resistance 130 ohm, not 100 ohm within 5 %"),
    (parts.resistor_fits, RESISTOR, "power", 1.0, "power 700 mW, below 1 W"),
    (parts.resistor_fits, RESISTOR, "tolerance", 0.05, "tolerance 6.5 %, above 5 %"),
    (parts.resistor_fits, RESISTOR, "voltage", 500.0, "voltage 350 V, below 500 V"),
    (parts.diode_fits, DIODE, "reverse", 100.0, "reverse voltage 70 V, below 100 V"),
    (parts.diode_fits, DIODE, "current", 3.0, "current 2.1 A, below 3 A"),
    (parts.diode_fits, DIODE, "forward", 0.7, "forward drop 910 mV, above 700 mV"),
    (parts.diode_fits, DIODE, "recovery", 50e-9, "recovery 65 ns, above 50 ns"),
    (parts.diode_fits, DIODE, "surge", 100.0, "surge 70 A, below 100 A"),
    (parts.mosfet_fits, MOSFET, "drain", 30.0, "drain voltage 21 V, below 30 V"),
    (parts.mosfet_fits, MOSFET, "current", 10.0, "current 7 A, below 10 A"),
    (parts.mosfet_fits, MOSFET, "on_resistance", 0.01, "on resistance 13 mohm, above 10 mohm"),
    (parts.mosfet_fits, MOSFET, "gate_charge", 20e-9, "gate charge 26 nC, above 20 nC"),
    (parts.mosfet_fits, MOSFET, "threshold", 2.5, "gate threshold 3.25 V, above 2.5 V"),
    (parts.mosfet_fits, MOSFET, "gate", 20.0, "gate limit 14 V, below 20 V"),
    (parts.regulator_fits, REGULATOR, "output", 5.0, "output 6.5 V, not 5 V within 1 %"),
    (parts.regulator_fits, REGULATOR, "current", 1.0, "current 700 mA, below 1 A"),
    (parts.regulator_fits, REGULATOR, "input", 15.0, "input limit 10.5 V, below 15 V"),
    (parts.regulator_fits, REGULATOR, "dropout", 0.5, "dropout 650 mV, above 500 mV"),
    (parts.regulator_fits, REGULATOR, "quiescent", 1e-3, "own current 1.3 mA, above 1 mA"),
    (parts.regulator_fits, REGULATOR, "thermal_resistance", 60.0, "thermal resistance 78 K/W, above 60 K/W"),
]
"""What is said against a part with 1.3 times as much (0.7 times where it is "below")."""


@pytest.mark.parametrize(
    ("formula", "given", "name", "old", "words"), RULES, ids=lambda one: getattr(one, "name", None)
)
def test_a_worse_property_speaks_against_a_part_and_a_better_one_does_not(
    formula: Any, given: dict[str, Any], name: str, old: float, words: str
) -> None:
    def compared(new: float) -> Any:
        return formula(**{**given, f"old_{name}": old, f"new_{name}": new})

    more, less = compared(1.3 * old), compared(0.7 * old)
    assert compared(old).against == ()
    assert (less if ", below" in words else more).against == (words,)
    assert bool(more.against) == (", below" not in words), more
    assert bool(less.against) == (", above" not in words), less
    for found in (more, less):
        assert (found.verdict == "does not fit") == bool(found.against)
    bare = set(formula(**given).not_compared)
    assert set(compared(old).not_compared) == bare - {words.partition(", ")[0].rsplit(" ", 2)[0]}
    if formula.signature.parameters[f"old_{name}"].default is None:
        assert set(formula(**given, **{f"old_{name}": old}).not_compared) == bare
        assert set(formula(**given, **{f"new_{name}": old}).not_compared) == bare


def test_what_was_not_given_is_named_and_not_taken_for_good() -> None:
    found = parts.electrolytic_fits(**ELECTROLYTIC, old_esr=0.1)
    assert found.verdict == "fits as far as compared"
    assert [formula(**given).not_compared for formula, given in {one[0]: one[1] for one in RULES}.items()] == [
        ("temperature", "ESR", "ripple", "life", "pitch", "diameter", "height"),
        ("length of the case",),
        ("speed", "voltage", "breaking capacity", "length", "diameter"),
        ("tolerance", "voltage", "kind"),
        ("forward drop", "recovery", "surge"),
        ("current", "on resistance", "gate charge", "gate threshold", "gate limit"),
        ("input limit", "dropout", "own current", "thermal resistance"),
    ]
    assert "speed" in parts.fuse_fits(**FUSE, old_speed="T").not_compared
    assert "speed" in parts.fuse_fits(**FUSE, new_speed="T").not_compared
    everything = parts.ceramic_fits(**CERAMIC, old_length=2e-3, new_length=2e-3)
    assert (everything.verdict, everything.not_compared) == ("fits", ())


@pytest.mark.parametrize(
    ("old", "new", "against"),
    [
        ("X5R", "X7R", ()),
        ("X7R", "C0G", ()),
        ("X7R", "X5R", ("its temperature range is narrower",)),
        ("X7R", "Z7R", ("its temperature range is narrower",)),
        ("X7R", "Y7R", ("its temperature range is narrower",)),
        ("C0G", "C0G", ()),
        ("X7R", "X7P", ()),
        ("X7S", "X7T", ("it changes more",)),
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
        (lambda: capacitors.dielectric_drift("X7", 1e-6, 50.0), "dielectric-drift: 'X7' is no dielectric code"),
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
    assert str(raised.value).partition(": ")[0] in book.formulas()


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
    assert measuring.burden(0.2, 1.8).left is None
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


@pytest.mark.parametrize("order", [(0, 1, 2), (2, 0, 1), (1, 2, 0)])
def test_a_curve_is_relied_on_between_its_points_in_any_order(order: tuple[int, ...]) -> None:
    table = ((0.0, 158214.0), (25.0, 47000.0), (85.0, 4674.0))
    points = tuple(table[one] for one in order)
    for ohm, within in ((158214.0, True), (158300.0, False), (4674.0, True), (4670.0, False), (47000.0, True)):
        assert sensors.ntc_by_points(ohm, points).within is within, ohm
    for degrees, ohm in table:
        assert sensors.ntc_by_points(ohm, points).temperature == pytest.approx(degrees, abs=1e-6)


def test_the_tolerance_of_platinum_on_the_meter() -> None:
    """Against the difference of two resistances: 0.8 K at 100 degC, 0.55 K at -50 degC."""
    for temperature, kelvin in ((100.0, 0.8), (-50.0, 0.55)):
        found = sensors.pt100_tolerance(temperature, "B")
        rise = sensors.pt100_resistance(temperature + 0.5) - sensors.pt100_resistance(temperature - 0.5)
        assert (found.kelvin, found.resistance) == pytest.approx((kelvin, kelvin * rise), rel=1e-5)
    assert sensors.pt100_tolerance(0.0, "C").known == "class C is from memory, no pass or fail"
