"""How long before that capacitor is safe, what drains it, and what the standards call safe to touch."""

from __future__ import annotations

import math

from knowngood.errors import RangeError
from knowngood.handbook.formula import formula


@formula
def energy(capacitance: float, voltage: float) -> float:
    """The energy that a charged capacitor holds.

    Formula: E = C V^2 / 2
    Args:
        capacitance: of the capacitor (F, above 0 to 100)
        voltage: across it (V, 0 to 1e6)
    Gives:
        energy: that ends in whatever discharges it (J)
    Source: circuit theory
    Caution: Measure it before hands go near, and again after a minute; a bleed resistor may have failed.

    >>> round(energy(470e-6, 325.0), 4)
    24.8219
    """
    return capacitance * voltage**2 / 2.0


@formula
def discharge_time(capacitance: float, resistor: float, voltage: float, safe: float = 60.0) -> float:
    """How long a charged capacitor takes to fall to a voltage, through a resistor.

    Formula: t = R C ln(V0 / V1)
    Args:
        capacitance: of the capacitor (F, above 0 to 100)
        resistor: that drains it (ohm, above 0 to 1e12)
        voltage: at the start (V, above 0 to 1e6)
        safe: the voltage to fall to; 60 V d.c. is the limit of energy source class 1 (V, above 0 to 1e6)
    Gives:
        time: until it has fallen (s)
    Source: circuit theory; 60 V d.c.: IEC 62368-1:2018, 5.2.2.2, table 4 (second-hand)
    Caution: Measure it before hands go near, and again after a minute; a bleed resistor may have failed.

    >>> round(discharge_time(470e-6, 1000.0, 325.0), 5)
    0.79406
    """
    if safe > voltage:
        raise RangeError(f"discharge-time: it starts at {voltage:g} V, already below {safe:g} V.")
    return resistor * capacitance * math.log(voltage / safe)
