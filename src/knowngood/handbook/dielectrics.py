"""Codes of ceramic dielectrics (EIA RS-198, ANSI/EIA-198), decoded or refused with the reason."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from knowngood.errors import RangeError

LOW = {"X": -55.0, "Y": -30.0, "Z": 10.0}
HIGH = {"2": 45.0, "4": 65.0, "5": 85.0, "6": 105.0, "7": 125.0, "8": 150.0, "9": 200.0}
"""Ends of the range of temperature of classes II and III, degC (capacitor maker's catalogue, confirmed)."""

_EVEN = {"A": 1.0, "B": 1.5, "C": 2.2, "D": 3.3, "E": 4.7, "F": 7.5, "P": 10.0, "R": 15.0, "S": 22.0}
CHANGE = {letter: (-most, most) for letter, most in _EVEN.items()}
CHANGE |= {"T": (-33.0, 22.0), "U": (-56.0, 22.0), "V": (-82.0, 22.0)}
"""Largest change over that range, per cent. Some tables print B as 1.2 %, the digit 3 as 45 degC and 7 as 120 degC:
misprints of 1.5 %, of the digit 2, and of 125 degC."""

FIGURE = {"C": 0.0, "B": 0.3, "L": 0.8, "A": 0.9, "M": 1.0, "P": 1.5, "R": 2.2, "S": 3.3, "T": 4.7, "V": 5.6, "U": 7.5}
MULTIPLIER = {"0": -1.0, "1": -10.0, "2": -100.0, "3": -1000.0, "6": 10.0, "7": 100.0, "8": 1000.0}
SPREAD = {"G": 30.0, "H": 60.0, "J": 120.0, "K": 250.0, "L": 500.0, "M": 1000.0, "N": 2500.0}
"""Class I: coefficient of temperature as figure times multiplier, and its tolerance, ppm/K (two makers' tables)."""

NOT_AGREED = {"4": "one catalogue has -10000 and others +1", "5": "only one catalogue has it"}
"""Multiplier digits of class I that are never decoded, and why."""

OTHER_NAMES = {"NP0": "C0G", "NPO": "C0G", "COG": "C0G", "N750": "U2J"}

AGEING = {"C0G": (0, 0), "X7R": (1, 4), "X5R": (1, 4), "Y5U": (4, 6), "Z5U": (4, 6), "Y5V": (6, 10)}
"""Per cent lost in each decade of hours, least and most (capacitor maker's catalogue, confirmed)."""


@dataclass(frozen=True)
class Dielectric:
    """What a code promises: classes II and III a change over a range, class I a coefficient."""

    kind: str
    low_temperature: float | None = None
    high_temperature: float | None = None
    change_low: float | None = None
    change_high: float | None = None
    """Shares of the capacitance."""
    coefficient: float | None = None
    coefficient_spread: float | None = None
    """1/K."""


def decode(code: str, name: str) -> Dielectric:
    """The dielectric of a code. Raises RangeError, in the name of a formula, for what no table has or agrees on."""
    text = code.strip().upper()
    text = OTHER_NAMES.get(text, text)
    if len(text) != 3:
        raise RangeError(f"{name}: {code!r} is no dielectric code; it has three characters, as X7R or C0G.")
    first, digit, last = text[0], text[1], text[2]
    if first in LOW:
        _known(name, code, (digit, HIGH, "digit"), (last, CHANGE, "last letter"))
        low, high = CHANGE[last]
        return Dielectric("class II or III", LOW[first], HIGH[digit], low / 100.0, high / 100.0)
    if digit in NOT_AGREED and first in FIGURE:
        raise RangeError(f"{name}: {code} is not decoded: of the multiplier digit {digit} {NOT_AGREED[digit]}.")
    _known(name, code, (first, FIGURE, "first letter"), (digit, MULTIPLIER, "digit"), (last, SPREAD, "last letter"))
    slope = FIGURE[first] * MULTIPLIER[digit] / 1e6 or 0.0
    return Dielectric("class I", coefficient=slope, coefficient_spread=SPREAD[last] / 1e6)


def _known(name: str, code: str, *parts: tuple[str, Mapping[str, object], str]) -> None:
    for part, table, place in parts:
        if part not in table:
            raise RangeError(
                f"{name}: {code} is an unknown code: no {place} {part!r} in the tables. Look in the maker's sheet."
            )
