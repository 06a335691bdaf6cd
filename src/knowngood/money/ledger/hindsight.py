"""What was expected of a unit beside what came of it."""

from __future__ import annotations

from dataclasses import dataclass

from knowngood.handbook.quantities import total
from knowngood.log import events as ev
from knowngood.log.state import Replay
from knowngood.money.expectation import Expectation
from knowngood.money.ledger.books import Account


@dataclass(frozen=True)
class Came:
    """What came of a unit after its purchase, net of its hands-on time at the bench's floor."""

    net: Expectation
    valued: bool
    """Whether parts as valued are in it, for which nobody need have paid."""
    costs_booked: bool
    """Whether a cost was booked after the sale; what was expected has fee and carriage taken off."""


@dataclass(frozen=True)
class Forecast:
    """What was expected of a unit that has left the bench, and what came. What was paid for it is in none of these."""

    unit: str
    exit: str
    at_purchase: Expectation
    """By the advice on the purchase alone."""
    at_hands_on: Expectation
    """By the advice before the first line by which hands went into the unit."""
    came: Came


def came_of(told: Replay, account: Account, rate: float, fee_share: float) -> Came:
    """What came of a unit that has left the bench. ``rate`` is the worth of a minute, in whole units.

    Parts that came in count at what they carried. A unit given up for its parts counts with these as valued, less the
    fee that selling them takes, and not with what single ones brought.
    """
    currency = account.currency
    events = {line.seq: line.event for line in told.lines}
    left = next((seq for seq, event in events.items() if isinstance(event, (ev.Sold, ev.Parted))), None)
    valued = [event.worth for event in events.values() if isinstance(event, ev.Parted)]
    apart = (ev.Bought, ev.Vended) if valued else (ev.Bought,)
    cash = [one for one in account.entries if one.kind == "cash" and not isinstance(events[one.seq], apart)]
    fitted = [one for one in account.entries if one.kind == "transfer" and isinstance(events[one.seq], ev.Fitted)]
    net = total((one.amount for one in (*cash, *fitted)), currency).major
    net += (1.0 - fee_share) * total(valued, currency).major - account.minutes * rate
    after = left is not None and any(one.seq > left and one.amount.minor < 0 for one in cash)
    return Came(Expectation(currency, net), bool(valued), after)
