"""Voltage windows of supply rails, and a reading held to one."""

from __future__ import annotations

from dataclasses import dataclass

from knowngood.handbook.formula import formula
from knowngood.handbook.table import number, sourced, table


@dataclass(frozen=True)
class Window:
    """From lowest to highest (V)."""

    lowest: float
    highest: float


@formula
def rail_window(nominal: float, tolerance: float) -> Window:
    """The voltages between which a rail with a tolerance may lie.

    Formula: V (1 - p) to V (1 + p), the lower first for a negative rail as well
    Args:
        nominal: voltage of the rail (V, -1000 to 1000)
        tolerance: as "5 %" (1, 0 to 1)
    Gives:
        lowest: that is in tolerance (V)
        highest: that is in tolerance (V)
    Source: arithmetic

    >>> round(rail_window(12.0, 0.10).highest, 3)
    13.2
    """
    ends = sorted((nominal * (1.0 - tolerance), nominal * (1.0 + tolerance)))
    return Window(ends[0], ends[1])


@dataclass(frozen=True)
class Read:
    """A reading held to a rail's window (V)."""

    verdict: str
    lowest: float
    highest: float | None
    where: str
    source: str


@formula
def rail_reading(rail: str, voltage: float, error: float = 0.0) -> Read:
    """Whether a reading on a rail is in tolerance.

    Nearer to a limit than the meter's error it is indeterminate. Ripple is not judged: 120 mV on 12 V and 50 mV on the
    others, peak to peak at 20 MHz bandwidth, are from memory; so are 4.75 to 5.5 V for USB power delivery's 5 V.

    Formula: lowest <= V - error and V + error <= highest
    Args:
        rail: what is measured (one of atx-12v, atx-12v-peak, atx-5v, atx-3v3, atx-minus-12v, atx-5v-standby,
            atx-minus-5v, atx3-12v, atx3-12v-pcie, usb-host, usb-device, hdmi)
        voltage: as read (V, -100 to 100)
        error: limit of the meter's error (V, 0 to 10)
    Gives:
        verdict: on the reading (text)
        lowest: limit (V)
        highest: limit (V)
        where: the limits hold (text)
        source: of these limits (text)
    Source: rails table: Intel ATX12V design guide 2.0, table 2; USB 2.0, 7.2.2; HDMI 1.4b, 4.2.7; one article (ATX 3.0)
    Caution: Inside a supply are mains voltage and stored charge: measure at its plugs.

    >>> rail_reading("usb-host", 4.62).verdict
    'low'
    """
    row = next(row for row in table("rails") if row["name"] == rail)
    lowest, highest = float(row["low"]), number(row, "high")
    return Read(_verdict(voltage, error, lowest, highest), lowest, highest, row["where"], sourced(row))


def _verdict(voltage: float, error: float, lowest: float, highest: float | None) -> str:
    if voltage + error < lowest:
        return "low"
    if highest is not None and voltage - error > highest:
        return "high"
    if voltage - error < lowest or (highest is not None and voltage + error > highest):
        return "indeterminate: nearer to the limit than the meter can tell"
    return "in tolerance" if highest is not None else "not low; no upper limit with a source"
