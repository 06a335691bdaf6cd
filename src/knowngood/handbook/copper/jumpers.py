"""What wire replaces a trace."""

from __future__ import annotations

from dataclasses import dataclass

from knowngood.errors import RangeError
from knowngood.handbook import gauge
from knowngood.handbook.copper.conducting import MIL, diameter_of, trace_resistance, wire_resistance
from knowngood.handbook.copper.fusing import PREECE, fusing_current
from knowngood.handbook.formula import formula


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
        raise RangeError(
            f"jumper: by {by} it takes {diameter * 1e3:.3g} mm, thicker than AWG 4/0; use a bar or several."
        )
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
