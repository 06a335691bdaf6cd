"""What the plan is told about the bench: the price of a minute, of parts, and what each way out brings.

All figures here are expectations in whole units of one currency, never booked amounts.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

from knowngood.handbook.quantities import Money
from knowngood.maps.device import Device

PRICE_UNKNOWN_SHARE = 0.10
"""A replacement with no price on the map is taken to cost this share of a working unit (and the move says so)."""

RETURN_LOSS_SHARE = 0.30
"""What a unit that comes back costs, as a share of its price: carriage and what it then brings (own judgement)."""


@dataclass(frozen=True)
class InStock:
    """A part to be had: the unit it came from and what taking it forgoes, or new or used and what it costs."""

    origin: str
    price: float
    states: tuple[float, ...] | None = None
    """Chance of each of its states, fine first, where its old unit's log says; else by where it comes from."""
    remark: str = ""
    """What is to be said of whether it fits, or to be done before it can be put in."""


@dataclass(frozen=True)
class Terms:
    """The bench's side of every decision."""

    currency: str
    rate: float
    """Worth of a minute of hands-on time: the least an hour must bring, over 60."""
    working: float
    """What a unit sold as working brings, after fees, carriage and the return reserve."""
    as_is: float
    """What a unit sold as it is brings, after fees and carriage."""
    parts: float
    """What the unit brings as parts, after fees."""
    come_back: float
    """What a unit that is sold as working and comes back costs."""
    stock: Mapping[str, InStock] = field(default_factory=dict)
    lacks: frozenset[str] = frozenset()
    """Tools that are not here, in small letters."""
    price: float = 0.0
    """What a unit sold as working is sold for, before fees, carriage and the return reserve."""
    kept: float = 1.0
    """Share of that price that is left of it after fees and the return reserve."""
    dearer: Mapping[str, float] = field(default_factory=dict)
    """Money that a move costs beyond its minutes and materials, by the line that logs it: what if it were dearer."""
    seller: bool = False
    """Whether there is a seller who can be asked."""
    list_minutes: float = 30.0
    """Hands-on time to grade, list and pack (common practice, no source)."""

    def at_price(self, price: float) -> Terms:
        """The same bench where a unit sold as working is sold for ``price``."""
        more = price - self.price
        brings, loses = self.working + self.kept * more, self.come_back + RETURN_LOSS_SHARE * more
        return replace(self, price=price, working=brings, come_back=loses)


def terms(
    device: Device,
    *,
    hour: float,
    fee_share: float,
    carriage: float,
    return_share: float,
    stock: Mapping[str, InStock] | None = None,
    lacks: Iterable[str] = (),
    prices: Mapping[str, Money] | None = None,
) -> Terms:
    """Terms from the bench's rates and the map's (or the bench's own) prices of the ways out.

    ``hour`` and ``carriage`` in the map's currency; the shares are of the selling price.
    """
    own = prices or {}
    working = own.get("working", device.worth.working).major
    as_is = own.get("as-is", device.worth.as_is).major
    parts = own.get("parts", device.worth.parts).major
    return Terms(
        currency=device.worth.working.currency,
        rate=hour / 60.0,
        working=working * (1 - fee_share - return_share) - carriage,
        as_is=as_is * (1 - fee_share) - carriage,
        parts=parts * (1 - fee_share),
        come_back=RETURN_LOSS_SHARE * working,
        price=working,
        kept=1 - fee_share - return_share,
        stock=stock or {},
        lacks=frozenset(tool.lower() for tool in lacks),
    )


DEFAULTS = {"hour": 12.0, "fee_share": 0.12, "carriage": 14.0, "return_share": 0.04}
"""Rates of a bench that has set none (invented, the person's own go first): see ``knowngood bench``."""
