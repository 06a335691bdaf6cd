"""The books of the bench: every amount of every unit and of the shelf, so that all accounts together are the cash.

A unit's price lies on its parts by worth. A part that is harvested takes its share out of the unit's account to the
shelf's, and from there into the account of the unit that it is fitted to; a part that was bought takes its price along.
What stays in a carcass stays in its account until the unit is sold or scrapped, and is that unit's loss then. If it
fell on the parts, it would change what units sold long ago have cost.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass
from functools import cached_property
from typing import Any, Literal, Protocol

from knowngood.errors import QuantityError
from knowngood.handbook.quantities import Money, total
from knowngood.log import events as ev
from knowngood.log.bookings import Booking
from knowngood.log.misfit import LEFT_WHOLE
from knowngood.log.state import Line, Replay
from knowngood.money.ledger.shares import spread
from knowngood.money.ledger.slots import Slot, slots

SHELF, BENCH = "shelf", "bench"
"""The account of parts between units and of the bench's own costs, and the log of the latter."""

OPEN_CAUSE = "not known yet"
"""Of a unit that came back and whose cause no line has named."""

Place = tuple[str, int]
"""A line of a log: unit and number."""

Kind = Literal["cash", "transfer", "valuation"]


class Harvest(Protocol):
    """A part that left a unit by some line."""

    @property
    def unit(self) -> str: ...
    @property
    def seq(self) -> int: ...
    @property
    def part(self) -> str: ...


class Moved(Protocol):
    """How harvests and the lines that took the parts again hang together: each harvest is taken once at most."""

    @property
    def shelf(self) -> Sequence[Harvest]: ...
    @property
    def taken(self) -> Mapping[Place, Harvest]: ...


@dataclass(frozen=True)
class Entry:
    """One amount on one account; below zero it makes the account poorer. A valuation does neither."""

    account: str
    log: str
    """Whose log the line is in: a unit's, or the bench's."""
    seq: int
    time: str
    what: str
    kind: Kind
    amount: Money


@dataclass(frozen=True)
class UnitLog:
    """A unit, its log, and what each of its parts is worth, in minor units."""

    unit: str
    told: Replay
    worths: Mapping[str, int]


@dataclass(frozen=True)
class OwnAccount:
    """What one unit's own lines come to, without what parts carried in and out. Money in minor units."""

    currency: str
    price: int
    """What it was bought for."""
    paid: int
    got: int
    minutes: float
    minutes_assumed: float
    exit: str | None
    map_name: str | None
    past: tuple[str, ...]
    source: str | None
    sold: int
    causes: tuple[str, ...]
    first_harvest: int
    """Number of the bench's last line when the first part left it; 0 if none did. What parts are worth is as it was
    then, so that a later line changes no account."""

    def written(self) -> dict[str, object]:
        """As JSON can hold it."""
        return asdict(self)

    @classmethod
    def read(cls, written: Mapping[str, Any]) -> OwnAccount:
        """From what ``written`` gave."""
        return cls(**{**written, "past": tuple(written["past"]), "causes": tuple(written["causes"])})


def own_account(told: Replay) -> OwnAccount | None:
    """What a unit's own lines come to; None if it was not bought, or its lines have more than one currency."""
    bought = [line.event for line in told.lines if isinstance(line.event, ev.Bought)]
    state = told.state
    if not bought or {one.amount.currency for one in state.bookings} != {bought[0].price.currency}:
        return None
    cash = [one.amount.minor for one in state.bookings if one.kind == "cash"]
    return OwnAccount(
        bought[0].price.currency,
        sum(one.price.minor for one in bought),
        -sum(one for one in cash if one < 0),
        sum(one for one in cash if one > 0),
        state.minutes,
        state.minutes_assumed,
        state.exit,
        bought[0].map,
        state.past,
        bought[0].source,
        len(state.sales.sold),
        tuple(one.cause or OPEN_CAUSE for one in state.sales.returns),
        next((line.bench_seq for line in told.lines if isinstance(line.event, ev.Harvested)), 0),
    )


@dataclass(frozen=True)
class Account:
    """The money and time of one unit, or of the shelf. Amounts in one currency."""

    name: str
    currency: str
    paid: Money
    """Cash that went out, above zero."""
    got: Money
    """Cash that came in."""
    carried: Money
    """What parts that went out carried less what parts that came in did."""
    minutes: float
    minutes_assumed: float = 0.0
    """The share of ``minutes`` that no line gave and the map's figures stand in for."""
    exit: str | None = None
    map_name: str | None = None
    past: tuple[str, ...] = ()
    source: str | None = None
    sold: int = 0
    """How often it was sold."""
    causes: tuple[str, ...] = ()
    """For each time that it came back: why, once that is known; "not known yet" until then."""
    entries: tuple[Entry, ...] = ()
    """In the order of the log; none where only sums were asked for."""

    @cached_property
    def balance(self) -> Money:
        """The profit of a unit that is settled; of any other account, below zero, the money that is in it."""
        return Money(self.currency, self.got.minor - self.paid.minor + self.carried.minor)

    @property
    def settled(self) -> bool:
        """Whether nothing of the unit is left: sold whole, or scrapped."""
        return self.exit in (*LEFT_WHOLE, "scrapped")


@dataclass(frozen=True)
class Held:
    """A part on the shelf, and its share of what was paid."""

    unit: str
    part: str
    amount: Money


@dataclass(frozen=True)
class Books:
    """All accounts in one currency. ``held`` is what lies on the shelf's account for parts."""

    currency: str
    units: Mapping[str, Account]
    shelf: Account
    held: tuple[Held, ...]

    @property
    def entries(self) -> tuple[Entry, ...]:
        """Every entry, unit by unit, the shelf's last."""
        return tuple(one for account in (*self.units.values(), self.shelf) for one in account.entries)

    @property
    def balance(self) -> Money:
        """All accounts together, which is cash in less cash out."""
        return total((one.balance for one in (*self.units.values(), self.shelf)), self.currency)

    @property
    def settled(self) -> Money:
        """The profit of the units that are settled."""
        return total((one.balance for one in self.units.values() if one.settled), self.currency)

    @property
    def in_units(self) -> Money:
        """What is still in units that are not settled, above zero."""
        return total((-one.balance for one in self.units.values() if not one.settled), self.currency)

    @property
    def in_parts(self) -> Money:
        """What is in parts on the shelf."""
        return total((one.amount for one in self.held), self.currency)

    @property
    def own(self) -> Money:
        """The shelf's own money, which belongs to no unit and no part: cash in less cash out."""
        return self.shelf.got - self.shelf.paid


def books(
    logs: Iterable[UnitLog],
    moved: Moved,
    currency: str,
    *,
    own: Iterable[Line] = (),
) -> Books:
    """The books of units that all pay in ``currency``, and of the shelf, whose ``own`` lines are ``paid`` and ``got``.

    Raises QuantityError if a line is in another currency.
    """
    given = {log.unit: log for log in logs}
    lay = {(unit, seq): slot for unit, log in given.items() for seq, slot in slots(log.told).items()}
    pieces = _Pieces(lay, lambda unit: _shares(given[unit]), moved, currency)
    units: dict[str, Account] = {}
    of_shelf: list[Entry] = []
    for log in given.values():
        entries, others = _entries(log, pieces)
        of_shelf += others
        units[log.unit] = _account(log, _in(currency, entries), currency)
    lines = list(own)
    of_shelf += [_booked(SHELF, BENCH, line.time, booking) for line in lines for booking in _own(line)]
    minutes = sum(line.event.minutes or 0.0 for line in lines)
    shelf = Account(SHELF, currency, *_sums(of_shelf, currency), minutes, entries=_in(currency, of_shelf))
    return Books(currency, units, shelf, pieces.held())


def sums(
    accounts: Mapping[str, OwnAccount],
    lay: Mapping[Place, Slot],
    shares: Callable[[str], Mapping[str, int]],
    moved: Moved,
    currency: str,
    *,
    own: Iterable[Line] = (),
) -> Books:
    """The same books without their entries, from what each unit's own lines come to, what lay on each part that left,
    and what each part of a unit carries of its price."""
    pieces = _Pieces(lay, shares, moved, currency)
    carried = dict.fromkeys(accounts, 0)
    for came in (*moved.shelf, *moved.taken.values()):
        carried[came.unit] += pieces.taken_out((came.unit, came.seq))
    for (unit, _), came in moved.taken.items():
        carried[unit] -= pieces.taken_out((came.unit, came.seq))
    units = {unit: _summed(unit, one, carried[unit]) for unit, one in accounts.items()}
    return Books(currency, units, shelf_account(own, -sum(carried.values()), currency), pieces.held())


def shelf_account(own: Iterable[Line], carried: int, currency: str) -> Account:
    """The shelf's account without its entries, from its ``own`` lines and what parts carried to it, in minor units."""
    lines = list(own)
    booked = [_booked(SHELF, BENCH, line.time, booking) for line in lines for booking in _own(line)]
    paid, got, _ = _sums(booked, currency)
    minutes = sum(line.event.minutes or 0.0 for line in lines)
    return Account(SHELF, currency, paid, got, Money(currency, carried), minutes)


def account(
    log: UnitLog, lay: Mapping[Place, Slot], shares: Callable[[str], Mapping[str, int]], moved: Moved, currency: str
) -> Account:
    """The account of one unit with its entries, as in ``books``; ``moved`` and ``lay`` need say no more than bears on
    its parts. Raises QuantityError as ``books`` does."""
    entries = _entries(log, _Pieces(lay, shares, moved, currency))[0]
    return _account(log, _in(currency, entries), currency)


def _summed(unit: str, own: OwnAccount, carried: int) -> Account:
    paid, got, more = (Money(own.currency, minor) for minor in (own.paid, own.got, carried))
    about = (own.exit, own.map_name, own.past, own.source, own.sold, own.causes)
    return Account(unit, own.currency, paid, got, more, own.minutes, own.minutes_assumed, *about)


def _own(line: Line) -> list[Booking]:
    match line.event:
        case ev.Paid(amount=amount, what=what):
            return [Booking(line.seq, -amount, what)]
        case ev.Got(amount=amount, what=what):
            return [Booking(line.seq, amount, what)]
        case _:
            return []


def _booked(account: str, log: str, time: str, booking: Booking) -> Entry:
    return Entry(account, log, booking.seq, time, booking.what, booking.kind, booking.amount)


def _entries(log: UnitLog, pieces: _Pieces) -> tuple[list[Entry], list[Entry]]:
    """The entries of a unit in the order of its log, and those that its parts make on the shelf's account."""
    booked: dict[int, list[Booking]] = {}
    for booking in log.told.state.bookings:
        booked.setdefault(booking.seq, []).append(booking)
    entries: list[Entry] = []
    others: list[Entry] = []
    for line in log.told.lines:
        entries += [_booked(log.unit, log.unit, line.time, booking) for booking in booked.get(line.seq, ())]
        move = pieces.move(log.unit, line)
        if move is not None:
            what, amount = move
            entries.append(Entry(log.unit, log.unit, line.seq, line.time, what, "transfer", amount))
            others.append(Entry(SHELF, log.unit, line.seq, line.time, what, "transfer", -amount))
    return entries, others


def _account(log: UnitLog, entries: tuple[Entry, ...], currency: str) -> Account:
    state = log.told.state
    bought = next((line.event for line in log.told.lines if isinstance(line.event, ev.Bought)), None)
    return Account(
        log.unit,
        currency,
        *_sums(entries, currency),
        state.minutes,
        state.minutes_assumed,
        state.exit,
        bought.map if bought else None,
        state.past,
        bought.source if bought else None,
        len(state.sales.sold),
        tuple(one.cause or OPEN_CAUSE for one in state.sales.returns),
        entries,
    )


def _sums(entries: Sequence[Entry], currency: str) -> tuple[Money, Money, Money]:
    """Paid, got and carried."""
    cash = [one.amount for one in entries if one.kind == "cash"]
    return (
        total((-one for one in cash if one.minor < 0), currency),
        total((one for one in cash if one.minor > 0), currency),
        total((one.amount for one in entries if one.kind == "transfer"), currency),
    )


def _in(currency: str, entries: list[Entry]) -> tuple[Entry, ...]:
    for one in entries:
        if one.amount.currency != currency:
            raise QuantityError(
                f"Line {one.seq} of {one.log} books {one.amount} ({one.what}), but this money is in {currency}. "
                f"Undo it and book it in {currency}."
            )
    return tuple(entries)


class _Pieces:
    """The money that goes along with parts: what each harvest takes out of its unit."""

    def __init__(
        self, lay: Mapping[Place, Slot], shares: Callable[[str], Mapping[str, int]], moved: Moved, currency: str
    ) -> None:
        self.moved = moved
        self.currency = currency
        self._lay, self._share_out = lay, shares
        self._parts = {(one.unit, one.seq): one.part for one in (*moved.shelf, *moved.taken.values())}
        self._shares: dict[str, Mapping[str, int]] = {}
        self._found: dict[Place, int] = {}
        self._under_way: set[Place] = set()

    def held(self) -> tuple[Held, ...]:
        """What lies on the shelf, with the money on it."""
        return tuple(Held(one.unit, one.part, self.amount(one.unit, one.seq)) for one in self.moved.shelf)

    def move(self, unit: str, line: Line) -> tuple[str, Money] | None:
        """What a line moves between a unit and the shelf, in words and as it changes the unit's account."""
        came = self.moved.taken.get((unit, line.seq))
        match line.event:
            case ev.Harvested(part=part):
                return f"{part} to the shelf", self.amount(unit, line.seq)
            case ev.Fitted(part=part) if came is not None:
                where = "the shelf" if came.unit == unit else came.unit
                return f"{part} from {where}", -self.amount(came.unit, came.seq)
            case ev.Vended(part=part) | ev.Scrapped(part=part) | ev.Disposed(part=part) if came is not None:
                return f"{part} off the shelf", -self.amount(came.unit, came.seq)
            case _:
                return None

    def amount(self, unit: str, seq: int) -> Money:
        """What goes along with the part that leaves a unit by a line."""
        return Money(self.currency, self.taken_out((unit, seq)))

    def taken_out(self, place: Place) -> int:
        """The same in minor units."""
        if place in self._under_way:
            return 0  # parts that the logs pass round in a circle came from nowhere
        if place not in self._found:
            self._under_way.add(place)
            self._found[place] = self._on_the_part(*place)
            self._under_way.discard(place)
        return self._found[place]

    def _on_the_part(self, unit: str, seq: int) -> int:
        """What lies on the part that a line takes out: the last line before it that put one in says."""
        slot = self._lay[unit, seq]
        for fit, paid in slot.fits:
            came = self.moved.taken.get((unit, fit))
            if came is not None:
                return self.taken_out((came.unit, came.seq))
            if paid is not None:
                return paid
        return self._share(unit, self._parts[unit, seq]) if slot.since_purchase else 0

    def _share(self, unit: str, part: str) -> int:
        if unit not in self._shares:
            self._shares[unit] = self._share_out(unit)
        return self._shares[unit].get(part, 0)


def _shares(log: UnitLog) -> dict[str, int]:
    """What a unit was bought for, over its parts."""
    price = sum(line.event.price.minor for line in log.told.lines if isinstance(line.event, ev.Bought))
    return spread(price, log.worths)
