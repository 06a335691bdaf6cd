"""The books of the bench, from its logs: every unit's account and the shelf's, in one currency."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from knowngood.bench import gists
from knowngood.bench.market import Demand, parse
from knowngood.bench.passages import Passage, joined, passages
from knowngood.bench.store import Store
from knowngood.bench.work import bench_settings
from knowngood.errors import LineError
from knowngood.handbook.quantities import Money
from knowngood.log import events as ev
from knowngood.log.state import Line, effective, replay
from knowngood.maps.shape import similar
from knowngood.money.ledger.books import Account, Books, OwnAccount, UnitLog, account, books, sums
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
    """What gists say of money, for a program that stays: those of logs that have not gone on are not read again."""

    def __init__(self) -> None:
        self.accounts: dict[str, OwnAccount | None] = {}
        self.passages: dict[str, list[Passage]] = {}
        self.slots: dict[tuple[str, int], Slot] = {}
        self._newest = 0

    def look(self, store: Store) -> None:
        """Takes in what was logged since."""
        units, newest = gists.gone_on(store, self._newest)
        if not units:
            return
        accounts, slots = gists.accounts(store, units), gists.slots_of(store, units)
        passages: dict[str, list[Passage]] = {unit: [] for unit in units}
        for unit, one in gists.passages_in(store, units):
            passages[unit].append(one)
        self.accounts |= accounts
        self.passages |= passages
        self.slots |= slots  # what a line that was taken back said stays, and nobody asks for it
        self._newest = newest


def sums_of(store: Store, currency: str | None = None, memory: Memory | None = None) -> Kept:
    """The same books without their bookings, for which no log of a unit is read that has not gone on."""
    known = memory or Memory()
    known.look(store)
    if not all(known.accounts.values()):
        return books_of(store, currency)  # that says which line of which unit is in another currency
    accounts = {unit: one for unit in store.names() if (one := known.accounts.get(unit))}
    bench = effective(_bench_lines(store))[0]
    wanted, others = _wanted(store, {unit: one.currency for unit, one in accounts.items()}, currency)
    mine = {unit: one for unit, one in accounts.items() if one.currency == wanted}
    shares = _Shares(store, mine, bench, wanted)
    moved = joined(one for unit in mine for one in known.passages[unit])
    return Kept(sums(mine, known.slots, shares.of, moved, wanted, own=_own(bench, wanted)), others)


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


class _Shares:
    """What each part of a unit carries of its price. What parts are worth is worked out once for all units of one map
    from which the first part left at one time."""

    def __init__(self, store: Store, accounts: Mapping[str, OwnAccount], bench: list[Line], currency: str) -> None:
        self._store, self._accounts, self._bench, self._currency = store, accounts, bench, currency
        self._maps = store.map_marks()
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
