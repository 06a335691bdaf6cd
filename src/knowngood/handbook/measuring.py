"""What does the meter do to the circuit, what do leads and shunts make of a reading, what should a junction read?"""

from __future__ import annotations

import math
from dataclasses import dataclass

from knowngood.errors import RangeError
from knowngood.handbook.formula import formula
from knowngood.handbook.table import table

BOLTZMANN = 1.380649e-23
"""In J/K, exact (CODATA 2018)."""

ELEMENTARY_CHARGE = 1.602176634e-19
"""In C, exact (CODATA 2018)."""

ICE = 273.15
"""0 degC in K."""


# ---- parts together -----------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Together:
    """Parts in series and in parallel."""

    series: float
    parallel: float


@formula
def resistors_together(resistors: tuple[float, ...]) -> Together:
    """Resistors in series and in parallel.

    Formula: series R1 + R2 + ...; parallel 1 / (1/R1 + 1/R2 + ...)
    Args:
        resistors: with commas between (ohm, above 0 to 1e15)
    Gives:
        series: end to end (ohm)
        parallel: side by side (ohm)
    Source: circuit theory (derived)

    >>> round(resistors_together((4700.0, 10e3)).parallel, 2)
    3197.28
    """
    return Together(math.fsum(resistors), 1.0 / math.fsum(1.0 / one for one in resistors))


@formula
def capacitors_together(capacitors: tuple[float, ...]) -> Together:
    """Capacitors in series and in parallel.

    In series the voltage divides by leakage in the long run, not by capacitance (common practice, no source).

    Formula: series 1 / (1/C1 + 1/C2 + ...); parallel C1 + C2 + ...
    Args:
        capacitors: with commas between (F, above 0 to 1e6)
    Gives:
        series: end to end (F)
        parallel: side by side (F)
    Source: circuit theory (derived)

    >>> round(capacitors_together((10e-6, 22e-6)).series * 1e6, 4)
    6.875
    """
    return Together(1.0 / math.fsum(1.0 / one for one in capacitors), math.fsum(capacitors))


# ---- what the meter does to the circuit ---------------------------------------------------------------------------


@dataclass(frozen=True)
class Loaded:
    """A divider with a meter on it, in the units of its page."""

    voltage: float
    reads: float
    error: float
    source_resistance: float


@formula
def divider(supply: float, upper: float, lower: float, meter: float = 10e6) -> Loaded:
    """What a divider puts out, and what a meter on it reads: loading error.

    Formula: V = Vs R2 / (R1 + R2); Rth = R1 R2 / (R1 + R2); error = -Rth / (Rm + Rth)
    Args:
        supply: voltage across both (V, -1e6 to 1e6)
        upper: resistor from the supply to the tap (ohm, 0 to 1e12)
        lower: resistor from the tap to ground (ohm, above 0 to 1e12)
        meter: its input resistance; usually 10 Mohm on d.c. volts (common practice, no source) (ohm, above 0 to 1e15)
    Gives:
        voltage: at the tap without the meter (V)
        reads: the meter (V)
        error: of the reading, relative to the voltage (share)
        source_resistance: that the meter sees (ohm)
    Source: circuit theory (derived)

    >>> round(divider(5.0, 1e6, 1e6).reads, 4)
    2.381
    """
    voltage, source = supply * lower / (upper + lower), upper * lower / (upper + lower)
    return Loaded(voltage, voltage * meter / (meter + source), -source / (meter + source), source)


@dataclass(frozen=True)
class Unloaded:
    """What was there before the meter, in the units of its page."""

    voltage: float
    error: float


@formula
def loading(reading: float, source_resistance: float, meter: float = 10e6) -> Unloaded:
    """What voltage there is without the meter, from what the meter reads.

    Formula: V = reading (Rm + Rth) / Rm
    Args:
        reading: on the meter (V, -1e6 to 1e6)
        source_resistance: of what is measured; of a divider, its resistors in parallel (ohm, 0 to 1e15)
        meter: its input resistance; usually 10 Mohm on d.c. volts (common practice, no source) (ohm, above 0 to 1e15)
    Gives:
        voltage: without the meter (V)
        error: of the reading, relative to that (share)
    Source: circuit theory (derived)

    >>> round(loading(2.3810, 500e3).voltage, 3)
    2.5
    """
    return Unloaded(reading * (meter + source_resistance) / meter, -source_resistance / (meter + source_resistance))


@dataclass(frozen=True)
class Burden:
    """What an ammeter takes, in the units of its page."""

    drop: float
    left: float | None


@formula
def burden(current: float, ammeter: float, supply: float | None = None) -> Burden:
    """What a meter in the current path drops, and what is left for the circuit.

    A hand meter has about 100 ohm in its uA range, 1 to 2 ohm in mA, 0.01 to 0.03 ohm in A (common practice, no
    source): read its manual.

    Formula: V = I R
    Args:
        current: through the meter (A, 0 to 1000)
        ammeter: resistance of the meter in that range, with its leads (ohm, 0 to 1e6)
        supply: voltage before the meter (V, 0 to 1e6)
    Gives:
        drop: across the meter (V)
        left: for the circuit (V)
    Source: circuit theory (derived)

    >>> round(burden(0.2, 1.8, 5.0).left, 4)
    4.64
    """
    drop = current * ammeter
    if supply is not None and drop > supply:
        raise RangeError(f"burden: the meter would drop {drop:.4g} V of {supply:.4g} V; so much current cannot flow.")
    return Burden(drop, None if supply is None else supply - drop)


# ---- small resistances --------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class TwoWire:
    """A resistance read with two leads, in the units of its page."""

    resistance: float
    error: float | None


@formula
def two_wire(reading: float, leads: float) -> TwoWire:
    """A small resistance from a two-wire reading, less the leads.

    Leads have 0.1 to 0.2 ohm a pair, and contact changes with every touch: below an ohm measure with four wires.

    Formula: R = reading - leads
    Args:
        reading: with the part between the leads (ohm, 0 to 1e12)
        leads: reading with the leads held together (ohm, 0 to 100)
    Gives:
        resistance: of the part (ohm)
        error: of the reading, relative to that (share)
    Source: low-resistance metering notes (confirmed)

    >>> round(two_wire(0.2, 0.1).error, 3)
    1.0
    """
    if reading < leads:
        raise RangeError(f"two-wire: reading is {reading:.4g} ohm; valid is at least the leads, {leads:.4g} ohm.")
    part = reading - leads
    return TwoWire(part, leads / part if part > 0 else None)


@formula
def four_wire(drop: float, forced: float) -> float:
    """A resistance from a current forced through it and the voltage across it, sensed with leads of their own.

    Lead and contact resistance drop out as long as the sense current is negligible. Reverse the current and take the
    mean where thermal voltages matter.

    Formula: R = V / I
    Args:
        drop: at the sense leads, inside of the current leads (V, -1000 to 1000)
        forced: current (A, above 0 to 1000)
    Gives:
        resistance: between the sense leads (ohm)
    Source: low-resistance metering notes; W. Thomson 1861 (confirmed)

    >>> round(four_wire(0.1, 1.0), 4)
    0.1
    """
    return drop / forced


@dataclass(frozen=True)
class Shunt:
    """A current by a shunt, in the units of its page."""

    current: float
    error: float
    reads_times: float


@formula
def shunt_current(
    drop: float,
    shunt: float,
    tolerance: float = 0.0,
    accuracy: float = 0.0,
    offset: float = 0.0,
    tempco: float = 0.0,
    warming: float = 0.0,
    solder: float = 0.0,
) -> Shunt:
    """The current through a shunt, and how far off that is at worst.

    A copper trace as a shunt has a temperature coefficient of 0.00393 /K: 15.72 % over 40 K. Solder between the sense
    points and the element counts as element; the current here is corrected for it.

    Formula: I = V / (R + 2 Rs); worst error = tolerance + accuracy + offset / V + tempco dT; reads (R + 2 Rs) / R times
    Args:
        drop: across it (V, above 0 to 1000)
        shunt: resistance (ohm, above 0 to 1e6)
        tolerance: of the shunt, as '1 %' (share, 0 to 1)
        accuracy: of the meter, as '0.5 %' (share, 0 to 1)
        offset: of the meter, in counts or by its specification (V, 0 to 1000)
        tempco: of the shunt; copper 0.393 %/K (1/K, 0 to 0.01)
        warming: of the shunt above the temperature of its value (K, 0 to 200)
        solder: inside each sense point (ohm, 0 to 1)
    Gives:
        current: through it (A)
        error: of the current at worst, relative (share)
        reads_times: the true current, if the solder is not taken into account (1)
    Source: circuit theory (derived); copper: IEC 60028:1925 (confirmed)

    >>> round(shunt_current(50e-3, 50e-3, 0.01, 0.005, 0.2e-3).error, 4)
    0.019
    """
    whole = shunt + 2.0 * solder
    return Shunt(drop / whole, tolerance + accuracy + offset / drop + tempco * warming, whole / shunt)


# ---- junctions ----------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Thermal:
    """What temperature makes of a junction, in the units of its page."""

    voltage: float
    decade: float


@formula
def thermal_voltage(temperature: float) -> Thermal:
    """The thermal voltage of a junction, and by how much its drop rises for ten times the current.

    An ideal junction (n = 1). Its drop falls by about 2 mV/K at constant current (from memory).

    Formula: VT = k T / q; VT ln 10 for a decade
    Args:
        temperature: of the junction (degC, -200 to 300)
    Gives:
        voltage: VT (V)
        decade: rise of the drop for ten times the current (V)
    Source: k and q exact, CODATA 2018 (derived)

    >>> round(thermal_voltage(25.0).voltage * 1e3, 3)
    25.693
    """
    voltage = BOLTZMANN * (temperature + ICE) / ELEMENTARY_CHARGE
    return Thermal(voltage, voltage * math.log(10.0))


@dataclass(frozen=True)
class Series:
    """A resistor in series with an LED, in the units of its page."""

    resistor: float
    power: float


@formula
def led_resistor(supply: float, forward: float, current: float) -> Series:
    """The resistor in series with an LED.

    Formula: R = (V - VF) / I; P = (V - VF) I
    Args:
        supply: voltage (V, above 0 to 1000)
        forward: drop of the LED, of several in series their sum (V, above 0 to 1000)
        current: through it (A, above 0 to 100)
    Gives:
        resistor: in series (ohm)
        power: that it burns (W)
    Source: circuit theory (derived)

    >>> round(led_resistor(5.0, 2.0, 0.010).resistor, 4)
    300.0
    """
    if forward >= supply:
        raise RangeError(f"led-resistor: forward is {forward:g} V; valid is below the supply, {supply:g} V.")
    return Series((supply - forward) / current, (supply - forward) * current)


@dataclass(frozen=True)
class JunctionDrop:
    """What a junction may read."""

    drop: str
    source: str


@formula
def diode_mode(path: str) -> tuple[JunctionDrop, ...]:
    """What a junction reads in diode mode.

    A meter drives about 1 mA or less from 2 to 3 V. Compare with a known-good board first: the figures are no limits.
    0.000 V is a short, OL open or above the meter's source.

    Formula: a table
    Args:
        path: from probe to probe (one of silicon, schottky, IC pin, core rail, MOSFET, LED)
    Gives:
        drop: forward (text)
        source: and how well that is known (text)
    Source: as named in each row

    >>> diode_mode("schottky")[1].drop
    'at most 0.32 V: BAT54 at 1 mA'
    """
    return tuple(
        JunctionDrop(f"{row['drop']}: {row['when']}", f"{row['source']} ({row['status']})")
        for row in table("diode_drops")
        if row["path"] == path
    )
