"""May I fit this capacitor, fuse, resistor, diode, MOSFET or regulator in the place of that one?"""

from __future__ import annotations

from knowngood.handbook import dielectrics
from knowngood.handbook.formula import formula
from knowngood.handbook.replacing import Verdict, alike, as_stable, at_least, at_most, same, verdict


@formula
def electrolytic_fits(
    old_capacitance: float,
    new_capacitance: float,
    old_voltage: float,
    new_voltage: float,
    old_temperature: float | None = None,
    new_temperature: float | None = None,
    old_esr: float | None = None,
    new_esr: float | None = None,
    old_ripple: float | None = None,
    new_ripple: float | None = None,
    old_life: float | None = None,
    new_life: float | None = None,
    old_pitch: float | None = None,
    new_pitch: float | None = None,
    old_diameter: float | None = None,
    new_diameter: float | None = None,
    old_height: float | None = None,
    new_height: float | None = None,
) -> Verdict:
    """Whether one electrolytic capacitor may stand in for another and replace it.

    A much lower ESR can make an old linear regulator oscillate; a much larger value makes inrush larger. Higher
    voltage and temperature never hurt. Give ripple and ESR at one frequency for both.

    Formula: capacitance within 20 %; voltage, temperature, ripple, life no less; ESR, diameter, height no more; pitch
        the same
    Args:
        old_capacitance: printed on the old one (F, above 0 to 100)
        new_capacitance: printed on the new one (F, above 0 to 100)
        old_voltage: rated (V, above 0 to 1000)
        new_voltage: rated (V, above 0 to 1000)
        old_temperature: rated (degC, 40 to 200)
        new_temperature: rated (degC, 40 to 200)
        old_esr: or impedance, at 100 kHz (ohm, above 0 to 1000)
        new_esr: or impedance, at 100 kHz (ohm, above 0 to 1000)
        old_ripple: current, rated (A, above 0 to 1000)
        new_ripple: current, rated (A, above 0 to 1000)
        old_life: rated (s, above 0 to 1e10)
        new_life: rated (s, above 0 to 1e10)
        old_pitch: of the leads (m, above 0 to 0.1)
        new_pitch: of the leads (m, above 0 to 0.1)
        old_diameter: of the can, or the room there is (m, above 0 to 0.5)
        new_diameter: of the can (m, above 0 to 0.5)
        old_height: of the can, or the room there is (m, above 0 to 0.5)
        new_height: of the can (m, above 0 to 0.5)
    Gives:
        verdict: on what was compared (text)
        against: what speaks against it (text)
        not_compared: look these up (text)
    Source: common practice, no source
    Caution: Discharge the old one and measure that it is empty. Polarity: the wrong way round it bursts.

    >>> electrolytic_fits(470e-6, 470e-6, 16.0, 10.0).against
    ('voltage 10 V, below 16 V',)
    """
    return verdict(
        alike("capacitance", old_capacitance, new_capacitance, "F", 0.20),
        at_least("voltage", old_voltage, new_voltage, "V"),
        at_least("temperature", old_temperature, new_temperature, "degC"),
        at_most("ESR", old_esr, new_esr, "ohm"),
        at_least("ripple", old_ripple, new_ripple, "A"),
        at_least("life", _hours(old_life), _hours(new_life), "h"),
        alike("pitch", old_pitch, new_pitch, "m", 0.02),
        at_most("diameter", old_diameter, new_diameter, "m"),
        at_most("height", old_height, new_height, "m"),
    )


def _hours(seconds: float | None) -> float | None:
    return None if seconds is None else seconds / 3600.0


@formula
def ceramic_fits(
    old_code: str,
    new_code: str,
    old_capacitance: float,
    new_capacitance: float,
    old_voltage: float,
    new_voltage: float,
    old_length: float | None = None,
    new_length: float | None = None,
) -> Verdict:
    """Whether one ceramic capacitor may replace another.

    In classes II and III a smaller case of the same value loses more under d.c. voltage, whatever its code; what is
    left stands in the maker's curve only (ceramic-bias).

    Formula: capacitance within 20 %; voltage, case no less; dielectric as stable over no narrower a range
    Args:
        old_code: dielectric, as X7R (text)
        new_code: dielectric, as X7R (text)
        old_capacitance: printed (F, above 0 to 1)
        new_capacitance: printed (F, above 0 to 1)
        old_voltage: rated (V, above 0 to 1e5)
        new_voltage: rated (V, above 0 to 1e5)
        old_length: of the body (m, above 0 to 0.1)
        new_length: of the body (m, above 0 to 0.1)
    Gives:
        verdict: on what was compared (text)
        against: what speaks against it (text)
        not_compared: look these up (text)
    Source: common practice, no source; codes: EIA RS-198; bias: Maxim AN5527 (confirmed)
    Caution: Across the mains or from mains to case only a part of the same X or Y class, with its approvals.

    >>> ceramic_fits("X7R", "Y5V", 1e-6, 1e-6, 25.0, 25.0).against
    ('its temperature range is narrower and it changes more',)
    """
    old, new = (dielectrics.decode(code, "ceramic-fits") for code in (old_code, new_code))
    return verdict(
        as_stable(old, new),
        alike("capacitance", old_capacitance, new_capacitance, "F", 0.20),
        at_least("voltage", old_voltage, new_voltage, "V"),
        at_least("length of the case", old_length, new_length, "m"),
    )


@formula
def fuse_fits(
    old_current: float,
    new_current: float,
    old_speed: str | None = None,
    new_speed: str | None = None,
    old_voltage: float | None = None,
    new_voltage: float | None = None,
    old_breaking: float | None = None,
    new_breaking: float | None = None,
    old_length: float | None = None,
    new_length: float | None = None,
    old_diameter: float | None = None,
    new_diameter: float | None = None,
) -> Verdict:
    """Whether one fuse may replace another.

    A fuse that has blown black has seen a short: find it first. Sand-filled is not replaced by glass (breaking
    capacity).

    Formula: current, speed and size the same; voltage and breaking capacity no less
    Args:
        old_current: rated (A, above 0 to 1000)
        new_current: rated (A, above 0 to 1000)
        old_speed: very quick FF, quick F, medium M, slow T, very slow TT (one of FF, F, M, T, TT)
        new_speed: as the old one's (one of FF, F, M, T, TT)
        old_voltage: rated (V, above 0 to 1e5)
        new_voltage: rated (V, above 0 to 1e5)
        old_breaking: breaking capacity (A, above 0 to 1e6)
        new_breaking: breaking capacity (A, above 0 to 1e6)
        old_length: of the body (m, above 0 to 0.5)
        new_length: of the body (m, above 0 to 0.5)
        old_diameter: of the body (m, above 0 to 0.1)
        new_diameter: of the body (m, above 0 to 0.1)
    Gives:
        verdict: on what was compared (text)
        against: what speaks against it (text)
        not_compared: look these up (text)
    Source: common practice, no source
    Caution: Unplug before the holder is opened. Never a larger fuse and never a bridge: it is what stops a fire.

    >>> fuse_fits(3.15, 4.0, "T", "F").against
    ('current 4 A, not 3.15 A', 'speed F, not T')
    """
    return verdict(
        alike("current", old_current, new_current, "A", 0.0),
        same("speed", old_speed, new_speed),
        at_least("voltage", old_voltage, new_voltage, "V"),
        at_least("breaking capacity", old_breaking, new_breaking, "A"),
        alike("length", old_length, new_length, "m", 0.02),
        alike("diameter", old_diameter, new_diameter, "m", 0.04),
    )


@formula
def resistor_fits(
    old_resistance: float,
    new_resistance: float,
    old_power: float,
    new_power: float,
    old_tolerance: float = 0.05,
    new_tolerance: float | None = None,
    old_voltage: float | None = None,
    new_voltage: float | None = None,
    old_kind: str | None = None,
    new_kind: str | None = None,
) -> Verdict:
    """Whether one resistor may replace another.

    In sense and snubber places a wound resistor's inductance does harm.

    Formula: resistance within the old tolerance; power, voltage no less; tolerance no more; kind the same
    Args:
        old_resistance: of the old one (ohm, above 0 to 1e12)
        new_resistance: of the new one (ohm, above 0 to 1e12)
        old_power: rated (W, above 0 to 1e4)
        new_power: rated (W, above 0 to 1e4)
        old_tolerance: of the old one (share, 0 to 0.5)
        new_tolerance: of the new one (share, 0 to 0.5)
        old_voltage: rated (V, above 0 to 1e5)
        new_voltage: rated (V, above 0 to 1e5)
        old_kind: its making (one of film, fusible, flameproof, wound, metal-strip)
        new_kind: its making (one of film, fusible, flameproof, wound, metal-strip)
    Gives:
        verdict: on what was compared (text)
        against: what speaks against it (text)
        not_compared: look these up (text)
    Source: common practice, no source
    Caution: A fusible or flameproof resistor, and one across the mains, is there for safety: the same kind only.

    >>> resistor_fits(10.0, 10.0, 0.5, 0.5, old_kind="fusible", new_kind="film").against
    ('kind film, not fusible',)
    """
    return verdict(
        alike("resistance", old_resistance, new_resistance, "ohm", old_tolerance),
        at_least("power", old_power, new_power, "W"),
        at_most("tolerance", old_tolerance, new_tolerance, "share"),
        at_least("voltage", old_voltage, new_voltage, "V"),
        same("kind", old_kind, new_kind),
    )


@formula
def diode_fits(
    old_reverse: float,
    new_reverse: float,
    old_current: float,
    new_current: float,
    old_forward: float | None = None,
    new_forward: float | None = None,
    old_recovery: float | None = None,
    new_recovery: float | None = None,
    old_surge: float | None = None,
    new_surge: float | None = None,
) -> Verdict:
    """Whether one rectifier or Schottky diode may replace another.

    Not for Zener and suppressor diodes: there the voltage has to be the same, not higher. A Schottky diode recovers
    at once (give 0) and leaks more when hot.

    Formula: reverse voltage, current, surge no less; forward drop and recovery time no more
    Args:
        old_reverse: repetitive reverse voltage, rated (V, above 0 to 1e5)
        new_reverse: repetitive reverse voltage, rated (V, above 0 to 1e5)
        old_current: mean forward current, rated (A, above 0 to 1e4)
        new_current: mean forward current, rated (A, above 0 to 1e4)
        old_forward: drop at the same current (V, above 0 to 10)
        new_forward: drop at the same current (V, above 0 to 10)
        old_recovery: reverse recovery time (s, 0 to 1e-3)
        new_recovery: reverse recovery time (s, 0 to 1e-3)
        old_surge: one half-wave, rated (A, above 0 to 1e5)
        new_surge: one half-wave, rated (A, above 0 to 1e5)
    Gives:
        verdict: on what was compared (text)
        against: what speaks against it (text)
        not_compared: look these up (text)
    Source: common practice, no source
    Caution: A slow diode in a switching supply overheats in seconds. First power with limited current.

    >>> diode_fits(200.0, 1000.0, 3.0, 3.0, old_recovery=35e-9, new_recovery=2e-6).against
    ('recovery 2 us, above 35 ns',)
    """
    return verdict(
        at_least("reverse voltage", old_reverse, new_reverse, "V"),
        at_least("current", old_current, new_current, "A"),
        at_most("forward drop", old_forward, new_forward, "V"),
        at_most("recovery", old_recovery, new_recovery, "s"),
        at_least("surge", old_surge, new_surge, "A"),
    )


@formula
def mosfet_fits(
    old_channel: str,
    new_channel: str,
    old_drain: float,
    new_drain: float,
    old_current: float | None = None,
    new_current: float | None = None,
    old_on_resistance: float | None = None,
    new_on_resistance: float | None = None,
    old_gate_charge: float | None = None,
    new_gate_charge: float | None = None,
    old_threshold: float | None = None,
    new_threshold: float | None = None,
    old_gate: float | None = None,
    new_gate: float | None = None,
) -> Verdict:
    """Whether one MOSFET may replace another.

    Compare the order of the pins, and the on resistance at the gate voltage that the board gives: a logic-level part
    is replaced by one only. Much less gate charge switches harder and may ring.

    Formula: channel the same; drain voltage, current, gate limit no less; on resistance, gate charge, threshold no more
    Args:
        old_channel: of the old one (one of N, P)
        new_channel: of the new one (one of N, P)
        old_drain: drain-source voltage, rated (V, above 0 to 1e4)
        new_drain: drain-source voltage, rated (V, above 0 to 1e4)
        old_current: of the drain, at the same case temperature (A, above 0 to 1e4)
        new_current: of the drain, at the same case temperature (A, above 0 to 1e4)
        old_on_resistance: at the gate voltage there is (ohm, above 0 to 1e4)
        new_on_resistance: at the gate voltage there is (ohm, above 0 to 1e4)
        old_gate_charge: in total (C, above 0 to 1e-3)
        new_gate_charge: in total (C, above 0 to 1e-3)
        old_threshold: most, without sign (V, above 0 to 20)
        new_threshold: most, without sign (V, above 0 to 20)
        old_gate: limit of the gate-source voltage (V, above 0 to 100)
        new_gate: limit of the gate-source voltage (V, above 0 to 100)
    Gives:
        verdict: on what was compared (text)
        against: what speaks against it (text)
        not_compared: look these up (text)
    Source: common practice, no source
    Caution: A shorted MOSFET has often taken its driver and gate resistor along: check them before power.

    >>> mosfet_fits("N", "N", 30.0, 60.0, old_threshold=2.5, new_threshold=4.0).against
    ('gate threshold 4 V, above 2.5 V',)
    """
    return verdict(
        same("channel", old_channel, new_channel),
        at_least("drain voltage", old_drain, new_drain, "V"),
        at_least("current", old_current, new_current, "A"),
        at_most("on resistance", old_on_resistance, new_on_resistance, "ohm"),
        at_most("gate charge", old_gate_charge, new_gate_charge, "C"),
        at_most("gate threshold", old_threshold, new_threshold, "V"),
        at_least("gate limit", old_gate, new_gate, "V"),
    )


@formula
def regulator_fits(
    old_output: float,
    new_output: float,
    old_current: float,
    new_current: float,
    old_input: float | None = None,
    new_input: float | None = None,
    old_dropout: float | None = None,
    new_dropout: float | None = None,
    old_quiescent: float | None = None,
    new_quiescent: float | None = None,
    old_thermal_resistance: float | None = None,
    new_thermal_resistance: float | None = None,
) -> Verdict:
    """Whether one linear regulator may replace another.

    Compare the order of the pins, the tab (ground or output) and what the sheet asks of the output capacitor. For an
    adjustable one give its reference as output: another reference makes another voltage with the same divider.

    Formula: output within 1 %; current, input limit no less; dropout, own current, thermal resistance no more
    Args:
        old_output: fixed voltage, or the reference (V, above 0 to 1000)
        new_output: fixed voltage, or the reference (V, above 0 to 1000)
        old_current: rated (A, above 0 to 100)
        new_current: rated (A, above 0 to 100)
        old_input: limit of the input (V, above 0 to 1000)
        new_input: limit of the input (V, above 0 to 1000)
        old_dropout: at the same current (V, above 0 to 10)
        new_dropout: at the same current (V, above 0 to 10)
        old_quiescent: its own current (A, above 0 to 1)
        new_quiescent: its own current (A, above 0 to 1)
        old_thermal_resistance: junction to ambient, mounted (K/W, above 0 to 1000)
        new_thermal_resistance: junction to ambient, mounted (K/W, above 0 to 1000)
    Gives:
        verdict: on what was compared (text)
        against: what speaks against it (text)
        not_compared: look these up (text)
    Source: common practice, no source
    Caution: Before its loads are joined again, measure its output alone.

    >>> regulator_fits(3.3, 3.3, 0.8, 0.5).against
    ('current 500 mA, below 800 mA',)
    """
    return verdict(
        alike("output", old_output, new_output, "V", 0.01),
        at_least("current", old_current, new_current, "A"),
        at_least("input limit", old_input, new_input, "V"),
        at_most("dropout", old_dropout, new_dropout, "V"),
        at_most("own current", old_quiescent, new_quiescent, "A"),
        at_most("thermal resistance", old_thermal_resistance, new_thermal_resistance, "K/W"),
    )
