"""The resistance of copper: wire, foil, trace and plated hole."""

from __future__ import annotations

import math
from dataclasses import dataclass

from knowngood.errors import RangeError
from knowngood.handbook import gauge
from knowngood.handbook.formula import formula

RESISTIVITY = 1e-6 / 58.0
"""Of annealed copper at 20 degC, ohm m: 1/58 ohm mm^2/m (IEC 60028:1925; NBS Handbook 100 (1966), 1.1)."""

COEFFICIENT = 0.00393
"""Of its resistance at 20 degC and constant mass, 1/K (IEC 60028:1925)."""

MIL = 25.4e-6
"""In m."""


@dataclass(frozen=True)
class Copper:
    """Copper at a temperature, in the units of its page."""

    resistivity: float
    ratio: float
    coefficient: float


@formula
def copper_at(temperature: float) -> Copper:
    """How well copper conducts at a temperature.

    Annealed copper of 100 % IACS. Notes that take 1.7e-8 ohm m at 25 degC read 3.3 % low.

    Formula: rho = rho20 (1 + a20 (T - 20)); a = a20 / (1 + a20 (T - 20)); rho20 = 1/58 ohm mm^2/m; a20 = 0.00393 /K
    Args:
        temperature: of the copper; the straight line is kept to this range by common practice, no source
            (degC, -50 to 150)
    Gives:
        resistivity: at that temperature (ohm m)
        ratio: of its resistance to that at 20 degC (1)
        coefficient: by which its resistance rises from there (1/K)
    Source: IEC 60028:1925 (confirmed)

    >>> round(copper_at(60.0).ratio, 5)
    1.1572
    """
    ratio = 1.0 + COEFFICIENT * (temperature - 20.0)
    return Copper(RESISTIVITY * ratio, ratio, COEFFICIENT / ratio)


@dataclass(frozen=True)
class Wire:
    """A round wire, in the units of its page."""

    size: str
    number: float
    diameter: float
    area: float
    per_metre: float


@formula
def wire_size(wire: float, temperature: float = 20.0) -> Wire:
    """The gauge, diameter, cross-section and resistance of a round copper wire.

    The American standard rounds diameters of 10 mil and below to 0.1 mil (from memory), so that tables built on what it
    prints differ by up to 3 % in resistance.

    Formula: d = 0.127 mm 92^((36 - n) / 39); A = pi d^2 / 4; R = rho / A
    Args:
        wire: bare diameter, or gauge as 'AWG 30' (m, 5e-6 to 0.012)
        temperature: of the copper (degC, -50 to 150)
    Gives:
        size: nearest whole gauge (text)
        number: gauge as a rule between two whole ones (1)
        diameter: of the bare copper (m)
        area: cross-section (m^2)
        per_metre: resistance (ohm/m)
    Source: ASTM B258-02, NBS Handbook 100 (1966); copper: IEC 60028:1925 (confirmed)

    >>> round(wire_size(0.1e-3).per_metre, 5)
    2.19524
    """
    number = gauge.number(wire)
    return Wire(
        gauge.written(round(number)), number, wire, area_of(wire), copper_at(temperature).resistivity / area_of(wire)
    )


@formula
def wire_resistance(wire: float, length: float, temperature: float = 20.0) -> float:
    """The resistance of a length of round copper wire.

    Formula: R = rho L / A; A = pi d^2 / 4
    Args:
        wire: bare diameter, or gauge as 'AWG 30' (m, 5e-6 to 0.012)
        length: of the wire; there and back is twice the way (m, above 0 to 1e5)
        temperature: of the copper (degC, -50 to 150)
    Gives:
        resistance: end to end (ohm)
    Source: IEC 60028:1925; ASTM B258-02 (confirmed)

    >>> round(wire_resistance(0.127e-3, 0.030), 6)
    0.040832
    """
    return copper_at(temperature).resistivity * length / area_of(wire)


@dataclass(frozen=True)
class Thickness:
    """A foil's thickness by one way to reckon it."""

    thickness: float
    by: str


@formula
def foil_thickness(foil: float) -> tuple[Thickness, ...]:
    """How thick a copper foil of a given weight is, about.

    Weight does not fix thickness: electrodeposited foil is less dense than rolled copper, plated outer layers end
    thicker and etched inner layers thinner. Measure it, or take a trace result as good to 10 or 20 %.

    Formula: t = weight / density; density 8.93 g/cm^3
    Args:
        foil: weight to the area; 1 oz is one ounce to the square foot (kg/m^2, above 0 to 4)
    Gives:
        thickness: of the foil (m)
        by: how it is reckoned (text)
    Source: IPC-4562, 1 oz is 34.1 um; 35 um is the design figure (confirmed)

    >>> [round(one.thickness * 1e6, 2) for one in foil_thickness(0.305152)]
    [34.17, 35.0]
    """
    ounces = foil / 0.305152
    return Thickness(foil / 8930.0, "weight by density"), Thickness(ounces * 35e-6, "design figure, 35 um to the ounce")


@formula
def sheet_resistance(thickness: float, temperature: float = 20.0) -> float:
    """The resistance of a square of copper foil, of any size.

    Formula: Rs = rho / t
    Args:
        thickness: of the foil; 1 oz is about 35 um (m, above 0 to 1e-3)
        temperature: of the copper (degC, -50 to 150)
    Gives:
        square: resistance from edge to edge of a square (ohm)
    Source: IEC 60028:1925 (confirmed)

    >>> round(sheet_resistance(35e-6) * 1e3, 5)
    0.49261
    """
    return copper_at(temperature).resistivity / thickness


@dataclass(frozen=True)
class Trace:
    """A trace's resistance, in the units of its page."""

    resistance: float
    squares: float


@formula
def trace_resistance(width: float, length: float, thickness: float = 35e-6, temperature: float = 20.0) -> Trace:
    """The resistance of a trace.

    The thickness is the weak point: foil of 1 oz is 34 or 35 um, plated outer layers end thicker, etched inner ones
    thinner.

    Formula: R = Rs L / W; Rs = rho / t
    Args:
        width: of the trace (m, above 0 to 1)
        length: of the trace (m, above 0 to 100)
        thickness: of the copper; 1 oz is about 35 um (m, above 0 to 1e-3)
        temperature: of the copper (degC, -50 to 150)
    Gives:
        resistance: end to end (ohm)
        squares: length over width (1)
    Source: IEC 60028:1925 (confirmed)

    >>> round(trace_resistance(1e-3, 0.100).resistance * 1e3, 3)
    49.261
    """
    squares = length / width
    return Trace(sheet_resistance(thickness, temperature) * squares, squares)


@dataclass(frozen=True)
class Drop:
    """What a current leaves on a trace, in the units of its page."""

    voltage: float
    power: float


@formula
def trace_drop(
    width: float, length: float, current: float, thickness: float = 35e-6, temperature: float = 20.0
) -> Drop:
    """The voltage that a current drops along a trace, and the heat it makes there.

    Formula: V = I R; P = I^2 R; R = Rs L / W
    Args:
        width: of the trace (m, above 0 to 1)
        length: of the trace (m, above 0 to 100)
        current: through it (A, 0 to 1000)
        thickness: of the copper; 1 oz is about 35 um (m, above 0 to 1e-3)
        temperature: of the copper (degC, -50 to 150)
    Gives:
        voltage: from end to end (V)
        power: that heats it (W)
    Source: IEC 60028:1925 (confirmed)

    >>> round(trace_drop(1e-3, 0.100, 2.0).voltage * 1e3, 3)
    98.522
    """
    resistance = trace_resistance(width, length, thickness, temperature).resistance
    return Drop(current * resistance, current**2 * resistance)


@formula
def via_resistance(hole: float, plating: float, depth: float, temperature: float = 20.0) -> float:
    """The resistance of a plated hole.

    Formula: R = rho L / A; A = pi / 4 (d^2 - (d - 2 t)^2)
    Args:
        hole: diameter as drilled; the plating lies inside it (m, above 0 to 0.01)
        plating: thickness (m, above 0 to 1e-3)
        depth: thickness of the board (m, above 0 to 0.01)
        temperature: of the copper (degC, -50 to 150)
    Gives:
        resistance: from side to side (ohm)
    Source: IEC 60028:1925 (confirmed)

    >>> round(via_resistance(0.3e-3, 25e-6, 1.6e-3) * 1e3, 4)
    1.2772
    """
    if 2.0 * plating > hole:
        raise RangeError(f"via-resistance: plating is {plating:g} m; valid is up to half the hole, {hole / 2:g} m.")
    area = area_of(hole) - area_of(hole - 2.0 * plating)
    return copper_at(temperature).resistivity * depth / area


def area_of(diameter: float) -> float:
    """Cross-section of a round wire, m^2."""
    return math.pi * diameter**2 / 4.0


def diameter_of(area: float) -> float:
    """Diameter in m of a round wire with a cross-section in m^2."""
    return math.sqrt(4.0 * area / math.pi)


def mils(area: float) -> float:
    """An area of so many m^2 in square mils."""
    return area / MIL**2
