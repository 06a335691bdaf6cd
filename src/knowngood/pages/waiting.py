"""What cures and what is on order, over all units: the strip with the next ring.

Each unit's waits are read off its log once, and again only when that log has gone on.
"""

from __future__ import annotations

from dataclasses import dataclass
from threading import Lock

from knowngood.bench import gists
from knowngood.bench.store import Store
from knowngood.handbook.quantities import format_minutes
from knowngood.log.state import State, minutes_between, replay

VERBS = ("mended", "fitted", "dried", "ordered")
"""What a line starts with after which something may cure, or is on its way."""

NO_TIME = 1e9


@dataclass(frozen=True)
class Ring:
    """One wait of one unit."""

    unit: str
    what: str
    when: str
    """In words: how long still, or the day it is due."""
    left: float
    """Minutes; what has no time comes last."""


class Rings:
    """The waits of each unit that has any, with the time they were read at."""

    def __init__(self) -> None:
        self._kept: dict[str, tuple[str, State]] = {}
        self._newest = 0
        self._lock = Lock()

    def now(self, store: Store) -> list[Ring]:
        """Every wait, the next ring first."""
        with self._lock:
            gone_on, newest = store.units_since(self._newest, *VERBS)
            still = set(gists.here(store)) if gone_on else set()
            for unit in gone_on:
                self._kept.pop(unit, None)
                if unit not in still:
                    continue
                told = replay(store.device(unit), lines := store.lines(unit))
                state = told.state
                if state.curing or state.incoming.ordered:
                    self._kept[unit] = lines[-1].time, state
            self._newest = newest
            waits = [
                ring for unit, (time, state) in self._kept.items() for ring in _rings(unit, state, time, store.now())
            ]
        return sorted(waits, key=lambda one: (one.left, one.when, one.unit))


def _rings(unit: str, state: State, time: str, now: str) -> list[Ring]:
    lain, found = minutes_between(time, now), []
    for part, minutes in state.curing.items():
        left = max(0.0, minutes - lain)
        name = part.replace("-", " ")
        found.append(Ring(unit, f"{name} cures" if left else f"{name} has cured", _more(left), left))
    for part, order in state.incoming.ordered.items():
        due = f"due {order.due}" if order.due else f"from {order.supplier}"
        found.append(Ring(unit, f"{part.replace('-', ' ')} is on order", due, NO_TIME))
    return found


def _more(left: float) -> str:
    return f"{format_minutes(left)} more" if left else "ready"


RINGS = Rings()
