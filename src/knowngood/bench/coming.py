"""What the parts that are on their way to a unit, or reserved for it, are had for."""

from __future__ import annotations

from collections.abc import Iterable
from contextlib import suppress

from knowngood.bench.donors import in_place, on_shelf
from knowngood.bench.passages import StockPart
from knowngood.bench.promises import there
from knowngood.bench.stock import lying
from knowngood.bench.store import Store
from knowngood.errors import ContradictionError, TooLargeError
from knowngood.log import events as ev
from knowngood.log.incoming import Incoming
from knowngood.maps.device import Device
from knowngood.plan.terms import InStock


def coming(store: Store, device: Device, incoming: Incoming) -> dict[str, InStock]:
    """What each part that is on its way to a unit is had for: nothing more than what it cost already."""
    found = {part: InStock(order.condition, 0.0) for part, order in {**incoming.ordered, **incoming.arrived}.items()}
    promised = {
        part: origin.upper()
        for part, origin in incoming.reserved.items()
        if part not in found and part in device.parts and origin not in ev.TO_BUY
    }
    shelf = lying(store, set(promised.values())) if promised else []
    for part, origin in promised.items():
        if there(store, shelf, origin, part):
            with suppress(ContradictionError, TooLargeError):
                found[part] = _reserved(store, shelf, device, part, origin)
    return found


def _reserved(store: Store, shelf: Iterable[StockPart], device: Device, part: str, origin: str) -> InStock:
    loose = [one for one in shelf if one.unit == origin and one.part == part]
    states = on_shelf(store, loose[:1]).get(loose[0]) if loose else in_place(store, origin, device.parts[part])
    chances = None if states is None else tuple(float(chance) for chance in states)
    remark = (
        "it is reserved for this unit" if loose else f"it is reserved and still in {origin}: harvest it there first"
    )
    return InStock(origin, 0.0, chances, remark)
