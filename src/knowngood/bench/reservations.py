"""Which part is to go to which unit, by the units' own logs."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping

from knowngood.bench.stock import stock
from knowngood.bench.store import Store
from knowngood.errors import LineError
from knowngood.log import events as ev
from knowngood.log.state import replay
from knowngood.maps.shape import nearest, similar

ANY = ("new", "used")
"""Where a part may be reserved from, other than a unit: it is still to be bought."""


def reserved(store: Store) -> dict[tuple[str, str], list[str]]:
    """By the unit it is in or came from, and its name there: the units that a part is reserved for."""
    found: dict[tuple[str, str], list[str]] = defaultdict(list)
    for unit in store.units_with("reserved"):
        state = replay(store.device(unit), store.lines(unit)).state
        for part, origin in state.incoming.reserved.items():
            if origin not in ANY and not state.exit:
                found[origin, part].append(unit)
    return dict(found)


def there(store: Store, unit: str, part: str) -> bool:
    """Whether a part still is in a unit, or lies on the shelf from it."""
    return any(one.unit == unit and one.part == part for one in stock(store)) or inside(store, unit, part)


def inside(store: Store, unit: str, part: str) -> bool:
    """Whether a unit still holds the part that it came with or got."""
    device = store.device(unit)
    state = replay(device, store.lines(unit)).state
    return part in device.parts and part not in state.removed and state.exit in (None, "parts")


def checked(store: Store, unit: str, text: str, event: ev.Reserved) -> ev.Reserved:
    """The event with its origin as stored. Raises LineError if the part is not there, or is another unit's already."""
    if event.origin.lower() in ANY:
        return event.model_copy(update={"origin": event.origin.lower()})
    origin, known = event.origin.upper(), [one.id for one in store.units() if one.id != unit]
    if origin not in known:
        others = [*ANY, *known]
        raise LineError(f"'{text}': no other unit '{event.origin}'. {similar(origin, others)}", nearest(origin, others))
    others = [one for one in reserved(store).get((origin, event.part), []) if one != unit]
    if others:
        raise LineError(
            f"'{text}': '{event.part}' of {origin} is reserved for {others[0]}. "
            f"Log 'released {event.part}' in {others[0]} first."
        )
    if not there(store, origin, event.part):
        raise LineError(f"'{text}': '{event.part}' is neither in {origin} nor on the shelf from it.")
    return event.model_copy(update={"origin": origin})


def of_others(all_reserved: Mapping[tuple[str, str], list[str]], unit: str) -> set[tuple[str, str]]:
    """The parts that are reserved, and not for this unit."""
    return {part for part, units in all_reserved.items() if unit not in units}
