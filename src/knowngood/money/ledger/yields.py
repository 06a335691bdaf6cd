"""What an hour brought: by map, past, source, or the cause for which units came back.

Rows add up to all units, to the cent.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

from knowngood.handbook.intervals import Interval, of_ratio
from knowngood.handbook.quantities import Money, total
from knowngood.money.ledger.books import Account

BY: Mapping[str, Callable[[Account], str]] = {
    "map": lambda account: account.map_name or "not said",
    "past": lambda account: ", ".join(sorted(account.past)) or "nothing known",
    "source": lambda account: account.source or "not said",
    "cause": lambda account: ", ".join(account.causes) or ("did not come back" if account.sold else "not sold"),
}
"""What units can be put together by. Several pasts of one unit are a row of their own, so that no unit counts twice."""


@dataclass(frozen=True)
class Yield:
    """Units that have something in common: those that are settled, and apart from them those that are not yet."""

    name: str
    units: int
    profit: Money
    minutes: float
    per_hour: Interval | None
    """Profit over hands-on hours in whole units of the currency; None without time. An estimate, not an amount."""
    open_units: int
    open_money: Money
    """What is still in those that are not settled."""
    open_minutes: float
    sold: int = 0
    """Sales; a unit that was sold again counts again."""
    returned: int = 0
    """Of these sales, those whose unit came back."""


def yields(accounts: Iterable[Account], by: str, currency: str) -> list[Yield]:
    """One row for each value of ``by`` (a key of BY), those with most profit first."""
    groups: dict[str, list[Account]] = {}
    for account in accounts:
        groups.setdefault(BY[by](account), []).append(account)
    rows = [yield_of(name, group, currency) for name, group in groups.items()]
    return sorted(rows, key=lambda row: (-row.profit.minor, row.name))


def yield_of(name: str, accounts: Iterable[Account], currency: str) -> Yield:
    """The row of some units together."""
    given = list(accounts)
    done = [one for one in given if one.settled]
    still = [one for one in given if not one.settled]
    minutes = sum(one.minutes for one in done)
    hours = [one.minutes / 60.0 for one in done]
    return Yield(
        name,
        len(done),
        total((one.balance for one in done), currency),
        minutes,
        of_ratio([one.balance.major for one in done], hours) if minutes else None,
        len(still),
        total((-one.balance for one in still), currency),
        sum(one.minutes for one in still),
        sum(one.sold for one in given),
        sum(len(one.causes) for one in given),
    )
