"""Parts that are to come into a unit: reserved from another one or to be bought, ordered, arrived."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Literal, TypeVar

from knowngood.handbook.quantities import Money
from knowngood.log import events as ev
from knowngood.maps.device import Device
from knowngood.maps.shape import similar

T = TypeVar("T")

Coming = ev.Reserved | ev.Ordered | ev.Arrived | ev.Released


@dataclass(frozen=True)
class Order:
    """A part that was ordered and paid for this unit."""

    condition: Literal["new", "used"]
    supplier: str
    price: Money
    due: str | None
    """The day it ought to be here, ISO 8601."""


@dataclass(frozen=True)
class Incoming:
    """What is to come after some line of the log, by part."""

    reserved: Mapping[str, str] = field(default_factory=dict)
    """Where a part is to come from: a unit, ``new`` or ``used``."""
    ordered: Mapping[str, Order] = field(default_factory=dict)
    """Parts on order that are not here yet."""
    arrived: Mapping[str, Order] = field(default_factory=dict)
    """Parts that are here, and paid."""

    def after(self, event: Coming) -> Incoming:
        """What is to come after an event that fits."""
        match event:
            case ev.Reserved(part=part, origin=origin):
                return replace(self, reserved={**self.reserved, part: origin})
            case ev.Ordered(part=part, condition=condition, supplier=supplier, price=price, due=due):
                order = Order(condition, supplier, price, due)
                return Incoming(_without(self.reserved, part), {**self.ordered, part: order}, self.arrived)
            case ev.Arrived(part=part):
                here = {**self.arrived, part: self.ordered[part]}
                return replace(self, ordered=_without(self.ordered, part), arrived=here)
            case ev.Released(part=part):
                reserved, ordered = _without(self.reserved, part), _without(self.ordered, part)
                return Incoming(reserved, ordered, _without(self.arrived, part))

    def fitted(self, part: str, origin: str) -> Incoming:
        """What is still to come once a part was fitted: a bought one stays in the hand if another one went in."""
        bought = origin in ev.TO_BUY
        arrived = _without(self.arrived, part) if bought else self.arrived
        return Incoming(_without(self.reserved, part), self.ordered, arrived)

    def misfit(self, device: Device, event: Coming) -> str | None:
        """Why an event does not fit, or None."""
        part = event.part
        if part not in device.parts:
            return f"There is no part '{part}' on this map. {similar(part, device.parts)}"
        match event:
            case ev.Ordered() if part in self.ordered:
                return f"'{part}' is on order from {self.ordered[part].supplier} already. Log 'released {part}' first."
            case ev.Arrived() if part not in self.ordered:
                return f"'{part}' is not on order. {similar(part, self.ordered) if self.ordered else 'Nothing is.'}"
            case ev.Released() if part not in {*self.reserved, *self.ordered, *self.arrived}:
                return f"'{part}' is neither reserved nor ordered."
            case _:
                return None


def _without(given: Mapping[str, T], part: str) -> dict[str, T]:
    return {one: value for one, value in given.items() if one != part}
