"""What should this regulator put out, with which ripple, and how much does it lose?"""

from __future__ import annotations

import math
from dataclasses import dataclass

from knowngood.errors import RangeError
from knowngood.handbook.formula import formula


@dataclass(frozen=True)
class Output:
    """A supply's output from its divider."""

    voltage: float
    low: float | None = None
    high: float | None = None
    spread: float | None = None


@formula
def feedback_output(
    reference: float,
    upper: float,
    lower: float,
    reference_tolerance: float = 0.0,
    resistor_tolerance: float = 0.0,
) -> Output:
    """What a supply with a feedback divider puts out.

    The current of the feedback pin is left out, and so are line, load and ripple. With tolerances it gives limits.

    Formula: Vout = Vref (1 + R1 / R2)
    Args:
        reference: voltage at the feedback pin (V, above 0 to 1000)
        upper: R1, from the output to the feedback pin (ohm, 0 to 1e9)
        lower: R2, from the feedback pin to ground (ohm, above 0 to 1e9)
        reference_tolerance: of the reference (share, 0 to 0.5)
        resistor_tolerance: of each resistor (share, 0 to 0.5)
    Gives:
        voltage: of the output (V)
        low: worst case (V)
        high: worst case (V)
        spread: root of the sum of squares of what each tolerance does (share)
    Source: regulator data sheets (confirmed); TPS5130 data sheet SLVS426, p. 18

    >>> round(feedback_output(0.85, 28.8e3, 10e3).voltage, 4)
    3.298
    """
    ratio = upper / lower
    if reference_tolerance == resistor_tolerance == 0.0:
        return Output(reference * (1.0 + ratio))
    wide = (1.0 + resistor_tolerance) / (1.0 - resistor_tolerance)
    voltage = reference * (1.0 + ratio)
    weight = ratio / (1.0 + ratio)
    return Output(
        voltage,
        reference * (1.0 - reference_tolerance) * (1.0 + ratio / wide),
        reference * (1.0 + reference_tolerance) * (1.0 + ratio * wide),
        math.sqrt(reference_tolerance**2 + 2.0 * (weight * resistor_tolerance) ** 2),
    )


@formula
def feedback_lower(reference: float, upper: float, output_voltage: float) -> float:
    """The lower resistor of a feedback divider that gives a wanted output.

    Formula: R2 = R1 Vref / (Vout - Vref)
    Args:
        reference: voltage at the feedback pin (V, above 0 to 1000)
        upper: R1, from the output to the feedback pin (ohm, above 0 to 1e9)
        output_voltage: wanted (V, above 0 to 1e5)
    Gives:
        lower: R2, from the feedback pin to ground (ohm)
    Source: regulator data sheets (confirmed); TPS5130 data sheet SLVS426, p. 18

    >>> round(feedback_lower(0.85, 28.8e3, 3.3), 1)
    9991.8
    """
    if output_voltage <= reference:
        raise RangeError(
            f"feedback-lower: an output of {output_voltage:g} V is not above the {reference:g} V reference."
        )
    return upper * reference / (output_voltage - reference)


@formula
def adjustable_output(
    to_output: float, to_ground: float, reference: float = 1.25, adjust_current: float = 50e-6
) -> float:
    """What an adjustable three-terminal regulator puts out: its divider hangs from the output, not from ground.

    The usual adjust current of 50 uA is from memory; take the sheet's.

    Formula: Vout = Vref (1 + R2 / R1) + Iadj R2
    Args:
        to_output: R1, between output and adjust pin (ohm, above 0 to 1e6)
        to_ground: R2, between adjust pin and ground (ohm, 0 to 1e6)
        reference: between output and adjust pin (V, above 0 to 100)
        adjust_current: out of the adjust pin (A, 0 to 0.01)
    Gives:
        voltage: of the output (V)
    Source: LM317-class data sheets (confirmed; 50 uA from memory)

    >>> round(adjustable_output(240.0, 720.0), 4)
    5.036
    """
    return reference * (1.0 + to_ground / to_output) + adjust_current * to_ground


@dataclass(frozen=True)
class CoilCurrent:
    """The current of a step-down converter's coil."""

    ripple: float
    peak: float | None
    effective: float | None


@formula
def coil_ripple(
    input_voltage: float, output_voltage: float, inductance: float, frequency: float, current: float | None = None
) -> CoilCurrent:
    """The ripple of a step-down converter's coil, and with the load its peak and r.m.s. current.

    Continuous conduction, drops of switch and diode left out; usual ripple is 20 to 40 % of the load.

    Formula: dI = (Vin - Vout) Vout / (Vin L f); Ipeak = I + dI / 2; Irms = sqrt(I^2 + dI^2 / 12)
    Args:
        input_voltage: into the switch (V, above 0 to 1000)
        output_voltage: behind the coil (V, above 0 to 1000)
        inductance: of the coil (H, above 0 to 1)
        frequency: of switching (Hz, above 0 to 1e8)
        current: of the load (A, above 0 to 1e4)
    Gives:
        ripple: peak to peak (A)
        peak: that must not saturate the coil (A)
        effective: r.m.s., that heats the coil (A)
    Source: TI SLVA477B (2015), confirmed; TPS5130 data sheet SLVS426, p. 18

    >>> round(coil_ripple(12.0, 3.3, 6.8e-6, 570e3).ripple, 5)
    0.61726
    """
    _steps_down("coil-ripple", input_voltage, output_voltage)
    ripple = (input_voltage - output_voltage) * output_voltage / (input_voltage * inductance * frequency)
    if current is None:
        return CoilCurrent(ripple, None, None)
    if ripple > 2.0 * current:
        raise RangeError(
            f"coil-ripple: a ripple of {ripple:.3g} A with a load of {current:g} A is no continuous conduction; "
            f"valid from {ripple / 2.0:.3g} A."
        )
    return CoilCurrent(ripple, current + ripple / 2.0, math.sqrt(current**2 + ripple**2 / 12.0))


@formula
def coil_for_ripple(input_voltage: float, output_voltage: float, ripple: float, frequency: float) -> float:
    """The coil of a step-down converter that lets through a wanted ripple.

    Continuous conduction; usual ripple is 20 to 40 % of the load. It has to stand the peak current as well.

    Formula: L = (Vin - Vout) Vout / (Vin dI f)
    Args:
        input_voltage: into the switch (V, above 0 to 1000)
        output_voltage: behind the coil (V, above 0 to 1000)
        ripple: of the coil, peak to peak (A, above 0 to 1e4)
        frequency: of switching (Hz, above 0 to 1e8)
    Gives:
        inductance: of the coil (H)
    Source: TI SLVA477B (2015), confirmed; TPS5130 data sheet SLVS426, p. 18

    >>> round(coil_for_ripple(8.0, 3.3, 0.8, 300e3) * 1e6, 4)
    8.0781
    """
    _steps_down("coil-for-ripple", input_voltage, output_voltage)
    return (input_voltage - output_voltage) * output_voltage / (input_voltage * ripple * frequency)


def _steps_down(name: str, input_voltage: float, output_voltage: float) -> None:
    if output_voltage >= input_voltage:
        raise RangeError(f"{name}: it steps down; {output_voltage:g} V out of {input_voltage:g} V is no step down.")


@formula
def output_ripple(ripple: float, frequency: float, capacitance: float, esr: float = 0.0) -> float:
    """The most ripple that a step-down converter's output capacitor lets through: from memory, no pass or fail.

    The two terms do not peak together, so this is an upper bound; inductance of the capacitor and probe come on top.

    Formula: dV = dI / (8 f C) + dI ESR
    Args:
        ripple: of the coil, peak to peak (A, above 0 to 1e4)
        frequency: of switching (Hz, above 0 to 1e8)
        capacitance: at its d.c. voltage (F, above 0 to 1)
        esr: of the capacitor (ohm, 0 to 100)
    Gives:
        voltage: peak to peak, upper bound (V)
    Source: from memory (no pass/fail)

    >>> round(output_ripple(0.5, 500e3, 100e-6, 0.01), 6)
    0.00625
    """
    return ripple / (8.0 * frequency * capacitance) + ripple * esr


@dataclass(frozen=True)
class Loss:
    """What a regulator turns into heat, and how hot that makes it."""

    power: float
    efficiency: float
    junction: float | None


@formula
def linear_loss(
    input_voltage: float,
    output_voltage: float,
    current: float,
    quiescent: float = 0.0,
    thermal_resistance: float | None = None,
    ambient: float = 25.0,
) -> Loss:
    """What a linear regulator loses, and with its thermal resistance how hot its junction gets.

    Formula: P = (Vin - Vout) I + Vin Iq; Tj = Ta + theta P; efficiency = Vout I / (Vin (I + Iq))
    Args:
        input_voltage: into it (V, above 0 to 1000)
        output_voltage: out of it (V, above 0 to 1000)
        current: of the load (A, above 0 to 100)
        quiescent: its own current (A, 0 to 1)
        thermal_resistance: junction to ambient, mounted (K/W, above 0 to 1000)
        ambient: temperature around it (degC, -55 to 150)
    Gives:
        power: lost (W)
        efficiency: of it (share)
        junction: temperature of the die (degC)
    Source: regulator data sheets (confirmed)
    Caution: Such a part and its sink may burn skin; in primary circuits a sink may be live.

    >>> loss = linear_loss(5.0, 3.3, 0.5, 0.0, 62.0, 40.0)
    >>> round(loss.power, 4), round(loss.junction, 2), round(loss.efficiency, 4)
    (0.85, 92.7, 0.66)
    """
    _steps_down("linear-loss", input_voltage, output_voltage)
    power = (input_voltage - output_voltage) * current + input_voltage * quiescent
    efficiency = output_voltage * current / (input_voltage * (current + quiescent))
    return Loss(power, efficiency, None if thermal_resistance is None else ambient + thermal_resistance * power)


@dataclass(frozen=True)
class SwitchLoss:
    """What a step-down regulator with its switch inside turns into heat."""

    power: float
    conduction: float
    switching: float
    own: float
    junction: float | None


@formula
def switch_loss(
    input_voltage: float,
    current: float,
    on_resistance: float,
    duty: float,
    switching_time: float,
    frequency: float,
    quiescent: float = 0.0,
    thermal_resistance: float | None = None,
    ambient: float = 25.0,
) -> SwitchLoss:
    """What a switching regulator with its switch inside loses, and how hot that makes it.

    Diode, coil and gate are left out.

    Formula: P = Rds D I^2 + Vin I Tsw f + Vin Iq; Tsw = (trise + tfall) / 2; Tj = Ta + theta P
    Args:
        input_voltage: into it (V, above 0 to 1000)
        current: of the load (A, above 0 to 1000)
        on_resistance: of the switch, hot (ohm, 0 to 100)
        duty: share of the period that the switch is on (share, 0 to 1)
        switching_time: mean of rise and fall (s, 0 to 1e-3)
        frequency: of switching (Hz, above 0 to 1e8)
        quiescent: its own current (A, 0 to 1)
        thermal_resistance: junction to ambient, mounted (K/W, above 0 to 1000)
        ambient: temperature around it (degC, -55 to 150)
    Gives:
        power: lost (W)
        conduction: of it in the closed switch (W)
        switching: of it in the edges (W)
        own: of it what the chip itself takes (W)
        junction: temperature of the die (degC)
    Source: ST A5973D data sheet, equations 23 to 27; TI TPS54332 data sheet, 8.2.2.11 (confirmed)

    >>> loss = switch_loss(12.0, 2.0, 0.4, 0.3, 70e-9, 250e3, 2.5e-3, 42.0, 70.0)
    >>> round(loss.power, 4), round(loss.junction, 2)
    (0.93, 109.06)
    """
    conduction = on_resistance * duty * current**2
    switching = input_voltage * current * switching_time * frequency
    own = input_voltage * quiescent
    power = conduction + switching + own
    junction = None if thermal_resistance is None else ambient + thermal_resistance * power
    return SwitchLoss(power, conduction, switching, own, junction)


@formula
def conduction_loss(current: float, on_resistance: float, hot: float = 1.5, duty: float = 1.0) -> float:
    """What a MOSFET that is on turns into heat.

    Formula: P = I^2 Rds hot D
    Args:
        current: through it, r.m.s. while on (A, 0 to 1e4)
        on_resistance: at 25 degC (ohm, 0 to 1e4)
        hot: how many times that at work; 1.5 is common practice, the sheet has a curve (1, 1 to 4)
        duty: share of the time that it is on (share, 0 to 1)
    Gives:
        power: lost (W)
    Source: circuit theory; TI TPS54332 data sheet, 8.2.2.11

    >>> round(conduction_loss(5.0, 12e-3), 4)
    0.45
    """
    return current**2 * on_resistance * hot * duty


@formula
def gate_drive_power(gate_charge: float, gate_voltage: float, frequency: float) -> float:
    """What driving a MOSFET's gate takes from the driver's supply.

    Formula: P = Qg Vg f
    Args:
        gate_charge: in total, at that voltage (C, above 0 to 1e-3)
        gate_voltage: swing of the gate (V, above 0 to 100)
        frequency: of switching (Hz, above 0 to 1e8)
    Gives:
        power: lost in driver and gate resistor (W)
    Source: TI TPS54332 data sheet, 8.2.2.11 (confirmed)

    >>> round(gate_drive_power(20e-9, 5.0, 300e3), 6)
    0.03
    """
    return gate_charge * gate_voltage * frequency
