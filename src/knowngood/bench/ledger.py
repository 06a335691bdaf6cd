"""The books of the bench, from its logs: every unit's account and the shelf's, in one currency."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field, replace

from knowngood.bench import gists
from knowngood.bench.market import Demand, parse
from knowngood.bench.passages import Moves, Passage, StockPart, in_stock_order, joined, passages
from knowngood.bench.store import Store, donors_last
from knowngood.bench.work import bench_settings
from knowngood.errors import LineError
from knowngood.handbook.quantities import Money
from knowngood.log import events as ev
from knowngood.log.state import Line, effective, replay
from knowngood.maps.shape import similar
from knowngood.money.ledger.books import (
    Account,
    Books,
    Held,
    OwnAccount,
    UnitLog,
    account,
    books,
    shelf_account,
    sums,
)
from knowngood.money.ledger.shares import spread, worths
from knowngood.money.ledger.slots import Slot


@dataclass(frozen=True)
class Kept:
    """The books in one currency, and the units that pay in others, by currency."""

    books: Books
    others: Mapping[str, tuple[str, ...]]


def books_of(store: Store, currency: str | None = None) -> Kept:
    """The books in a currency, else in the bench's, with every booking. What is only offered to the bench has no
    account.

    Raises LineError for a currency that nothing is booked in, QuantityError where a line is in another one.
    """
    bench = effective(_bench_lines(store))[0]
    logs = {unit: store.lines(unit) for unit in store.names()}
    firsts = ((unit, lines[0].event) for unit, lines in logs.items())
    paid_in = {unit: first.price.currency for unit, first in firsts if isinstance(first, ev.Bought)}
    wanted, others = _wanted(store, paid_in, currency)
    given = [_unit_log(store, unit, logs[unit], bench, wanted) for unit, one in paid_in.items() if one == wanted]
    moved = joined(one for log in given for one in passages(log.unit, store.device(log.unit), log.told))
    return Kept(books(given, moved, wanted, own=_own(bench, wanted)), others)


class Memory:
    """What gists say of money, and the sums made of it, for a program that stays: logs that have not gone on are not
    read again, and accounts that none of the others can have changed are not summed again."""

    def __init__(self) -> None:
        self.accounts: dict[str, OwnAccount | None] = {}
        self._passages: dict[str, list[Passage]] = {}
        self._slots: dict[tuple[str, int], Slot] = {}
        self._gave: dict[str, set[str]] = {}
        """By unit those whose logs say that a part of it came to them, or left them."""
        self._newest = 0
        self._behind: set[str] = set()
        """Units whose logs went on since the sums were made, and those that their parts came from before that."""
        self._summed: _Summed | None = None

    def look(self, store: Store) -> None:
        """Takes in what was logged since."""
        units, newest = gists.gone_on(store, self._newest)
        if not units:
            return
        accounts, slots = gists.accounts(store, units), gists.slots_of(store, units)
        passages: dict[str, list[Passage]] = {unit: [] for unit in units}
        for unit, one in gists.passages_in(store, units):
            passages[unit].append(one)
        self._behind |= units
        for unit, now in passages.items():
            before = self._passages.get(unit, [])
            self._behind |= {one.of[0] for one in before}
            for one in before:
                self._gave[one.of[0]].discard(unit)
            for one in now:
                self._gave.setdefault(one.of[0], set()).add(unit)
        self.accounts |= accounts
        self._passages |= passages
        self._slots |= slots  # what a line that was taken back said stays, and nobody asks for it
        self._newest = newest

    def books(self, store: Store, bench: list[Line], currency: str) -> Books:
        """The sums in a currency, by what was taken in; ``bench`` is the bench's log.

        Money goes from unit to unit along with parts alone. So only units that such parts join to one that went on are
        summed again; all are where another line says what parts bring by themselves.
        """
        known, demands = self._summed, [line for line in bench if isinstance(line.event, Demand)]
        if known is None or (known.demands, known.currency) != (demands, currency):
            known = _Summed(demands, currency)
            self._behind |= self.accounts.keys()
        joined_by_parts = self._joined(self._behind)
        mine = {unit: one for unit in joined_by_parts if (one := self.accounts.get(unit)) and one.currency == currency}
        moved = joined(one for unit in mine for one in self._passages[unit])
        shares = _Shares(store, mine, bench, currency)
        found = known.with_(joined_by_parts, sums(mine, self._slots, shares.of, moved, currency, own=()), moved)
        self._summed, self._behind = found, set()
        return found.books(_own(bench, currency))

    def _joined(self, units: Iterable[str]) -> list[str]:
        """Units with all that parts join to them, in the order of their numbers, donors last."""
        done: set[str] = set()
        todo = set(units)
        while todo:
            done |= todo
            came_from = (one.of[0] for unit in todo for one in self._passages.get(unit, ()))
            gave = (other for unit in todo for other in self._gave.get(unit, ()))
            todo = {*came_from, *gave} - done
        return sorted(done, key=donors_last)


@dataclass(frozen=True)
class _Summed:
    """Sums that were made once."""

    demands: list[Line]
    currency: str
    units: Mapping[str, Account] = field(default_factory=dict)
    held: Mapping[StockPart, Held] = field(default_factory=dict)

    def with_(self, units: Collection[str], anew: Books, moved: Moves) -> _Summed:
        """The same with some units summed anew."""
        among = set(units)
        kept = {unit: one for unit, one in self.units.items() if unit not in among}
        held = {came: one for came, one in self.held.items() if came.unit not in among}
        held |= dict(zip(moved.shelf, anew.held, strict=True))
        return replace(self, units={**kept, **anew.units}, held={one: held[one] for one in in_stock_order(held)})

    def books(self, own: Iterable[Line]) -> Books:
        """All of it, with the shelf's own lines."""
        carried = -sum(one.carried.minor for one in self.units.values())
        return Books(self.currency, self.units, shelf_account(own, carried, self.currency), tuple(self.held.values()))


def sums_of(store: Store, currency: str | None = None, memory: Memory | None = None) -> Kept:
    """The same books without their bookings, for which no log of a unit is read that has not gone on."""
    known = memory or Memory()
    known.look(store)
    if not all(known.accounts.values()):
        return books_of(store, currency)  # that says which line of which unit is in another currency
    bench = effective(_bench_lines(store))[0]
    paid_in = {unit: one.currency for unit, one in known.accounts.items() if one}
    wanted, others = _wanted(store, paid_in, currency)
    return Kept(known.books(store, bench, wanted), others)


def account_of(store: Store, unit: str) -> Account:
    """The account of one unit with its bookings, in the currency it was bought in: no logs are read but its own and
    those of units that its parts came from.

    Raises LineError for one that was not bought, QuantityError where a line is in another currency.
    """
    name, currency = store.unit_id(unit), currency_of(store, unit)
    about = gists.passages_about(store, [name])
    known = gists.accounts(store, {name, *(one for one, _ in about)})
    if not all(known.values()):
        return books_of(store, currency).books.units[name]  # that says which line of which unit it is
    mine = {one: own for one, own in known.items() if own and own.currency == currency}
    bench = effective(_bench_lines(store))[0]
    moved = joined(one for log, one in about if log in mine)
    told = _unit_log(store, name, store.lines(name), bench, currency)
    return account(told, gists.slots_of(store, mine), _Shares(store, mine, bench, currency).of, moved, currency)


FEW = 500
"""Units that are asked for by name; of more all are."""


class _Shares:
    """What each part of a unit carries of its price. What parts are worth is worked out once for all units of one map
    from which the first part left at one time."""

    def __init__(self, store: Store, accounts: Mapping[str, OwnAccount], bench: list[Line], currency: str) -> None:
        self._store, self._accounts, self._bench, self._currency = store, accounts, bench, currency
        self._maps = store.map_marks() if len(accounts) > FEW else store.map_marks(accounts)
        self._known: dict[tuple[str, int], Mapping[str, int]] = {}

    def of(self, unit: str) -> Mapping[str, int]:
        """The shares of one unit, in minor units."""
        key = self._maps[unit], self._accounts[unit].first_harvest
        if key not in self._known:
            loose = _loose(line for line in self._bench if line.seq <= key[1])
            self._known[key] = worths(self._store.device(unit), loose, self._currency)
        return spread(self._accounts[unit].price, self._known[key])


def _wanted(store: Store, paid_in: Mapping[str, str], currency: str | None) -> tuple[str, dict[str, tuple[str, ...]]]:
    """The currency of the books, and the units that pay in others, by currency. Raises LineError."""
    paying: dict[str, list[str]] = {}
    for unit, one in paid_in.items():
        paying.setdefault(one, []).append(unit)
    main = bench_settings(store).currency
    wanted = (currency or main).upper()
    if wanted not in {main, *paying}:
        raise LineError(f"Nothing is booked in {wanted}. {similar(wanted, {main, *paying})}")
    return wanted, {one: tuple(units) for one, units in paying.items() if one != wanted}


def _own(bench: Iterable[Line], currency: str) -> list[Line]:
    return [line for line in bench if _pays_in(line.event, currency)]


def currency_of(store: Store, unit: str) -> str:
    """The currency a unit was bought in. Raises LineError for one that was not bought."""
    first = store.lines(unit)[0].event
    if not isinstance(first, ev.Bought):
        raise LineError(f"{store.unit_id(unit)} was not bought, so it has no account.")
    return first.price.currency


def _unit_log(store: Store, unit: str, lines: list[Line], bench: list[Line], currency: str) -> UnitLog:
    device = store.device(unit)
    told = replay(device, lines)
    # What parts bring by themselves counts as it was when the first one left, so that a later line changes no account.
    first = next((line.bench_seq for line in told.lines if isinstance(line.event, ev.Harvested)), 0)
    return UnitLog(unit, told, worths(device, _loose(line for line in bench if line.seq <= first), currency))


def _loose(lines: Iterable[Line]) -> dict[str, Money]:
    """What parts bring by themselves, by ``MAP/PART``."""
    said = (line.event for line in lines if isinstance(line.event, Demand))
    return {f"{one.map}/{one.part}": one.price for one in said if one.part and one.price}


def _bench_lines(store: Store) -> list[Line]:
    """The bench's log, what is paid, got, in demand and taken back understood; every other line as mere words."""
    verbs = ("paid", "got", "demand", "undid", "redid")
    return [
        Line(one.seq, one.time, parse(one.text) if one.text.split()[0] in verbs else ev.Noted(text=one.text))
        for one in store.bench_lines()
    ]


def _pays_in(event: ev.Event, currency: str) -> bool:
    return isinstance(event, (ev.Paid, ev.Got)) and event.amount.currency == currency
