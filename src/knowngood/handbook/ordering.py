"""When is an order for parts sent, and is a part that may be needed ordered with it?"""

from __future__ import annotations

import math
from dataclasses import dataclass

from knowngood.handbook.formula import formula


@formula
def order_interval(postage: float, wants: float, waiting: float) -> float:
    """How many days apart orders are sent, so that postage and waiting together cost least.

    A part that is wanted waits half the interval in the mean.

    Formula: T = sqrt(2 S / (n h))
    Args:
        postage: of one order, in any one currency (1, above 0 to 1e9)
        wants: parts that are wanted from there in a day (1, above 0 to 1e6)
        waiting: what a day of waiting costs for each of them, in that currency (1, above 0 to 1e9)
    Gives:
        days: from one order to the next (1)
    Source: F. W. Harris, How Many Parts to Make at Once, Factory 10 (1913), economic order quantity (from memory)

    >>> round(order_interval(8.0, 0.5, 0.6), 1)
    7.3
    """
    return math.sqrt(2.0 * postage / (wants * waiting))


@dataclass(frozen=True)
class Insurance:
    """What a part that may be needed costs, in the units of its page."""

    with_it: float
    without_it: float


@formula
def insurance_part(
    chance: float, postage: float, days: float, waiting: float, price: float, kept: float = 0.5, handling: float = 0.5
) -> Insurance:
    """Whether a part that may be needed is ordered along: what it costs if it is, beside what it costs if it is not.

    All amounts are in any one currency. Order it if without it costs more.

    Formula: with it: P (1 - k) + H; without it: p (S + d h)
    Args:
        chance: that it is needed (share, 0 to 1)
        postage: of another order (1, 0 to 1e9)
        days: until that would be here (1, 0 to 366)
        waiting: what a day of waiting costs (1, 0 to 1e9)
        price: of the part (1, 0 to 1e9)
        kept: share that it is still worth if it is not needed (share, 0 to 1)
        handling: to send it back or put it away (1, 0 to 1e9)
    Gives:
        with_it: what having ordered it costs (1)
        without_it: what it costs in the mean to be without it (1)
    Source: common practice, no source

    >>> insurance_part(0.25, 8.0, 10.0, 0.6, 2.0)
    Insurance(with_it=1.5, without_it=3.5)
    """
    return Insurance(price * (1.0 - kept) + handling, chance * (postage + days * waiting))
