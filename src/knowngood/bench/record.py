"""The bench's own record: of the units that it sold as working, how many came back."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from knowngood.bench.gists import sales
from knowngood.bench.store import Store
from knowngood.handbook.reliability import Record, returns_by_record
from knowngood.proof.returns import LOT


@dataclass(frozen=True)
class OwnRecord:
    """Sales of units of one map that had their time to come back."""

    sold: int
    returned: int
    of_a_lot: Record | None
    """What that says of the next ``LOT``; None before the first such sale."""


def own_record(store: Store, map_name: str, days: int) -> OwnRecord:
    """Sales as working of units of a map that are at least ``days`` old, and those of them that came back.

    Younger ones are left out, whether they came back or not: of these the returns would be known first.
    """
    today = date.fromisoformat(store.now()[:10])
    due = [one for one in sales(store, map_name) if (today - date.fromisoformat(one.day)).days >= days]
    sold, returned = len(due), sum(one.returned for one in due)
    return OwnRecord(sold, returned, returns_by_record(sold, returned, LOT) if sold else None)
