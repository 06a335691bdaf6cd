"""Orders for parts: the basket of each supplier, when to send it, what may be needed besides, and what has arrived."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from knowngood.bench import market
from knowngood.bench.gists import Here, all_here
from knowngood.bench.settings import BenchSettings
from knowngood.bench.shelf.accepted import standing
from knowngood.bench.shelf.facts import OnBench
from knowngood.bench.store import BenchEntry, Store
from knowngood.bench.work import bench_settings, log_lines
from knowngood.errors import LineError
from knowngood.handbook.ordering import insurance_part, order_interval
from knowngood.handbook.quantities import Money, total
from knowngood.log import events as ev
from knowngood.log.incoming import Order
from knowngood.log.state import Line, effective, minutes_between
from knowngood.maps.shape import nearest, similar

DAY = 24.0 * 60.0


@dataclass(frozen=True)
class Want:
    """A part that a unit is to get and that nobody has ordered yet."""

    unit: str
    offer: market.Offers
    since: str
    """Time of the line that reserved it."""


@dataclass(frozen=True)
class Maybe:
    """A part that a unit may need, beside what is wanted anyway. Both figures are expectations, major units."""

    unit: str
    offer: market.Offers
    chance: float
    with_it: float
    """What having ordered it costs if it is not needed."""
    without_it: float
    """What it costs in the mean not to have it."""

    @property
    def pays(self) -> bool:
        return self.without_it > self.with_it


@dataclass(frozen=True)
class Basket:
    """What is to be ordered from one supplier."""

    supplier: market.Supplier
    wants: tuple[Want, ...]
    maybes: tuple[Maybe, ...]
    """Those that pay, the one first that gains most."""
    parts: Money
    interval: float | None
    """Days between two orders that cost least; None where waiting or posting costs nothing."""
    age: float
    """Days since the oldest want."""
    waiting: Money
    """What a day of waiting costs for all of them."""

    @property
    def payable(self) -> Money:
        return self.parts + self.supplier.price

    @property
    def left(self) -> float:
        """Days until it is sent by the interval; 0.0 is now."""
        return 0.0 if self.interval is None else max(0.0, self.interval - self.age)

    @property
    def dear(self) -> bool:
        """Whether to wait so long would cost as much as an order of its own."""
        return self.left * self.waiting.minor >= self.supplier.price.minor

    @property
    def send(self) -> bool:
        return not self.left or self.dear


@dataclass(frozen=True)
class Orders:
    """Everything that is to be ordered, and that is on its way."""

    baskets: tuple[Basket, ...]
    nowhere: Mapping[str, tuple[str, ...]]
    """By unit: parts to be bought that no supplier offers as wanted."""
    coming: tuple[tuple[str, str, Order], ...]
    """Unit, part and order of what is not here yet."""


def orders(store: Store, units: Sequence[OnBench] = ()) -> Orders:
    """What is to be ordered by what the units have reserved, and what ``units`` may need besides."""
    here, now = all_here(store), market.market(store)
    wants, nowhere = _wants(store, here, now)
    settings = bench_settings(store)
    rates = _rates(store, wants, settings)
    baskets = []
    for name, supplier in now.suppliers.items():
        own = tuple(one for one in wants if one.offer.supplier == name)
        if own:
            maybes = tuple(_maybes(units, own, [one for one in now.offers if one.supplier == name], supplier, settings))
            baskets.append(_basket(supplier, own, maybes, rates[name], settings, store.now()))
    coming = tuple((row.unit, part, order) for row in here for part, order in row.incoming.ordered.items())
    return Orders(tuple(baskets), nowhere, coming)


def _basket(
    supplier: market.Supplier,
    wants: tuple[Want, ...],
    maybes: tuple[Maybe, ...],
    rate: float,
    settings: BenchSettings,
    now: str,
) -> Basket:
    day = settings.waiting_day
    costs = supplier.price.minor > 0 and day.minor > 0
    return Basket(
        supplier,
        wants,
        maybes,
        total((one.offer.price for one in wants), settings.currency),
        order_interval(supplier.price.major, rate, day.major) if costs else None,
        max(minutes_between(one.since, now) for one in wants) / DAY,
        Money(day.currency, day.minor * len({one.unit for one in wants})),
    )


def _wants(store: Store, here: Iterable[Here], now: market.Market) -> tuple[list[Want], dict[str, tuple[str, ...]]]:
    """What is reserved from new or used, each with the offer of the accepted plan, else the cheapest."""
    stands = standing(store)
    chosen = {(one.unit, one.part): one.supplier for one in stands.plan.buying} if stands else {}
    wants: list[Want] = []
    nowhere: dict[str, tuple[str, ...]] = {}
    buying = [row for row in here if any(origin in ev.TO_BUY for origin in row.incoming.reserved.values())]
    logs = store.whole_logs([row.unit for row in buying])
    for row in buying:
        lines = logs[row.unit]
        for part, origin in row.incoming.reserved.items():
            if origin in ev.TO_BUY:
                offers = [one for one in now.offers if (one.map, one.part, one.condition) == (row.map, part, origin)]
                named = [one for one in offers if one.supplier == chosen.get((row.unit, part))]
                best = min(named or offers, key=lambda one: one.price.minor, default=None)
                if best:
                    wants.append(Want(row.unit, best, _since(lines, part)))
                else:
                    nowhere[row.unit] = (*nowhere.get(row.unit, ()), part)
    return wants, nowhere


def _since(lines: Sequence[Line], part: str) -> str:
    held = effective(lines)[0]
    return next(line.time for line in reversed(held) if isinstance(line.event, ev.Reserved) and line.event.part == part)


def _rates(store: Store, wants: Iterable[Want], settings: BenchSettings) -> dict[str, float]:
    """By supplier: parts wanted in a day, by what was ordered in the last period and what is wanted now."""
    counts: dict[str, int] = {}
    for want in wants:
        counts[want.offer.supplier] = counts.get(want.offer.supplier, 0) + 1
    since = (datetime.fromisoformat(store.now()) - timedelta(days=settings.period)).strftime("%Y-%m-%dT%H:%M:%SZ")
    for lines in store.whole_logs(store.units_with("ordered", since=since)).values():
        for line in effective(lines)[0]:
            recent = minutes_between(line.time, store.now()) <= settings.period * DAY
            if isinstance(line.event, ev.Ordered) and recent:
                counts[line.event.supplier] = counts.get(line.event.supplier, 0) + 1
    return {name: count / settings.period for name, count in counts.items()}


def _maybes(
    units: Iterable[OnBench],
    wants: Iterable[Want],
    offers: Iterable[market.Offers],
    supplier: market.Supplier,
    settings: BenchSettings,
) -> list[Maybe]:
    """The parts of units to be finished that may be needed, and pay to be ordered along."""
    wanted = {(one.unit, one.offer.part) for one in wants}
    by_key: dict[str, market.Offers] = {}
    for offer in sorted(offers, key=lambda one: -one.price.minor):
        by_key[offer.key] = offer
    found = []
    for unit in units:
        incoming = unit.log.state.incoming
        had = {*incoming.reserved, *incoming.ordered, *incoming.arrived}
        for suspect in unit.belief.suspects if unit.log.state.planned == "finish" else ():
            cheapest = by_key.get(f"{unit.device.id}/{suspect.part}")
            if cheapest and suspect.part not in had and (unit.unit, suspect.part) not in wanted:
                maybe = _maybe(unit.unit, cheapest, suspect.p_blocks, supplier, settings)
                found += [maybe] if maybe.pays else []
    return sorted(found, key=lambda one: one.with_it - one.without_it)


def _maybe(unit: str, offer: market.Offers, chance: float, supplier: market.Supplier, settings: BenchSettings) -> Maybe:
    costs = insurance_part(
        min(1.0, chance),
        supplier.price.major,
        float(supplier.days),
        settings.waiting_day.major,
        offer.price.major,
        settings.kept_share,
        settings.handling.major,
    )
    return Maybe(unit, offer, chance, costs.with_it, costs.without_it)


def send(store: Store, supplier: str, along: Iterable[str] = ()) -> tuple[dict[str, list[Line]], BenchEntry | None]:
    """Orders a supplier's basket, and parts ``along`` with it (``U2/lamp-module``): the lines of each unit, and the
    postage in the bench's log. All of it or nothing. Raises LineError."""
    with store.writing():
        now = market.market(store)
        if supplier not in now.suppliers:
            raise LineError(
                f"No supplier '{supplier}'. {similar(supplier, now.suppliers)}", nearest(supplier, now.suppliers)
            )
        wanted = [
            (one.unit, one.offer) for one in _wants(store, all_here(store), now)[0] if one.offer.supplier == supplier
        ]
        wanted += [_along(store, one, now, supplier) for one in along]
        if not wanted:
            raise LineError(f"Nothing is wanted from {supplier}. What is: knowngood orders")
        terms = now.suppliers[supplier]
        due = (date.fromisoformat(store.now()[:10]) + timedelta(days=terms.days)).isoformat()
        stored: dict[str, list[Line]] = {}
        for unit, offer in wanted:
            text = f"ordered {offer.part} {offer.condition} from {supplier} for {offer.price} due {due}"
            stored.setdefault(unit, []).extend(log_lines(store, unit, [text]))
        postage = f"paid {terms.price} for postage to {supplier}"
        return stored, market.change(store, [postage])[0] if terms.price.minor else None


def _along(store: Store, text: str, now: market.Market, supplier: str) -> tuple[str, market.Offers]:
    """The unit and offer of a part that is ordered along."""
    unit, _, part = text.partition("/")
    name = store.unit_id(unit)
    device = store.device(name)
    offers = [one for one in now.offers if one.supplier == supplier and one.map == device.id]
    fitting = [one for one in offers if one.part == part]
    if not fitting:
        have = sorted({one.part for one in offers})
        near = similar(part, have)
        raise LineError(f"'{text}': {supplier} offers no '{part}' for {device.id}. {near}", nearest(part, have))
    return name, min(fitting, key=lambda one: one.price.minor)


@dataclass(frozen=True)
class Woken:
    """A unit that parts arrived for."""

    unit: str
    parts: tuple[str, ...]
    still: tuple[str, ...]
    """Parts that it goes on waiting for."""


def arrive(store: Store, supplier: str, parts: Iterable[str] = ()) -> list[Woken]:
    """Logs that what was ordered from a supplier is here, all of it or only ``parts`` (``U3/exhaust-fan``).

    Raises LineError if nothing, or not that, is on order there.
    """
    with store.writing():
        coming = [(row.unit, part, order) for row in all_here(store) for part, order in row.incoming.ordered.items()]
        from_there = [(unit, part) for unit, part, order in coming if order.supplier == supplier]
        if not from_there:
            names = {order.supplier for _, _, order in coming}
            near = similar(supplier, names) if names else "Nothing is."
            raise LineError(f"Nothing is on order from '{supplier}'. {near}", nearest(supplier, names))
        chosen = from_there
        if named := [(unit.upper(), part) for unit, _, part in (one.partition("/") for one in parts)]:
            on_order = [f"{unit}/{part}" for unit, part in from_there]
            for unit, part in named:
                if (unit, part) not in from_there:
                    what = f"{unit}/{part}"
                    raise LineError(f"'{what}' is not on order from {supplier}. {similar(what, on_order)}")
            chosen = named
        here: dict[str, list[str]] = {}
        for unit, part in chosen:
            here.setdefault(unit, []).append(part)
        for unit, arrived in here.items():
            log_lines(store, unit, [f"arrived {part}" for part in arrived])
        left = {unit: [part for one, part, _ in coming if one == unit and part not in here[unit]] for unit in here}
    return [Woken(unit, tuple(arrived), tuple(left[unit])) for unit, arrived in here.items()]
