"""USB-C configuration contacts: from a voltage, a current or a resistor to the current that is advertised."""

from __future__ import annotations

from dataclasses import dataclass

from knowngood.handbook.formula import formula
from knowngood.handbook.table import table

NO_SOURCE = 0.15
"""Below it nothing is attached that offers a current (V): lower edge of the first threshold, ST UM2191, table 2."""

MEANS = {
    "default USB": "500 mA, or 900 mA with USB 3: all that the port's own USB allows",
    "1.5 A": "up to 1.5 A at 5 V",
    "3 A": "up to 3 A at 5 V",
    "no source": "nothing attached, the plug turned the other way, or the source gives no pull-up",
}


@dataclass(frozen=True)
class Advertised:
    """What a contact says."""

    reading: str
    means: str


def _windows(kind: str) -> list[tuple[str, float, float]]:
    return [(row["current"], float(row["low"]), float(row["high"])) for row in table("usb_c") if row["kind"] == kind]


@formula
def contact(contact: float, error: float = 0.0) -> Advertised:
    """What current a USB-C source advertises, from the voltage on the sink's configuration contact (CC).

    Measured at the sink, with its 5.1 kohm in place. Between two windows neither holds: indeterminate. Above 2.04 V
    (from memory) it is out of range, so nothing is read from it. The other contact of the receptacle reads nothing, or
    a powered cable's 800 to 1200 ohm (from memory).

    Formula: below 0.15 V none; 0.25 to 0.61 V default; 0.70 to 1.16 V 1.5 A; from 1.31 V 3 A
    Args:
        contact: voltage on the CC pin (V, 0 to 6)
        error: limit of the meter's error (V, 0 to 1)
    Gives:
        reading: what is advertised (text)
        means: in words (text)
    Source: ST UM2191, table 2; TI TPS65987/88 data sheet

    >>> contact(0.94).reading
    '1.5 A'
    """
    low, high = contact - error, contact + error
    windows = [("no source", -1.0, NO_SOURCE), *_windows("contact")]
    if high > windows[-1][2]:
        return Advertised(
            "indeterminate", "above 2.04 V (from memory) it is out of range: is the sink's 5.1 kohm there?"
        )
    below = [name for name, lowest, _ in windows if lowest <= low][-1]
    above = next(name for name, _, highest in windows if high <= highest)
    if below == above:
        return Advertised(below, MEANS[below])
    return Advertised("indeterminate", f"between {below} and {above}: measure again, or measure the resistors")


@dataclass(frozen=True)
class Contact:
    """A contact's voltage (V) and what it says."""

    contact: float
    reading: str


@formula
def contact_divider(bus: float, pull_up: float, pull_down: float = 5100.0) -> Contact:
    """The voltage on a USB-C contact from the source's pull-up and the sink's pull-down.

    The 5.1 kohm must sit on BOTH contacts of a sink's receptacle, each its own: shared, a marked cable is not told from
    a sink.

    Formula: V = Vbus Rd / (Rp + Rd)
    Args:
        bus: that the pull-up goes to (V, 0 to 6)
        pull_up: of the source or in the cable, Rp (ohm, above 0 to 1e7)
        pull_down: of the sink, Rd (ohm, above 0 to 1e7)
    Gives:
        contact: voltage on the CC pin (V)
        reading: that a sink takes from it (text)
    Source: circuit theory; ST UM2191, table 2

    >>> round(contact_divider(5.0, 56e3).contact, 5)
    0.41735
    """
    voltage = bus * pull_down / (pull_up + pull_down)
    return Contact(voltage, contact(voltage).reading)


@dataclass(frozen=True)
class FromCurrent:
    """A contact's voltage from a current source (V), and what the current advertises."""

    lowest: float
    contact: float
    highest: float
    reading: str


@formula
def contact_source(source_current: float, tolerance: float = 0.0, pull_down: float = 5100.0) -> FromCurrent:
    """The voltage on a USB-C contact from a source's current, and what such a current advertises.

    Formula: V = I (1 -/+ p) Rd; 64 to 96 uA default, 165.6 to 194.4 uA 1.5 A, 303.6 to 356.4 uA 3 A
    Args:
        source_current: out of the source's CC pin (A, 0 to 0.01)
        tolerance: of the current, as "8 %" (1, 0 to 1)
        pull_down: of the sink, Rd (ohm, above 0 to 1e7)
    Gives:
        lowest: voltage on the CC pin (V)
        contact: the nominal voltage (V)
        highest: voltage on the CC pin (V)
        reading: that the current stands for (text)
    Source: ST UM2191, table 2; TI TPS65987/88 data sheet

    >>> round(contact_source(180e-6, 0.08).lowest, 5)
    0.84456
    """
    voltage = source_current * pull_down
    reading = _one(source_current, "source")
    return FromCurrent(voltage * (1.0 - tolerance), voltage, voltage * (1.0 + tolerance), reading)


def _one(value: float, kind: str) -> str:
    fits = [name for name, lowest, highest in _windows(kind) if lowest <= value <= highest]
    return fits[0] if fits else "indeterminate: in no window"


@dataclass(frozen=True)
class Resistor:
    """What a resistor at a contact says."""

    reading: str
    means: str


@formula
def contact_resistor(place: str, resistance: float) -> Resistor:
    """Whether a resistor on a USB-C contact is right, and what it advertises.

    Measured with the power off and nothing plugged in. A legacy cable (USB-A to USB-C) must have 56 kohm whatever its
    rating: less lets the sink take more than an old port may give.

    Formula: table; between windows indeterminate
    Args:
        place: rd on a sink's CC pin, rp on a source's and what it goes to, or in a legacy cable (one of rd, rp-to-5v,
            rp-to-3v3, legacy-cable)
        resistance: as measured (ohm, 0 to 1e9)
    Gives:
        reading: of the resistor (text)
        means: in words (text)
    Source: ST UM2191, table 2; TI TPS65987/88 data sheet

    >>> contact_resistor("rp-to-5v", 22e3).reading
    '1.5 A'
    """
    found = _one(resistance, place)
    if place in ("rd", "legacy-cable"):
        ((_, lowest, highest),) = _windows(place)
        span = f"{lowest / 1e3:g} to {highest / 1e3:g} kohm"
        return Resistor("good", f"within {span}") if found == "good" else Resistor("wrong", f"it must be {span}")
    return Resistor(found, MEANS.get(found, "between the windows, or beyond them all"))
