"""How long before that capacitor is safe, what drains it, and what do the standards call safe to touch?"""

from __future__ import annotations

import math
from dataclasses import dataclass

from knowngood.errors import RangeError
from knowngood.handbook.formula import formula
from knowngood.handbook.table import table


@dataclass(frozen=True)
class Stored:
    """What a capacitor holds, in the units of its page."""

    energy: float
    charge: float


@formula
def energy(capacitance: float, voltage: float) -> Stored:
    """What a charged capacitor holds.

    Formula: E = C V^2 / 2; Q = C V
    Args:
        capacitance: of the capacitor (F, above 0 to 100)
        voltage: across it (V, 0 to 1e6)
    Gives:
        energy: that ends in whatever discharges it (J)
        charge: on it (C)
    Source: circuit theory (derived)
    Caution: Measure it before hands go near, and again after a minute; a bleed resistor may have failed.

    >>> round(energy(470e-6, 325.0).energy, 4)
    24.8219
    """
    return Stored(capacitance * voltage**2 / 2.0, capacitance * voltage)


@formula
def discharge_time(capacitance: float, resistor: float, voltage: float, safe: float = 60.0) -> float:
    """How long until a charged capacitor is safe: its fall to a voltage, through a resistor.

    By the figures only: the resistor may be open and the capacitor larger than marked, and dielectric absorption brings
    back a few per cent after a discharge (common practice, no source).

    Formula: t = R C ln(V0 / V1)
    Args:
        capacitance: of the capacitor (F, above 0 to 100)
        resistor: that drains it (ohm, above 0 to 1e12)
        voltage: at the start (V, above 0 to 1e6)
        safe: the voltage to fall to; 60 V d.c. is the limit of energy source class 1 (V, above 0 to 1e6)
    Gives:
        time: until it has fallen (s)
    Source: circuit theory (derived); 60 V d.c.: IEC 62368-1:2018, 5.2.2.2, table 4 (from memory)
    Caution: Measure it before hands go near, and again after a minute; a bleed resistor may have failed.

    >>> round(discharge_time(470e-6, 1000.0, 325.0), 5)
    0.79406
    """
    if safe > voltage:
        raise RangeError(f"discharge-time: it starts at {voltage:g} V, already below {safe:g} V.")
    return resistor * capacitance * math.log(voltage / safe)


@dataclass(frozen=True)
class Left:
    """What is left on a capacitor, in the units of its page."""

    left: float
    share: float


@formula
def voltage_left(capacitance: float, resistor: float, voltage: float, time: float) -> Left:
    """What voltage is left on a capacitor after some time, through a resistor.

    Formula: V = V0 e^(-t / (R C)); 0.674 % is left after 5 R C
    Args:
        capacitance: of the capacitor (F, above 0 to 100)
        resistor: that drains it (ohm, above 0 to 1e12)
        voltage: at the start (V, above 0 to 1e6)
        time: since then (s, 0 to 1e9)
    Gives:
        left: voltage across it (V)
        share: of what it was (share)
    Source: circuit theory (derived)
    Caution: Measure it before hands go near, and again after a minute; a bleed resistor may have failed.

    >>> round(voltage_left(0.33e-6, 1e6, 325.27, 1.0).left, 3)
    15.711
    """
    share = math.exp(-time / (resistor * capacitance))
    return Left(voltage * share, share)


@dataclass(frozen=True)
class Drain:
    """A resistor that drains in time, in the units of its page."""

    resistor: float
    current: float
    power: float


@formula
def bleed_resistor(capacitance: float, voltage: float, time: float, safe: float = 60.0) -> Drain:
    """The largest resistor that drains a capacitor in time, and what the resistor must stand.

    For one that stays across it: its power is what it burns for as long as the supply is on. Its own voltage rating
    counts too; small chips stand less than a mains peak, so that two stand in series (common practice, no source).

    Formula: R = t / (C ln(V0 / V1)); I = V0 / R; P = V0^2 / R
    Args:
        capacitance: of the capacitor with its tolerance (F, above 0 to 100)
        voltage: at the start, the highest there is (V, above 0 to 1e6)
        time: in which it must have fallen (s, above 0 to 1e9)
        safe: the voltage to fall to; 60 V d.c. is the limit of energy source class 1 (V, above 0 to 1e6)
    Gives:
        resistor: at most, with its tolerance (ohm)
        current: at the start (A)
        power: at the start, and all the time if the voltage stays (W)
    Source: circuit theory (derived); 60 V d.c.: IEC 62368-1:2018, 5.2.2.2, table 4 (from memory)
    Caution: Measure it before hands go near, and again after a minute; a bleed resistor may have failed.

    >>> round(bleed_resistor(1.32e-6, 360.0, 0.75).resistor)
    317108
    """
    if safe >= voltage:
        raise RangeError(f"bleed-resistor: it starts at {voltage:g} V, not above {safe:g} V.")
    resistor = time / (capacitance * math.log(voltage / safe))
    return Drain(resistor, voltage / resistor, voltage**2 / resistor)


@dataclass(frozen=True)
class Pulse:
    """What a discharge does to its resistor, in the units of its page."""

    current: float
    peak: float
    mean: float
    heat: float


@formula
def discharge_pulse(capacitance: float, resistor: float, voltage: float) -> Pulse:
    """What a discharge does to the resistor: check it against the pulse that the resistor stands.

    Use a resistor sized for the pulse, never a blade (common practice, no source).

    Formula: I0 = V0 / R; P0 = V0^2 / R; mean over the first R C = E (1 - e^-2) / (R C)
    Args:
        capacitance: of the capacitor (F, above 0 to 100)
        resistor: that drains it (ohm, above 0 to 1e12)
        voltage: at the start (V, above 0 to 1e6)
    Gives:
        current: at the start (A)
        peak: power at the start (W)
        mean: power over the first R C (W)
        heat: energy that ends in the resistor (J)
    Source: circuit theory (derived)
    Caution: Measure it before hands go near, and again after a minute; a bleed resistor may have failed.

    >>> round(discharge_pulse(470e-6, 1000.0, 325.0).peak, 2)
    105.62
    """
    held = capacitance * voltage**2 / 2.0
    mean = held * -math.expm1(-2.0) / (resistor * capacitance)
    return Pulse(voltage / resistor, voltage**2 / resistor, mean, held)


@formula
def bleed_power(resistor: float, mains: float) -> float:
    """What a bleed resistor across the mains burns all the time.

    Formula: P = V^2 / R
    Args:
        resistor: across the mains (ohm, above 0 to 1e12)
        mains: voltage, r.m.s. (V, above 0 to 1000)
    Gives:
        power: that it burns (W)
    Source: circuit theory (derived)
    Caution: Mains voltage kills. Unplug, then measure; local rules and licensed practice come first.

    >>> round(bleed_power(1e6, 230.0) * 1e3, 3)
    52.9
    """
    return mains**2 / resistor


@formula
def mains_peak(mains: float) -> float:
    """The peak of a mains voltage: what a capacitor behind a rectifier is charged to.

    Behind a voltage doubler it is twice that; behind an active power factor stage usually 380 to 400 V (common
    practice, no source).

    Formula: V = sqrt(2) Vrms
    Args:
        mains: voltage, r.m.s. (V, above 0 to 1000)
    Gives:
        peak: of the sine (V)
    Source: circuit theory (derived)
    Caution: Mains voltage kills. Unplug, then measure; local rules and licensed practice come first.

    >>> round(mains_peak(230.0), 2)
    325.27
    """
    return math.sqrt(2.0) * mains


@formula
def touch_current(capacitance: float, mains: float, frequency: float = 50.0) -> float:
    """The current that a capacitor from the mains lets through to what is touched: the tingle of a class II case.

    Formula: I = 2 pi f C V
    Args:
        capacitance: from the mains to the case; of several, their sum (F, above 0 to 1e-3)
        mains: voltage, r.m.s. (V, above 0 to 1000)
        frequency: of the mains (Hz, above 0 to 1000)
    Gives:
        current: r.m.s. (A)
    Source: circuit theory (derived)
    Caution: Mains voltage kills. A capacitor there fails dangerously unless it is a safety capacitor (class Y). Local
        rules and licensed practice come first.

    >>> round(touch_current(2.2e-9, 230.0) * 1e3, 5)
    0.15896
    """
    return 2.0 * math.pi * frequency * capacitance * mains


@formula
def capacitance_for_charge(charge: float, voltage: float) -> float:
    """The capacitance that holds a charge at a voltage.

    The household limits of 45 uC and 0.1 uF meet at 450 V.

    Formula: C = Q / V
    Args:
        charge: on it (C, above 0 to 1e6)
        voltage: across it (V, above 0 to 1e6)
    Gives:
        capacitance: that holds it (F)
    Source: circuit theory (derived); 45 uC: IEC 60335-1, 8.1.4 (confirmed)
    Caution: Measure it before hands go near, and again after a minute; a bleed resistor may have failed.

    >>> round(capacitance_for_charge(45e-6, 450.0) * 1e6, 4)
    0.1
    """
    return charge / voltage


@dataclass(frozen=True)
class PlugPins:
    """What the pins of a plug hold by one rule, in the units of its page."""

    left: float
    rule: str
    verdict: str


@formula
def plug_pins(capacitance: float, resistor: float, mains: float) -> tuple[PlugPins, ...]:
    """What is left on the pins of a plug after it is pulled at the peak, against the rules for it.

    Take the capacitance and the resistor with their tolerances. A rule that is known from memory only gets no verdict.

    Formula: V = sqrt(2) Vrms e^(-t / (R C))
    Args:
        capacitance: across the mains, all of it (F, above 0 to 1e-3)
        resistor: across it, all of it in parallel (ohm, above 0 to 1e12)
        mains: voltage, r.m.s. (V, above 0 to 1000)
    Gives:
        left: between the pins (V)
        rule: that is asked (text)
        verdict: by the figures (text)
    Source: circuit theory (derived); the rules as named in each
    Caution: Measure it before hands go near, and again after a minute; a bleed resistor may have failed.

    >>> [round(one.left, 3) for one in plug_pins(0.33e-6, 1e6, 230.0)[:2]]
    [15.711, 15.711]
    """
    peak = mains_peak(mains)
    found = []
    for rule, time, share, most in PLUG_RULES:
        left = peak * math.exp(-time / (resistor * capacitance))
        limit = share * peak if share else most
        verdict = "kept" if left <= limit else "broken"
        if "0.1 uF" in rule and capacitance <= 0.1e-6:
            verdict = "none: not above 0.1 uF"
        if "from memory" in rule:
            verdict = "none: the rule is from memory"
        found.append(PlugPins(left, rule, verdict))
    return tuple(found)


PLUG_RULES = (
    ("household, 1 s: at most 34 V, for more than 0.1 uF; IEC 60335-1, 22.5 (confirmed)", 1.0, 0.0, 34.0),
    ("old IT, 1 s: at most 37 %; IEC 60950-1, 2.1.1.7 (second-hand)", 1.0, 1.0 / math.e, 0.0),
    ("audio, video, IT, 2 s: at class 1, 60 V; IEC 62368-1:2018, 5.5.2.2 (from memory)", 2.0, 0.0, 60.0),
    ("laboratory, 5 s: below 60 V; IEC 61010-1, 6.10.3 (confirmed)", 5.0, 0.0, 60.0),
)
"""Rules for plug pins: in words, s after unplugging, the share of the peak that may be left or else the voltage."""


@dataclass(frozen=True)
class TouchLimit:
    """A limit of a standard."""

    limit: str
    source: str


@formula
def touch_limits(about: str) -> tuple[TouchLimit, ...]:
    """What the standards call safe to touch, each with how well it is known.

    Figures from memory are shown and judge nothing. Compare with the standard in force before you rely on one.

    Formula: a table
    Args:
        about: what (one of energy class, charged capacitor, extra-low voltage, plug pins, protective impedance, touch
            current)
    Gives:
        limit: and when it holds (text)
        source: and how well that is known (text)
    Source: as named in each row
    Caution: A limit is no measurement: measure it before hands go near. Local rules and licensed practice come first.

    >>> touch_limits("plug pins")[0].limit
    '34 V: household, 1 s after unplugging at the peak, rated capacitance above 0.1 uF'
    """
    return tuple(
        TouchLimit(f"{row['limit']}: {row['when']}", f"{row['source']} ({row['status']})")
        for row in table("touch_limits")
        if row["about"] == about
    )
