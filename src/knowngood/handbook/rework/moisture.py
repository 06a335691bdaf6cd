"""Parts that take up moisture: how long they may lie open, how long they are baked."""

from __future__ import annotations

from dataclasses import dataclass

from knowngood.errors import RangeError
from knowngood.handbook.formula import formula
from knowngood.handbook.table import sourced, table

HOUR = 3600.0
"""In seconds."""

MOST_BAKED = 96.0
"""Hours above 90 and up to 125 degC without the supplier's word: J-STD-033 as quoted in a module maker's manual."""


@dataclass(frozen=True)
class FloorLife:
    """How long a part may lie open, and what is left of it (s)."""

    life: str
    condition: str
    left: float | None
    verdict: str | None


@formula
def floor_life(level: str, exposed: float | None = None) -> FloorLife:
    """How long a moisture-sensitive part may lie open before it is soldered.

    In the room that the condition names; a damper or warmer one shortens it. A year is 365 days.

    Formula: table
    Args:
        level: moisture sensitivity level on the bag (one of 1, 2, 2a, 3, 4, 5, 5a, 6)
        exposed: since the bag was opened (s, 0 to 1e9)
    Gives:
        life: from the opening of the bag (text)
        condition: not warmer or damper than (text)
        left: of it (s)
        verdict: on the time exposed (text)
    Source: level table of J-STD-020 and J-STD-033, in a module maker's manual

    >>> floor_life("3", 100 * 3600.0).left / 3600.0
    68.0
    """
    row = next(row for row in table("floor_life") if row["level"] == level)
    left, verdict = None, None
    if row["life"] == "bake before use":
        verdict = "bake it, then solder within the time on its label"
    elif exposed is not None and row["hours"]:
        left = max(0.0, float(row["hours"]) * HOUR - exposed)
        verdict = "within" if left else "exceeded: bake it before soldering"
    elif exposed is not None:
        verdict = "within"
    return FloorLife(row["life"], row["condition"], left, verdict)


@dataclass(frozen=True)
class Bake:
    """One way to bake a part (s)."""

    temperature: float
    time: float
    humidity: str
    total: str
    source: str


@formula
def bake(level: str, thickness: float, exceeded: float | None = None, baked: float = 0.0) -> tuple[Bake, ...]:
    """How long a part is baked before soldering, at each of the three temperatures.

    An older issue of the table; a later one is remembered with 7 h and 5 h for level 2a at 125 degC (from memory). On
    an assembled board the lowest limit of any part rules: take off batteries, displays, plastics and electrolytics
    first (common practice, no source). Trays and reels may not stand 125 degC.

    Formula: table
    Args:
        level: moisture sensitivity level on the bag (one of 2a, 3, 4, 5, 5a)
        thickness: of the body (m, above 0 to 0.002)
        exceeded: how long beyond its floor life; without it the times are for a soaked part (s, 0 to 1e9)
        baked: already, above 90 degC (s, 0 to 1e6)
    Gives:
        temperature: of the oven (degC)
        time: in the oven (s)
        humidity: in the oven (text)
        total: against 96 h above 90 degC in all (text)
        source: of these times (text)
    Source: J-STD-033, table 4-1 (user site); 96 h: J-STD-033 as quoted in a module maker's manual
    Caution: Cells, displays and electrolytics do not go into the oven; a heated cell can burn.

    >>> [one.time / 3600.0 for one in bake("3", 1.0e-3)]
    [9.0, 33.0, 312.0]
    """
    body = "1.4" if round(thickness * 1e3, 6) <= 1.4 else "2.0"
    rows = [row for row in table("bake") if row["level"] == level and row["thickness"] == body]
    if not rows:
        raise RangeError(
            f"bake: no sourced figure for level {level} at {thickness * 1e3:g} mm. Go by the part's data sheet."
        )
    column = "saturated_hours" if exceeded is None or exceeded > 72.0 * HOUR else "short_hours"
    return tuple(
        Bake(
            float(row["temperature"]),
            float(row[column]) * HOUR,
            row["humidity"] or "any",
            _total(float(row["temperature"]), float(row[column]) + baked / HOUR),
            sourced(row),
        )
        for row in rows
    )


def _total(temperature: float, hours: float) -> str:
    if temperature <= 90.0:
        return "does not count"
    if hours <= MOST_BAKED:
        return f"{hours:g} h of 96 h"
    return f"{hours:g} h, over 96 h: only with the supplier's word"
