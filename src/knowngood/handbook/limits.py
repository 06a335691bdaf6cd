"""The published limits of safety, and what a reading says to one of them.

Only a limit that is confirmed in its source decides. One known second-hand, from memory or by common practice alone is
shown with these words, and the verdict is left to the person with the standard in hand.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Literal

from knowngood.handbook.quantities import parse_quantity

TABLE = Path(__file__).parent / "tables" / "safety_limits.csv"

Side = Literal["<=", ">=", "<", "="]


@dataclass(frozen=True)
class Limit:
    """A row of the table, in the notation of its source."""

    id: str
    topic: str
    rules: str
    """Rule set with its edition; limits of two are never mixed."""
    quantity: str
    applies_to: str
    comparator: str
    value: str
    unit: str
    status: str
    source: str
    note: str

    @property
    def decides(self) -> bool:
        """Whether a reading may pass or fail by it."""
        return self.status == "confirmed"

    def text(self) -> str:
        """The limit as a person reads it: "at most 0.3 ohm", "at least 2.0 Mohm (from memory)"."""
        sides = {"<=": "at most ", ">=": "at least ", "<": "below ", "=": ""}
        words = "" if self.decides else f" ({self.status})"
        return f"{sides[self.comparator]}{self.value} {self.unit}{words}"

    def quantity_in(self, unit: str) -> float:
        """Its value in a plain unit."""
        return parse_quantity(f"{self.value} {self.unit}", unit)


@lru_cache(maxsize=1)
def limits() -> dict[str, Limit]:
    """All rows by id, in the order of the table."""
    with TABLE.open(encoding="utf-8", newline="") as lines:
        return {row["id"]: Limit(**row) for row in csv.DictReader(lines)}


@dataclass(frozen=True)
class Verdict:
    """What a reading says to a limit."""

    verdict: str
    limit: str
    display: float | None
    """The worst reading that still passes, the meter's error taken off; None where the limit does not decide."""
    rules: str
    source: str


PASS, FAIL = "pass", "FAIL"
UNPROVED = "not shown to pass: the error of the meter reaches over the limit"


def judged(name: str, reading: float, error: float, unit: str, *, added: float = 0.0, limit: str = "") -> Verdict:
    """A reading that must not exceed a limit (or not fall below one), the meter's ``error`` a share of the reading.

    ``added`` widens the limit, in ``unit``; ``limit`` then says it in words.
    """
    row = limits()[name]
    if not row.decides:
        return undecided(name, f"this limit is {row.status}")
    bound = row.quantity_in(unit) + added
    said, display = held_to(bound, reading, error, upper=row.comparator == "<=")
    return Verdict(said, limit or row.text(), display, row.rules, row.source)


def held_to(bound: float, reading: float, error: float, *, upper: bool) -> tuple[str, float]:
    """What a reading says to an upper (or lower) limit, guarded by the meter's error, and the worst that passes."""
    display = bound / (1.0 + error) if upper else bound / (1.0 - error)
    beyond = reading * (1.0 - error) > bound if upper else reading * (1.0 + error) < bound
    within = reading <= display if upper else reading >= display
    return PASS if within else FAIL if beyond or error == 0.0 else UNPROVED, display


def undecided(name: str, why: str) -> Verdict:
    """No verdict by a limit, and the reason."""
    row = limits()[name]
    return Verdict(f"none: {why}; take it from your copy of the rules", row.text(), None, row.rules, row.source)
