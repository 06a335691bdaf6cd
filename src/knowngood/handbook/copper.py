"""What resistance has this wire or trace, how warm does it get, when does it melt, what wire replaces this trace?

A wire is given by its diameter or its gauge ("0.1 mm", "AWG 36"), always of the bare copper: enamel and insulation come
on top. Foil is given by its thickness; its weight does not fix that.
"""

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

MELTING = 1083.0
"""Melting point in degC as Onderdonk's equation has it."""

MIL = 25.4e-6
"""In m."""

FIT = {"external": 0.048, "internal": 0.024}
"""Factor k of the fit to the charts of IPC-2221A (2003), 6.2, figure 6-4 (second-hand). The internal one was set to half
of the external one without data of its own (from memory)."""

FIT_UP_TO = {"external": 35.0, "internal": 17.5}
"""Current in A up to which that fit holds (second-hand)."""

FIT_WIDEST = 400.0 * MIL
"""Width up to which it holds (second-hand)."""

FIT_HOTTEST = 100.0
"""Rise in K up to which it holds (second-hand)."""

PREECE = {
    "copper": 10244.0,
    "aluminium": 7585.0,
    "iron": 3148.0,
    "tin": 1642.0,
    "lead": 1379.0,
    "tin-lead": 1318.0,
}
"""Factor of Preece's law for a diameter in inches (W. H. Preece, Proc. Royal Society 1884-88; Ness Engineering
fusing-current table)."""


# ---- resistance ---------------------------------------------------------------------------------------------------


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
    return Wire(gauge.written(round(number)), number, wire, area_of(wire), copper_at(temperature).resistivity / area_of(wire))


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


# ---- temperature rise of a trace ----------------------------------------------------------------------------------


@formula
def trace_current(width: float, rise: float, thickness: float = 35e-6, layer: str = "external") -> float:
    """The current that warms a trace by so much, steady.

    A fit to charts of 1956. It knows nothing of planes, board thickness, neighbours or moving air; planes cool a trace.
    The newer tests of IPC-2152 (2009) found inner traces about as cool as outer ones (from memory); they are charts
    without a formula, and this is not one.

    Formula: I = k dT^0.44 A^0.725; A in mil^2; k = 0.048 external, 0.024 internal
    Args:
        width: of the trace (m, above 0 to 0.01016)
        rise: above the board (K, above 0 to 100)
        thickness: of the copper; 1 oz is about 35 um (m, above 0 to 1e-3)
        layer: of the board (one of external, internal)
    Gives:
        current: that does it (A)
    Source: IPC-2221A (2003), 6.2, figure 6-4, as a fit (second-hand)

    >>> round(trace_current(100 * 25.4e-6, 10.0, 1.378 * 25.4e-6), 4)
    4.7011
    """
    return _within_fit("trace-current", FIT[layer] * rise**0.44 * mils(width * thickness) ** 0.725, layer)


@formula
def trace_width(current: float, rise: float, thickness: float = 35e-6, layer: str = "external") -> float:
    """The width that a trace needs for a current at a temperature rise.

    The fit of trace-current, turned round; what is said there holds here.

    Formula: W = A / t; A = (I / (k dT^0.44))^(1/0.725); A in mil^2; k = 0.048 external, 0.024 internal
    Args:
        current: through it, steady; up to 17.5 internal (A, above 0 to 35)
        rise: above the board (K, above 0 to 100)
        thickness: of the copper; 1 oz is about 35 um (m, above 0 to 1e-3)
        layer: of the board (one of external, internal)
    Gives:
        width: that it needs (m)
    Source: IPC-2221A (2003), 6.2, figure 6-4, as a fit (second-hand)

    >>> round(trace_width(1.0, 10.0, 1.378 * 25.4e-6) * 1e3, 5)
    0.30038
    """
    area = (_within_fit("trace-width", current, layer) / (FIT[layer] * rise**0.44)) ** (1.0 / 0.725)
    width = area * MIL**2 / thickness
    if width > FIT_WIDEST:
        raise RangeError(f"trace-width: it would be {width * 1e3:.3g} mm; the fit holds up to {FIT_WIDEST * 1e3:g} mm.")
    return width


@formula
def trace_rise(width: float, current: float, thickness: float = 35e-6, layer: str = "external") -> float:
    """How much a steady current warms a trace.

    The fit of trace-current, turned round; what is said there holds here.

    Formula: dT = (I / (k A^0.725))^(1/0.44); A in mil^2; k = 0.048 external, 0.024 internal
    Args:
        width: of the trace (m, above 0 to 0.01016)
        current: through it, steady; up to 17.5 internal (A, 0 to 35)
        thickness: of the copper; 1 oz is about 35 um (m, above 0 to 1e-3)
        layer: of the board (one of external, internal)
    Gives:
        rise: above the board (K)
    Source: IPC-2221A (2003), 6.2, figure 6-4, as a fit (second-hand)

    >>> round(trace_rise(10 * 25.4e-6, 1.0, 1.378 * 25.4e-6), 3)
    13.183
    """
    carried = _within_fit("trace-rise", current, layer)
    rise = (carried / (FIT[layer] * mils(width * thickness) ** 0.725)) ** (1.0 / 0.44)
    if rise > FIT_HOTTEST:
        raise RangeError(
            f"trace-rise: {current:g} A would warm it by more than {FIT_HOTTEST:g} K, up to which the fit holds."
        )
    return rise


def _within_fit(name: str, current: float, layer: str) -> float:
    if current > FIT_UP_TO[layer]:
        raise RangeError(f"{name}: {current:.4g} A {layer}; the fit holds up to {FIT_UP_TO[layer]:g} A there.")
    return current


# ---- fusing -------------------------------------------------------------------------------------------------------


@formula
def fusing_current(wire: float, metal: str = "copper") -> float:
    """The steady current at which a straight wire in free air melts, after seconds to minutes.

    Preece's law; in a bundle, a sleeve or on a board it differs. It is where a wire dies, no current to run it at. The
    range is that of the printed table.

    Formula: I = a d^1.5; d in inches; a = 10244 for copper
    Args:
        wire: bare diameter, or gauge as 'AWG 30' (m, 0.5e-4 to 1.2e-3)
        metal: of the wire (one of copper, aluminium, iron, tin, lead, tin-lead)
    Gives:
        melts: current at which it melts (A)
    Source: W. H. Preece, Proc. Royal Society 1884-88; Ness Engineering fusing-current table (confirmed)

    >>> round(fusing_current(0.2e-3), 4)
    7.1575
    """
    return PREECE[metal] * (wire / (1e3 * MIL)) ** 1.5


@formula
def fusing_pulse(wire: float, time: float, ambient: float = 25.0) -> float:
    """The current that melts a copper wire within a short time.

    Onderdonk's equation: no heat leaves the wire, so that it holds for up to one to a few seconds (from memory). A
    widely copied example prints 178 A for 2581 circular mils, 5 s, 25 degC: it took 234 - 25 for 234 + 25; 168.9 A is
    right.

    Formula: I = A sqrt(log10((1083 - Ta) / (234 + Ta) + 1) / (33 t)); A = d^2 in circular mils
    Args:
        wire: bare diameter, or gauge as 'AWG 30' (m, 5e-6 to 0.012)
        time: until it melts (s, above 0 to 5)
        ambient: temperature before the pulse (degC, -50 to 150)
    Gives:
        melts: current that melts it in that time (A)
    Source: E. R. Stauffacher, General Electric Review 1928; Brooks and Adam, article series 2015 (confirmed)

    >>> round(fusing_pulse(0.127e-3, 1.0), 4)
    3.6574
    """
    return _onderdonk(area_of(wire), time, ambient)


@formula
def trace_fusing_pulse(width: float, time: float, thickness: float = 35e-6, ambient: float = 25.0) -> float:
    """The current that melts a trace within a short time.

    Onderdonk's equation: no heat leaves the trace; the board takes some, so that it lasts a little longer.

    Formula: I = A sqrt(log10((1083 - Ta) / (234 + Ta) + 1) / (33 t)); A = W t in circular mils
    Args:
        width: of the trace (m, above 0 to 1)
        time: until it melts (s, above 0 to 5)
        thickness: of the copper; 1 oz is about 35 um (m, above 0 to 1e-3)
        ambient: temperature before the pulse (degC, -50 to 150)
    Gives:
        melts: current that melts it in that time (A)
    Source: E. R. Stauffacher, General Electric Review 1928; Brooks and Adam, article series 2015 (confirmed)

    >>> round(trace_fusing_pulse(0.3e-3, 2.0, ambient=30.0), 4)
    2.131
    """
    return _onderdonk(width * thickness, time, ambient)


def _onderdonk(area: float, time: float, ambient: float) -> float:
    circular = mils(area) * 4.0 / math.pi
    return circular * math.sqrt(math.log10((MELTING - ambient) / (234.0 + ambient) + 1.0) / (33.0 * time))


# ---- what wire replaces this trace? -------------------------------------------------------------------------------


@dataclass(frozen=True)
class Jumper:
    """A wire in a trace's place, by one measure."""

    take: str
    by: str
    diameter: float
    resistance: float | None
    of_trace: float | None
    melts: float | None


@formula
def jumper(
    width: float,
    thickness: float = 35e-6,
    length: float | None = None,
    wire_length: float | None = None,
    current: float | None = None,
    margin: float = 5.0,
) -> tuple[Jumper, ...]:
    """What wire replaces a trace, by cross-section, by resistance and by current.

    Take the thickest of them; the finest whole gauge that is enough is named. The same cross-section is the same
    resistance for the same length; a jumper that goes a longer way wants more. The current is held against what melts
    the wire in free air. A sense line or a thermal break is meant to be thin: replace it like for like.

    Formula: A = W t; A L(wire) / L(trace); I margin = 10244 d^1.5, d in inches
    Args:
        width: of the trace (m, above 0 to 1)
        thickness: of the copper; 1 oz is about 35 um (m, above 0 to 1e-3)
        length: of the trace that is replaced (m, above 0 to 100)
        wire_length: of the wire; not given, that of the trace (m, above 0 to 100)
        current: that it carries, steady (A, above 0 to 100)
        margin: melting current over that current (common practice, no source) (1, 1 to 100)
    Gives:
        take: finest whole gauge that is enough (text)
        by: which measure (text)
        diameter: that the measure asks for, bare (m)
        resistance: of the wire that is taken, at 20 degC (ohm)
        of_trace: resistance of the trace it replaces, at 20 degC (ohm)
        melts: steady current at which the wire that is taken melts in free air (A)
    Source: IEC 60028:1925; ASTM B258-02; W. H. Preece 1884-88 (confirmed)
    Caution: A jumper in a mains or primary circuit needs insulation and distance fit for that voltage; local rules and
        licensed practice come first.

    >>> [(one.by, one.take) for one in jumper(0.25e-3, length=0.05, wire_length=0.08, current=0.5)]
    [('cross-section', 'AWG 37'), ('resistance', 'AWG 35'), ('current', 'AWG 38')]
    """
    wires = {"cross-section": diameter_of(width * thickness)}
    if length is not None and wire_length is not None:
        wires["resistance"] = diameter_of(width * thickness * wire_length / length)
    if current is not None:
        wires["current"] = (margin * current / PREECE["copper"]) ** (2.0 / 3.0) * 1e3 * MIL
    way = length if wire_length is None else wire_length
    trace = None if length is None else trace_resistance(width, length, thickness).resistance
    return tuple(_jumper(by, diameter, way, trace) for by, diameter in wires.items())


def _jumper(by: str, diameter: float, length: float | None, trace: float | None) -> Jumper:
    """The finest whole gauge of at least this diameter. Raises RangeError off the table of gauges."""
    size = gauge.at_least(diameter)
    if size < gauge.THICKEST:
        raise RangeError(f"jumper: by {by} it takes {diameter * 1e3:.3g} mm, thicker than AWG 4/0; use a bar or several.")
    taken = gauge.diameter(min(size, gauge.FINEST))
    low, high = fusing_current.page.arguments["wire"].low, fusing_current.page.arguments["wire"].high
    return Jumper(
        take=gauge.written(min(size, gauge.FINEST)),
        by=by,
        diameter=diameter,
        resistance=None if length is None else wire_resistance(taken, length),
        of_trace=trace,
        melts=fusing_current(taken) if low <= taken <= high else None,
    )


def area_of(diameter: float) -> float:
    """Cross-section of a round wire, m^2."""
    return math.pi * diameter**2 / 4.0


def diameter_of(area: float) -> float:
    """Diameter in m of a round wire with a cross-section in m^2."""
    return math.sqrt(4.0 * area / math.pi)


def mils(area: float) -> float:
    """An area of so many m^2 in square mils."""
    return area / MIL**2
