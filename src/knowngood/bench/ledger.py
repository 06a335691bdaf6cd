"""The books of the bench, from its logs: every unit's account and the shelf's, in one currency."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from knowngood.bench.market import Demand, parse
from knowngood.bench.stock import moves, moving_logs
from knowngood.bench.store import Store
from knowngood.bench.work import bench_settings
from knowngood.errors import LineError
from knowngood.handbook.quantities import Money
from knowngood.log import events as ev
from knowngood.log.state import Line, effective, replay
from knowngood.maps.shape import similar
from knowngood.money.ledger.books import Books, UnitLog, books
from knowngood.money.ledger.shares import worths


@dataclass(frozen=True)
class Kept:
    """The books in one currency, and the units that pay in others, by currency."""

    books: Books
    others: Mapping[str, tuple[str, ...]]


def books_of(store: Store, currency: str | None = None) -> Kept:
    """The books in a currency, else in the bench's. What is only offered to the bench has no account.

    Raises LineError for a currency that nothing is booked in, QuantityError where a line is in another one.
    """
    bench = effective(_bench_lines(store))[0]
    paying: dict[str, list[str]] = {}
    logs: dict[str, list[Line]] = {}
    for unit in store.units():
        lines = store.lines(unit.id)
        first = lines[0].event
        if isinstance(first, ev.Bought):
            logs[unit.id] = lines
            paying.setdefault(first.price.currency, []).append(unit.id)
    main = bench_settings(store).currency
    wanted = (currency or main).upper()
    if wanted not in {main, *paying}:
        raise LineError(f"Nothing is booked in {wanted}. {similar(wanted, {main, *paying})}")
    own = [line for line in bench if _pays_in(line.event, wanted)]
    given = [_unit_log(store, unit, logs[unit], bench, wanted) for unit in paying.get(wanted, ())]
    moved = moves({unit: log for unit, log in moving_logs(store).items() if unit in paying.get(wanted, ())})
    others = {one: tuple(units) for one, units in paying.items() if one != wanted}
    return Kept(books(given, moved, wanted, own=own), others)


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
