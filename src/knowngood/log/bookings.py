"""What an event says of money: one amount, which moved or which a person thought a thing worth."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

from knowngood.handbook.quantities import Money
from knowngood.log import events as ev

if TYPE_CHECKING:
    from knowngood.log.state import State


@dataclass(frozen=True)
class Booking:
    """One amount of money; ``amount`` is negative for what went out. A ``valuation`` is what a person thought a thing
    worth: no money moved."""

    seq: int
    amount: Money
    what: str
    kind: Literal["cash", "valuation"] = "cash"


def booked(state: State, event: ev.Event, seq: int) -> State:
    """The state with the money of an event booked."""
    kind: Literal["cash", "valuation"] = "cash"
    match event:
        case ev.Bought(price=price):
            amount, what = -price, "purchase"
        case ev.Fitted(part=part, origin=origin, price=price) if price:
            amount, what = -price, f"{part} from {origin}"
            kind = "valuation" if origin[:1].isupper() else "cash"  # a unit is not paid for its part
        case ev.Mended(part=part, remedy=remedy, price=price) if price:
            amount, what = -price, f"{part}: {remedy}"
        case ev.Ordered(part=part, supplier=supplier, price=price):
            amount, what = -price, f"{part} from {supplier}"
        case ev.Paid(amount=paid, what=reason):
            amount, what = -paid, reason
        case ev.Got(amount=got, what=reason):
            amount, what = got, reason
        case ev.Sold(price=price, how=how):
            amount, what = price, f"sold {how}"
        case ev.Vended(part=part, price=price):
            amount, what = price, f"{part} sold by itself"
        case ev.Dispatched(carrier=carrier, price=price) if price:
            amount, what = -price, f"sent with {carrier}"
        case ev.Refunded(amount=back):
            amount, what = -back, "refunded to the buyer"
        case ev.Parted(worth=worth):
            amount, what, kind = worth, "parts, as valued", "valuation"
        case _:
            return state
    return replace(state, bookings=(*state.bookings, Booking(seq, amount, what, kind)))
