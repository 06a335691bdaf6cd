"""The American wire gauge: from a number to the diameter of the bare wire, and back.

Source: ASTM B258-02; NBS Handbook 100 (1966): No. 36 is 5 mil, No. 4/0 is 460 mil, and the 38 between them are a
geometric row. The standard rounds 10 mil and below to 0.1 mil (from memory), so that tables built on what it prints
differ by up to 3 % in resistance.
"""

from __future__ import annotations

import math
import re

THICKEST, FINEST = -3, 56
"""No. 4/0 and No. 56, the ends of the table of ASTM B258 (from memory)."""

_ANCHOR = 0.127e-3
"""Diameter of No. 36 in m."""

_WRITTEN = re.compile(r"AWG\s*(?P<after>\d+(?:/0)?)|(?P<before>\d+(?:/0)?)\s*AWG", re.IGNORECASE)


def diameter(gauge: float) -> float:
    """Diameter in m of the bare wire of a gauge; 0 is No. 1/0, -3 is No. 4/0."""
    return float(_ANCHOR * 92.0 ** ((36.0 - gauge) / 39.0))


def number(diameter: float) -> float:
    """The gauge, as a rule between two whole ones, of a bare wire with a diameter above 0 in m."""
    return 36.0 - 39.0 * math.log(diameter / _ANCHOR) / math.log(92.0)


def at_least(diameter: float) -> int:
    """The finest whole gauge that is at least so thick, above 0 in m."""
    return math.floor(number(diameter) + 1e-9)


def written(gauge: int) -> str:
    """As it is printed: "AWG 30", "AWG 2/0" for -1."""
    return f"AWG {gauge}" if gauge > 0 else f"AWG {1 - gauge}/0"


def read(text: str) -> float | None:
    """The diameter in m of "AWG 30", "30 AWG" or "AWG 2/0"; None for what is none. ValueError off the table."""
    found = _WRITTEN.fullmatch(text.strip())
    if found is None:
        return None
    digits, _, aught = (found["after"] or found["before"]).partition("/")
    gauge = 1 - int(digits) if aught else int(digits)
    if not THICKEST <= gauge <= FINEST or (aught and int(digits) == 0):
        raise ValueError(f"{text.strip()!r} is no wire gauge. They go from AWG 4/0 to AWG {FINEST}.")
    return diameter(gauge)
