"""How warm a current makes a trace, by the fit to the charts of IPC-2221A."""

from __future__ import annotations

from knowngood.errors import RangeError
from knowngood.handbook.copper.conducting import MIL, mils
from knowngood.handbook.formula import formula

FIT = {"external": 0.048, "internal": 0.024}
"""Factor k of the fit to the charts of IPC-2221A (2003), 6.2, figure 6-4 (second-hand). The internal one was set to
half of the external one without data of its own (from memory)."""

FIT_UP_TO = {"external": 35.0, "internal": 17.5}
"""Current in A up to which that fit holds (second-hand)."""

FIT_WIDEST = 400.0 * MIL
"""Width up to which it holds (second-hand)."""

FIT_HOTTEST = 100.0
"""Rise in K up to which it holds (second-hand)."""


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
    return _within_fit("trace-current", float(FIT[layer] * rise**0.44 * mils(width * thickness) ** 0.725), layer)


@formula
def trace_width(current: float, rise: float, thickness: float = 35e-6, layer: str = "external") -> float:
    """How wide a trace must be for a current, at a temperature rise.

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
    area = float((_within_fit("trace-width", current, layer) / (FIT[layer] * rise**0.44)) ** (1.0 / 0.725))
    width = area * MIL**2 / thickness
    if width > FIT_WIDEST:
        raise RangeError(f"trace-width: it would be {width * 1e3:.3g} mm; the fit holds up to {FIT_WIDEST * 1e3:g} mm.")
    return width


@formula
def trace_rise(width: float, current: float, thickness: float = 35e-6, layer: str = "external") -> float:
    """How hot a steady current makes a trace: its rise above the board.

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
    rise = float((carried / (FIT[layer] * mils(width * thickness) ** 0.725)) ** (1.0 / 0.44))
    if rise > FIT_HOTTEST:
        raise RangeError(
            f"trace-rise: {current:g} A would warm it by more than {FIT_HOTTEST:g} K, up to which the fit holds."
        )
    return rise


def _within_fit(name: str, current: float, layer: str) -> float:
    if current > FIT_UP_TO[layer]:
        raise RangeError(f"{name}: {current:.4g} A {layer}; the fit holds up to {FIT_UP_TO[layer]:g} A there.")
    return current
