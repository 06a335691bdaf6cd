"""The most to pay: what a unit brings on average less the wanted margin, and no more than keeps a loss bearable.

What a unit brings does not rest on what was paid for it, so it is drawn once and any price is held against it. Poor
information takes a share off: who wins a bid is who read the photos most hopefully (common practice, no source).
"""

from __future__ import annotations

from dataclasses import dataclass

from knowngood.handbook.intervals import Interval
from knowngood.handbook.quantities import Money
from knowngood.money.bid.outcome import Outcome, Z
from knowngood.money.expectation import Expectation

POOREST, BEST = 0.25, 0.10
"""Share taken off where a listing says nothing that it could, and where it says all (common practice, no source)."""


@dataclass(frozen=True)
class Wish:
    """What a person wants of a purchase."""

    margin: Money
    """What it is to leave on average, beside the hours at the bench's target rate."""
    loss: float
    """Bearable chance that it brings less than it cost."""
    shade: float
    """Share of what it seems to bring that is taken off for poor information."""
    inward: Money
    """What it costs to get it here."""


@dataclass(frozen=True)
class Most:
    """The most to pay, and the two limits that it is the lower of."""

    by_margin: Expectation
    by_loss: Expectation
    pay: Money
    """Whole minor units, rounded down; nothing where it should not be bought at any price."""

    @property
    def because(self) -> str:
        """Which of the two holds: 'margin' or 'loss'."""
        return "margin" if self.by_margin.value <= self.by_loss.value else "loss"


def shade_for(said: int, askable: int) -> float:
    """The share to take off where ``said`` of all that a listing could say is known."""
    known = said / (said + askable) if said + askable else 1.0
    return POOREST - (POOREST - BEST) * known


def shaded(value: float, shade: float) -> float:
    """A figure with the shade taken off; what is lost is not made less.

    >>> shaded(13.2, 0.15)
    11.22
    """
    return value * (1.0 - shade) if value > 0.0 else value


def most_to_pay(outcome: Outcome, wish: Wish) -> Most:
    """The most to pay for a unit with this outcome, in the currency of the wish."""
    net, tail = outcome.net, outcome.quantile(wish.loss)
    by_margin = _expected(net, wish) - wish.margin
    by_loss = _expected(tail, wish)
    return Most(by_margin, by_loss, min(by_margin.payable_at_most(), by_loss.payable_at_most(), key=_minor))


def gain(outcome: Outcome, wish: Wish, price: Money) -> Expectation:
    """What is left on average of a unit that is bought at a price."""
    return _expected(outcome.net, wish) - price


def chance_of_loss(outcome: Outcome, wish: Wish, price: Money) -> Interval:
    """Chance that a unit bought at a price brings less than it cost."""
    cost = price.major + wish.inward.major
    return outcome.at_most(cost / (1.0 - wish.shade) - 2e-9 if cost > 0.0 else cost - 2e-9)


def _expected(found: Interval, wish: Wish) -> Expectation:
    keeps = 1.0 - wish.shade if found.mean > 0.0 else 1.0
    error = keeps * (found.high - found.low) / (2.0 * Z)
    return Expectation(wish.inward.currency, shaded(found.mean, wish.shade), error) - wish.inward


def _minor(amount: Money) -> int:
    return amount.minor
