"""When a wire or a trace melts: steady by Preece, within seconds by Onderdonk."""

from __future__ import annotations

import math

from knowngood.handbook.copper.conducting import MIL, area_of, mils
from knowngood.handbook.formula import formula

MELTING = 1083.0
"""Melting point in degC as Onderdonk's equation has it."""

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
    return float(PREECE[metal] * (wire / (1e3 * MIL)) ** 1.5)


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
