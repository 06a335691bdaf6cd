"""What is drying, curing or on order, over all units: the strip with the next ring.

Only units with a line that can start a wait are looked at, and each again only once its log has gone on.
"""

from __future__ import annotations

from dataclasses import dataclass
from threading import Lock

from knowngood.bench.store import Store
from knowngood.bench.work import replayed
from knowngood.handbook.quantities import format_minutes
from knowngood.log.incoming import Order
from knowngood.log.state import Replay, as_of

VERBS = ("mended", "fitted", "dried", "ordered")


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
    """The waits, by unit and the last line they go by."""

    def __init__(self) -> None:
        self._kept: dict[str, tuple[int, bool]] = {}
        self._lock = Lock()

    def now(self, store: Store) -> list[Ring]:
        """Every wait, the next ring first."""
        found: list[Ring] = []
        with self._lock:
            for unit, seq in store.last_seqs_with(*VERBS).items():
                known = self._kept.get(unit)
                if known == (seq, False):
                    continue
                _, told = replayed(store, unit)
                rings = _rings(unit, store, told) if not told.state.exit else []
                still = bool(told.state.curing or told.state.incoming.ordered) and not told.state.exit
                self._kept[unit] = (seq, still)
                found += rings
        return sorted(found, key=lambda one: (one.left, one.unit))


def _rings(unit: str, store: Store, told: Replay) -> list[Ring]:
    state = as_of(told, store.now()).state
    found = [Ring(unit, f"{part} cures", f"{format_minutes(left)} more", left) for part, left in state.curing.items()]
    cured = [part for part in told.state.curing if part not in state.curing]
    found += [Ring(unit, f"{part} has cured", "ready", 0.0) for part in cured]
    return found + [_ordered(unit, part, order) for part, order in state.incoming.ordered.items()]


def _ordered(unit: str, part: str, order: Order) -> Ring:
    due = f"due {order.due}" if order.due else f"from {order.supplier}"
    return Ring(unit, f"{part} is on order", due, 1e9)


RINGS = Rings()
