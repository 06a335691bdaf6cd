"""What one unit cost and brought: sums of booked money, which are never floats, and of hands-on time."""

from __future__ import annotations

from dataclasses import dataclass

from knowngood.errors import QuantityError
from knowngood.handbook.quantities import Money, total
from knowngood.log.state import Booking, State


@dataclass(frozen=True)
class Ledger:
    """The money and time of one unit. ``profit`` is ``came_in`` less ``went_out``; time is not in it."""

    bookings: tuple[Booking, ...]
    went_out: Money
    came_in: Money
    profit: Money
    minutes: float
    minutes_assumed: float
    """The share of ``minutes`` that no line gave and the map's figures stand in for."""
    exit: str | None

    @property
    def profit_per_hour(self) -> float | None:
        """Profit over hands-on hours, in whole units; None before there is any time. An expectation, not an amount."""
        return self.profit.major / (self.minutes / 60.0) if self.minutes else None


def ledger(state: State, currency: str) -> Ledger:
    """The ledger of a unit's state. Raises QuantityError if a line is in another currency."""
    for booking in state.bookings:
        if booking.amount.currency != currency:
            raise QuantityError(
                f"Line {booking.seq} books {booking.amount} ({booking.what}), but this unit's money is in {currency}. "
                f"Undo it and book it in {currency}."
            )
    zero = Money(currency, 0)
    out = total((-booking.amount for booking in state.bookings if booking.amount < zero), currency)
    came = total((booking.amount for booking in state.bookings if booking.amount > zero), currency)
    return Ledger(state.bookings, out, came, came - out, state.minutes, state.minutes_assumed, state.exit)
