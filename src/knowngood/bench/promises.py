"""Whether a part that is promised to a unit still is to be had, and by whom."""

from __future__ import annotations

from collections.abc import Collection

from knowngood.bench.passages import StockPart
from knowngood.bench.reservations import Reserved
from knowngood.bench.store import Store
from knowngood.log.remembered import replay


def of_others(all_reserved: Reserved, unit: str) -> set[tuple[str, str]]:
    """The parts that are reserved, and not for this unit."""
    return {part for part, units in all_reserved.items() if unit not in units}


def there(store: Store, shelf: Collection[StockPart], unit: str, part: str) -> bool:
    """Whether a part still is in a unit, or lies on the ``shelf`` from it."""
    return any(one.unit == unit and one.part == part for one in shelf) or inside(store, unit, part)


def inside(store: Store, unit: str, part: str) -> bool:
    """Whether a unit still holds the part that it came with or got."""
    if not store.has(unit):
        return False
    device = store.device(unit)
    state = replay(device, store.lines(unit)).state
    return part in device.parts and part not in state.removed and state.exit in (None, "parts")
