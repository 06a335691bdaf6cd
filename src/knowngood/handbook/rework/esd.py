"""Static electricity: is the bench in order, and how hard does a discharge hit."""

from __future__ import annotations

import math
from dataclasses import dataclass

from knowngood.handbook.formula import formula


@dataclass(frozen=True)
class Checked:
    """A resistance to ground against its limits (ohm)."""

    verdict: str
    lowest: float | None
    highest: float
    source: str


_GROUND = {
    "wrist-strap": (None, 3.5e7, "ANSI/ESD S20.20-2007 and -2014, table 2"),
    "footwear-1": (None, 3.5e7, "ANSI/ESD S20.20-2007, method 1"),
    "footwear-2": (None, 1e9, "ANSI/ESD S20.20-2007, method 2: body voltage below 100 V as well"),
    "worksurface": (1e6, 1e9, "ANSI/ESD S20.20 (second-hand)"),
}


@formula
def esd_check(item: str, resistance: float) -> Checked:
    """Whether a wrist strap, footwear or worksurface leads charge away as it should.

    The strap and the footwear are measured with the person in them, to ground. A strap's cord usually has 1 Mohm in
    it, at least 0.8 Mohm (ANSI/ESD S1.1, from memory): far below that, it protects the part and not you.

    Formula: lowest <= R <= highest; below the limit where there is one end
    Args:
        item: what is measured (one of wrist-strap, footwear-1, footwear-2, worksurface)
        resistance: to ground (ohm, 0 to 1e15)
    Gives:
        verdict: on the resistance (text)
        lowest: that is allowed (ohm)
        highest: the limit (ohm)
        source: of these limits (text)
    Source: ANSI/ESD S20.20
    Caution: Take the strap off before working on anything live.

    >>> esd_check("wrist-strap", 1.1e6).verdict
    'within'
    """
    lowest, highest, source = _GROUND[item]
    beyond = resistance >= highest if lowest is None else resistance > highest
    low = lowest is not None and resistance < lowest
    return Checked("over" if beyond else "below" if low else "within", lowest, highest, source)


@formula
def esd_sensitivity(model: str, voltage: float) -> str:
    """Whether the usual bench is made for parts as sensitive as that.

    Formula: programme handles 100 V by the human body model, 200 V by the charged device model, conductors below 35 V
    Args:
        model: of the part's rating, or a conductor left isolated (one of HBM, CDM, isolated-conductor)
        voltage: that the part withstands, or that is on the conductor (V, 0 to 1e5)
    Gives:
        verdict: in words (text)
    Source: ANSI/ESD S20.20-2021, abstract

    >>> esd_sensitivity("HBM", 100.0)
    'covered'
    """
    if model == "isolated-conductor":
        return "covered" if voltage < 35.0 else "too much charge on it: ground it or keep it away"
    least = {"HBM": 100.0, "CDM": 200.0}[model]
    return "covered" if voltage >= least else f"more sensitive than the {least:g} V of a usual programme"


@dataclass(frozen=True)
class Pulse:
    """A discharge: A, J, s."""

    current: float
    energy: float
    time: float


@formula
def esd_pulse(voltage: float, body: float = 100e-12, series: float = 1500.0) -> Pulse:
    """What a charged body drives into a pin.

    The network of the human body model; a system's test gun (IEC 61000-4-2) has 150 pF through 330 ohm. The part's own
    impedance is left out.

    Formula: I = V / R; E = C V^2 / 2; t = R C
    Args:
        voltage: on the body (V, 0 to 1e5)
        body: capacitance (F, above 0 to 1e-6)
        series: resistance (ohm, above 0 to 1e6)
    Gives:
        current: at first (A)
        energy: in the pulse (J)
        time: constant of its decay (s)
    Source: ANSI/ESDA/JEDEC JS-001 (100 pF, 1.5 kohm); IEC 61000-4-2 (150 pF, 330 ohm)

    >>> round(esd_pulse(2000.0).current, 4)
    1.3333
    """
    return Pulse(voltage / series, body * voltage**2 / 2.0, series * body)


@dataclass(frozen=True)
class StrapCurrent:
    """Current through a person with a strap on (A); peak where the voltage is alternating."""

    current: float
    peak: float


@formula
def strap_current(voltage: float, cord: float = 1e6) -> StrapCurrent:
    """The current through you and your wrist strap if you touch something live.

    The cord's resistor alone; 1 Mohm is usual (from memory), and a damaged cord may have none.

    Formula: I = V / R
    Args:
        voltage: touched (V, 0 to 1000)
        cord: resistance of the strap's cord (ohm, above 0 to 1e9)
    Gives:
        current: through the strap (A)
        peak: of it, if the voltage is mains r.m.s. (A)
    Source: Ohm's law
    Caution: This is no reason to work live with a strap on: take it off, and cut the power first.

    >>> strap_current(230.0).current
    0.00023
    """
    return StrapCurrent(voltage / cord, math.sqrt(2.0) * voltage / cord)
