"""USB: unit loads, and what a cable takes."""

from __future__ import annotations

import math
from dataclasses import dataclass

from knowngood.errors import RangeError
from knowngood.handbook.formula import formula

UNIT_LOAD = 0.1
"""A unit load of USB 2.0 (A): USB 2.0 specification (second-hand)."""

MOST_UNITS = 5
"""Unit loads that a device may take: USB 2.0 specification (second-hand)."""


@dataclass(frozen=True)
class Load:
    """A load in unit loads."""

    units: int
    verdict: str


@formula
def usb_load(load: float) -> Load:
    """How many unit loads of USB 2.0 a device takes, and whether it may.

    Formula: n = load / 100 mA, rounded up; at most five
    Args:
        load: current that the device takes (A, 0 to 100)
    Gives:
        units: unit loads (1)
        verdict: on the load (text)
    Source: USB 2.0 specification (second-hand)

    >>> usb_load(0.5).units
    5
    """
    units = math.ceil(round(load / UNIT_LOAD, 9))
    return Load(units, "within" if units <= MOST_UNITS else "over 500 mA")


@dataclass(frozen=True)
class Drop:
    """What a cable leaves (V)."""

    drop: float
    left: float


@formula
def cable_drop(bus: float, current: float, loop: float) -> Drop:
    """What a cable takes from a voltage at a load.

    Formula: dV = I R
    Args:
        bus: voltage at the source's end (V, 0 to 100)
        current: through the cable (A, 0 to 100)
        loop: resistance there and back, plugs included (ohm, 0 to 1000)
    Gives:
        drop: lost on the way (V)
        left: at the far end (V)
    Source: Ohm's law

    >>> round(cable_drop(5.0, 3.0, 0.15).left, 3)
    4.55
    """
    if current * loop > bus:
        raise RangeError(
            f"cable-drop: {current:g} A through {loop:g} ohm would take more than the {bus:g} V there are."
        )
    return Drop(current * loop, bus - current * loop)
