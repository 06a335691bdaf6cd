"""Parts that units wait for: reserved in one log, while the part itself moves in others."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from knowngood.bench import gists
from knowngood.bench.passages import Moves
from knowngood.bench.stock import moves_about
from knowngood.bench.store import Store
from knowngood.log import events as ev
from knowngood.log.remembered import replay
from knowngood.log.state import Line

Reserved = Mapping[tuple[str, str], tuple[str, ...]]
"""By the unit that a part is to come from, and the part: the units it is reserved for."""


def reserved(store: Store) -> Reserved:
    """The reservations that hold. Those of a unit that was sold or parted count no more."""
    found: dict[tuple[str, str], tuple[str, ...]] = {}
    for unit, parts in gists.reservations(store):
        for part, origin in parts.items():
            if origin not in ev.TO_BUY:
                key = (origin.upper(), part)
                found[key] = (*found.get(key, ()), unit)
    return found


def taken_from_others(store: Store, unit: str, lines: Iterable[Line]) -> list[str]:
    """What to mind about lines that were just logged: parts fitted or reserved here that are reserved for others."""
    taking = [one.event for one in lines if isinstance(one.event, (ev.Fitted, ev.Reserved))]
    taking = [one for one in taking if one.origin.upper() != unit and one.origin not in (*ev.TO_BUY, ev.BACK)]
    if not taking:
        return []
    held = reserved(store)
    return [
        f"'{one.part}' from {one.origin.upper()} is reserved for {other} too. "
        f"If {other} is not to have it, log 'released {one.part}' there."
        for one in taking
        for other in held.get((one.origin.upper(), one.part), ())
        if other != unit
    ]


def not_there(store: Store) -> list[str]:
    """Reservations of parts that are no longer to be had: fitted elsewhere, or in a unit that was sold."""
    held = reserved(store)
    if not held:
        return []
    origins = {origin for origin, _ in held}
    known = store.map_marks(one for one in origins if not one.startswith("C"))
    moved = moves_about(store, origins, shelf=False)
    found = []
    for (origin, part), units in held.items():
        where = _gone(store, moved, origin, part) if origin in known else f"there is no {origin}"
        if where:
            found += [f"{unit} has '{part}' from {origin} reserved, and {where}." for unit in units]
    return found


def _gone(store: Store, moved: Moves, origin: str, part: str) -> str:
    """Where a part of a unit is that cannot be had from there any more; empty if it can."""
    if any(one.unit == origin and one.part == part for one in moved.shelf):
        return ""
    state = replay(store.device(origin), store.lines(origin)).state
    if part in state.harvested or state.exit in ("working", "as-is"):
        into = [unit for (unit, _), one in moved.taken.items() if (one.unit, one.part) == (origin, part)]
        return f"it is in {into[-1]} now" if into else f"{origin} was sold"
    return ""
