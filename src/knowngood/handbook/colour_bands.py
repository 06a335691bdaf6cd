"""Colour bands of resistors (IEC 60062:2016), read from either end."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from knowngood.errors import RangeError
from knowngood.handbook.preferred import rank


@dataclass(frozen=True)
class Band:
    """What a colour stands for in each place; None where it cannot stand."""

    digit: int | None
    power: int | None
    tolerance: float | None = None
    """A share."""
    coefficient: float | None = None
    """Of temperature, ppm/K."""
    memory: str = ""
    """Which of these are from memory: "t" the tolerance, "c" the coefficient, "p" the multiplier."""
    older: float | None = None
    """The tolerance that older tables give it."""


BANDS = {
    "black": Band(0, 0, None, 250.0),
    "brown": Band(1, 1, 0.01, 100.0),
    "red": Band(2, 2, 0.02, 50.0),
    "orange": Band(3, 3, 0.0005, 15.0, older=0.03),
    "yellow": Band(4, 4, 0.0002, 25.0, older=0.04),
    "green": Band(5, 5, 0.005, 20.0, memory="c"),
    "blue": Band(6, 6, 0.0025, 10.0, memory="c"),
    "violet": Band(7, 7, 0.001, 5.0, memory="c"),
    "grey": Band(8, 8, 0.0001, 1.0, memory="tc", older=0.0005),
    "white": Band(9, 9),
    "gold": Band(None, -1, 0.05),
    "silver": Band(None, -2, 0.10),
    "pink": Band(None, -3, memory="p"),
}
"""IEC 60062:2016, confirmed but for what is marked as from memory."""

NO_BAND = 0.20
"""Tolerance where there is no band for it (IEC 60062:2016, second-hand)."""

OTHER_NAMES = {"gray": "grey", "purple": "violet"}

COLOURS = (*BANDS, *OTHER_NAMES)
"""Every colour of a band, by all its names."""


@dataclass(frozen=True)
class BandReading:
    """A resistor as its bands say, read from one end."""

    resistance: float
    tolerance: float | None
    low: float | None
    high: float | None
    coefficient: float | None
    order: str
    note: str | None


def read_bands(colours: Sequence[str]) -> list[BandReading]:
    """Every way to read the bands, usual values first. Raises RangeError for a colour or count that is none."""
    names = [OTHER_NAMES.get(one.strip().lower(), one.strip().lower()) for one in colours]
    for name in names:
        if name not in BANDS:
            raise RangeError(f"colour-bands: {name!r} is no colour of a band. There are {', '.join(BANDS)}.")
    if names == ["black"]:
        return [BandReading(0.0, None, None, None, None, "jumper", None)]
    if not 3 <= len(names) <= 6:
        raise RangeError(f"colour-bands: {len(names)} bands; a resistor has 3 to 6, or one black band as a jumper.")
    ways = {"as given": names, "from the other end": names[::-1]}
    if names == names[::-1]:
        del ways["from the other end"]
    found = [one for order, way in ways.items() if (one := _read([BANDS[name] for name in way], order)) is not None]
    if not found:
        raise RangeError(
            f"colour-bands: {', '.join(names)} can be read from neither end. Check the colours; measure it."
        )
    return sorted(found, key=lambda one: rank(one.resistance))


def _read(bands: list[Band], order: str) -> BandReading | None:
    """The resistor, or None where a colour cannot stand in its place."""
    digits = 3 if len(bands) >= 5 else 2
    values, multiplier, rest = bands[:digits], bands[digits], bands[digits + 1 :]
    if multiplier.power is None or any(one.digit is None for one in values):
        return None
    if (rest and rest[0].tolerance is None) or (len(rest) == 2 and rest[1].coefficient is None):
        return None
    number = int("".join(str(one.digit) for one in values))
    if number == 0:
        return None
    value = float(f"{number}e{multiplier.power}")
    share = rest[0].tolerance if rest else NO_BAND
    assert share is not None
    coefficient = rest[1].coefficient if len(rest) == 2 else None
    notes = []
    if values[0].digit == 0:
        notes.append("begins with 0, which is unusual")
    if rank(value) == 2:
        notes.append("no preferred value, so unlikely")
    if "p" in multiplier.memory:
        notes.append("pink is from memory")
    notes += _tolerance_notes(rest)
    return BandReading(
        value,
        share,
        value * (1.0 - share),
        value * (1.0 + share),
        None if coefficient is None else coefficient * 1e-6,
        order,
        "; ".join(notes) or None,
    )


def _tolerance_notes(rest: list[Band]) -> list[str]:
    """What to say of the bands behind the multiplier."""
    if not rest:
        return ["no band for the tolerance: 20 %, second-hand"]
    notes = []
    if "t" in rest[0].memory:
        notes.append("this tolerance is from memory")
    if rest[0].older is not None and not math.isclose(rest[0].older, rest[0].tolerance or 0.0):
        notes.append(f"tolerance by the issue of 2016; older tables print {100.0 * rest[0].older:g} %")
    if len(rest) == 2 and "c" in rest[1].memory:
        notes.append("this temperature coefficient is from memory")
    return notes
