"""The bench's own record: of the units that it sold as working, how many came back."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from knowngood.bench.store import Store
from knowngood.handbook.reliability import Record, returns_by_record
from knowngood.log import events as ev
from knowngood.log.state import replay
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
    sold = returned = 0
    units = {unit.id for unit in store.units() if unit.map_name == map_name}
    for unit in (one for one in store.units_with("sold") if one in units):
        due = False
        for line in replay(store.device(unit), store.lines(unit)).lines:
            match line.event:
                case ev.Sold(how=how):
                    due = how == "working" and (today - date.fromisoformat(line.time[:10])).days >= days
                    sold += due
                case ev.Returned():
                    returned += due
                case _:
                    pass
    return OwnRecord(sold, returned, returns_by_record(sold, returned, LOT) if sold else None)
