"""The books of the bench: every amount of every unit and of the shelf, so that all accounts together are the cash.

A unit's price lies on its parts by worth. A part that is harvested takes its share out of the unit's account to the
shelf's, and from there into the account of the unit that it is fitted to; a part that was bought takes its price along.
What stays in a carcass stays in its account until the unit is sold or scrapped, and is that unit's loss then. If it
fell on the parts, it would change what units sold long ago have cost.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal, Protocol

from knowngood.errors import QuantityError
from knowngood.handbook.quantities import Money, total
from knowngood.log import events as ev
from knowngood.log.bookings import Booking
from knowngood.log.misfit import LEFT_WHOLE
from knowngood.log.state import Line, Replay
from knowngood.money.ledger.shares import spread

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
class Account:
    """The money and time of one unit, or of the shelf. Amounts in one currency."""

    name: str
    currency: str
    entries: tuple[Entry, ...]
    """In the order of the log."""
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

    @property
    def paid(self) -> Money:
        """Cash that went out, above zero."""
        return total(
            (-one.amount for one in self.entries if one.kind == "cash" and one.amount.minor < 0), self.currency
        )

    @property
    def got(self) -> Money:
        """Cash that came in."""
        return total((one.amount for one in self.entries if one.kind == "cash" and one.amount.minor > 0), self.currency)

    @property
    def carried(self) -> Money:
        """What parts that went out carried less what parts that came in did."""
        return total((one.amount for one in self.entries if one.kind == "transfer"), self.currency)

    @property
    def balance(self) -> Money:
        """The profit of a unit that is settled; of any other account, below zero, the money that is in it."""
        return self.got - self.paid + self.carried

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
    pieces = _Pieces(given, moved, currency)
    units: dict[str, Account] = {}
    of_shelf: list[Entry] = []
    for log in given.values():
        entries, others = _entries(log, pieces)
        of_shelf += others
        units[log.unit] = _account(log, entries, currency)
    lines = list(own)
    of_shelf += [_booked(SHELF, BENCH, line.time, booking) for line in lines for booking in _own(line)]
    minutes = sum(line.event.minutes or 0.0 for line in lines)
    held = [Held(one.unit, one.part, pieces.amount(one.unit, one.seq)) for one in moved.shelf]
    return Books(currency, units, Account(SHELF, currency, _in(currency, of_shelf), minutes), tuple(held))


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


def _account(log: UnitLog, entries: list[Entry], currency: str) -> Account:
    state = log.told.state
    bought = next((line.event for line in log.told.lines if isinstance(line.event, ev.Bought)), None)
    return Account(
        log.unit,
        currency,
        _in(currency, entries),
        state.minutes,
        state.minutes_assumed,
        state.exit,
        bought.map if bought else None,
        state.past,
        bought.source if bought else None,
        len(state.sales.sold),
        tuple(one.cause or OPEN_CAUSE for one in state.sales.returns),
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

    def __init__(self, logs: Mapping[str, UnitLog], moved: Moved, currency: str) -> None:
        self.logs = logs
        self.moved = moved
        self.currency = currency
        self._shares = {unit: _shares(log) for unit, log in logs.items()}
        self._found: dict[Place, int] = {}
        self._under_way: set[Place] = set()

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
        return Money(self.currency, self._taken_out((unit, seq)))

    def _taken_out(self, place: Place) -> int:
        if place in self._under_way:
            return 0  # parts that the logs pass round in a circle came from nowhere
        if place not in self._found:
            self._under_way.add(place)
            self._found[place] = self._in_slot(*place)
            self._under_way.discard(place)
        return self._found[place]

    def _in_slot(self, unit: str, seq: int) -> int:
        """What lies on the part that a line takes out: the last line before it that put one in says."""
        told = self.logs[unit].told
        before = [(line, state) for line, state in zip(told.lines, told.before, strict=True) if line.seq <= seq]
        part = before[-1][0].event.part  # type: ignore[attr-defined]  # a harvest has one
        for line, state in reversed(before[:-1]):
            match line.event:
                case ev.Harvested(part=other) if other == part:
                    return 0
                case ev.Fitted(part=other, origin=origin, price=price) if other == part:
                    came = self.moved.taken.get((unit, line.seq))
                    if came is not None:
                        return self._taken_out((came.unit, came.seq))
                    if origin == ev.BACK:
                        continue
                    order = state.incoming.arrived.get(part) if origin in ev.TO_BUY else None
                    bought = [one for one in (price, order.price if order else None) if one]
                    return sum(one.minor for one in bought) if not origin[:1].isupper() else 0
                case _:
                    pass
        return self._shares[unit].get(part, 0)


def _shares(log: UnitLog) -> dict[str, int]:
    """What a unit was bought for, over its parts."""
    price = sum(line.event.price.minor for line in log.told.lines if isinstance(line.event, ev.Bought))
    return spread(price, log.worths)
