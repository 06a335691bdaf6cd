"""A shelf problem: what can be done with each unit, and everything that they have to share.

This is all that the solver knows. Each unit goes one of its ways (finished, sold as it is, parted out, kept whole as a
donor, left to wait). A way may have needs, each met by one of its alternatives (mend, take a part, do without), and it
may give items (parts out of the unit). An item goes to one need, to one outlet (sold loose, kept for units likely to
come) or nowhere. Parts may also be bought. Hands-on minutes, demands, items and offers are shared by the whole shelf.

All money is in whole minor units of one currency, all times in whole minutes. What is only expected (a sale price times
its odds, the cost of a part that may prove bad) enters rounded to the nearest minor unit: a plan's worth is exact for
the figures here, and these are expectations. All ids are the caller's words, and an answer is made of them.

A *key* is what a need asks for and a part can serve as, usually ``MAP/PART`` or ``MAP/PART@REVISION``. A part that fits
several revisions serves several keys. A married group is one item, and a key of its own for the group
(``MAP/PART+PART``), so it moves as a whole.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

from knowngood.errors import ProblemError


@dataclass(frozen=True)
class Demand:
    """Buyers of one sort of thing, or the units likely to come that would want it: what takes only so much.

    ``steps``: what the first, second, ... brings besides the value that whoever goes there has of its own; never
    rising, nothing after the last. For parts kept for units likely to come: worth times the chance that so many are
    wanted.
    """

    id: str
    most: int | None = None
    """How many it takes; None is no limit."""
    steps: tuple[int, ...] = ()


@dataclass(frozen=True)
class Outlet:
    """Where an item can go other than to a unit, known by its demand."""

    demand: str
    value: int = 0
    minutes: int = 0


@dataclass(frozen=True, kw_only=True)
class _Tested:
    """A part that is good with ``chance``: a need that takes it has it tested first (``test_minutes``), and if it then
    proves bad that costs ``if_bad``: what it takes to meet the need in another way after all."""

    test_minutes: int = 0
    chance: float = 1.0
    if_bad: int = 0

    @property
    def risk(self) -> int:
        """Expected cost of its proving bad, to the nearest minor unit."""
        return round((1.0 - self.chance) * self.if_bad)


@dataclass(frozen=True)
class Item(_Tested):
    """One part, or one married group, that can be used once. Its cost and minutes count only if it is used."""

    id: str
    serves: frozenset[str] = frozenset()
    """Keys that it can serve as."""
    outlets: tuple[Outlet, ...] = ()
    minutes: int = 0
    """To get it out and clean it, for any use."""
    cost: int = 0
    """For any use."""

    @property
    def outlay(self) -> int:
        """What it costs a need that takes it."""
        return self.cost + self.risk

    @property
    def hands(self) -> int:
        """Minutes to make it ready for a need."""
        return self.minutes + self.test_minutes


@dataclass(frozen=True)
class Supplier:
    id: str
    postage: int
    """Once for an order, whatever is in it."""


@dataclass(frozen=True)
class Offer(_Tested):
    """What a supplier sells, each at ``price``."""

    id: str
    supplier: str
    serves: frozenset[str]
    price: int
    days: int = 0
    """Until it is here."""
    most: int | None = None

    @property
    def outlay(self) -> int:
        """What it costs a need that takes it, without postage."""
        return self.price + self.risk

    @property
    def hands(self) -> int:
        """Minutes to make it ready for a need."""
        return self.test_minutes


@dataclass(frozen=True)
class Alternative:
    """One manner of meeting a need: at ``cost`` and ``minutes``, with one part for each key in ``takes``.

    ``mend`` takes nothing; so does doing without, whose cost is what the declared fault takes off the price. Whether a
    part that is taken comes from the shelf, a donor or a supplier is for the plan to say: its own cost comes on top.
    """

    id: str
    cost: int = 0
    minutes: int = 0
    takes: tuple[str, ...] = ()


@dataclass(frozen=True)
class Need:
    """What has to be settled if a unit goes this way: by exactly one alternative."""

    id: str
    alternatives: tuple[Alternative, ...]


@dataclass(frozen=True)
class Way:
    """One thing to do with a unit. ``value`` is expected, before needs and minutes; it may be below zero."""

    id: str
    value: int = 0
    minutes: int = 0
    demands: tuple[str, ...] = ()
    """One place is used of each; a donor kept whole may use one for each part that it would serve with."""
    needs: tuple[Need, ...] = ()
    gives: tuple[Item, ...] = ()
    """Items that there are only if the unit goes this way."""
    within: int | None = None
    """Days by which a bought part has to be here; None is any time."""


@dataclass(frozen=True)
class Unit:
    """A unit, or (with ``inside``) an assembly in one, which is there only if that unit goes that way."""

    id: str
    ways: tuple[Way, ...]
    inside: tuple[str, str] | None = None
    """Unit and way that it comes out of; such a unit stands before it in the problem."""


@dataclass(frozen=True)
class Problem:
    """A whole shelf. Raises ProblemError, with every finding, if its ids or figures do not fit together."""

    units: tuple[Unit, ...]
    items: tuple[Item, ...] = ()
    """Loose parts that are there already."""
    demands: tuple[Demand, ...] = ()
    suppliers: tuple[Supplier, ...] = ()
    offers: tuple[Offer, ...] = ()
    minutes: int | None = None
    """Hands-on minutes in the period; None is no limit."""
    hour: int = 0
    """What an hour of hands-on time must bring at least: taken off the worth of a plan for the minutes it takes."""

    def __post_init__(self) -> None:
        findings = list(_findings(self))
        if findings:
            raise ProblemError(findings)

    @cached_property
    def unit(self) -> dict[str, Unit]:
        return {unit.id: unit for unit in self.units}

    @cached_property
    def way(self) -> dict[tuple[str, str], Way]:
        """By unit and way."""
        return {(unit.id, way.id): way for unit in self.units for way in unit.ways}

    @cached_property
    def item(self) -> dict[str, Item]:
        """Every item, on the shelf or in a unit."""
        given = (item for unit in self.units for way in unit.ways for item in way.gives)
        return {item.id: item for item in (*self.items, *given)}

    @cached_property
    def demand(self) -> dict[str, Demand]:
        return {demand.id: demand for demand in self.demands}

    @cached_property
    def supplier(self) -> dict[str, Supplier]:
        return {supplier.id: supplier for supplier in self.suppliers}

    @cached_property
    def offer(self) -> dict[str, Offer]:
        return {offer.id: offer for offer in self.offers}


def _findings(problem: Problem) -> Iterator[str]:
    """What does not fit, one sentence each."""
    yield from _twice("unit", [unit.id for unit in problem.units])
    yield from _twice("demand", [demand.id for demand in problem.demands])
    yield from _twice("supplier", [supplier.id for supplier in problem.suppliers])
    yield from _twice(
        "item or offer",
        [item.id for item in problem.items]
        + [offer.id for offer in problem.offers]
        + [i for unit in problem.units for i in {item.id for way in unit.ways for item in way.gives}],
    )
    for name, number in (("minutes", problem.minutes), ("hour", problem.hour)):
        yield from _negative(f"shelf: {name}", number)
    for demand in problem.demands:
        yield from _negative(f"demand {demand.id}: most", demand.most)
        if any(later > before for before, later in zip(demand.steps, demand.steps[1:], strict=False)):
            yield f"demand {demand.id}: steps {demand.steps} rise; each must bring at most what the one before it does"
    for supplier in problem.suppliers:
        yield from _negative(f"supplier {supplier.id}: postage", supplier.postage)
    suppliers = {supplier.id for supplier in problem.suppliers}
    for offer in problem.offers:
        yield from _part(f"offer {offer.id}", offer)
        for name, number in (("price", offer.price), ("days", offer.days), ("most", offer.most)):
            yield from _negative(f"offer {offer.id}: {name}", number)
        if offer.supplier not in suppliers:
            yield f"offer {offer.id}: no supplier {offer.supplier}"
    demands = {demand.id for demand in problem.demands}
    for item in problem.items:
        yield from _item(f"item {item.id}", item, demands)
    before: dict[str, Unit] = {}
    for unit in problem.units:
        yield from _unit(unit, before, demands)
        before[unit.id] = unit


def _unit(unit: Unit, before: dict[str, Unit], demands: set[str]) -> Iterator[str]:
    where = f"unit {unit.id}"
    yield from _twice(f"{where}: way", [way.id for way in unit.ways])
    if not unit.ways:
        yield f"{where}: no way to go; give at least one, such as waiting"
    if unit.inside is not None:
        outer = before.get(unit.inside[0])
        if outer is None or unit.inside[1] not in {way.id for way in outer.ways}:
            yield f"{where}: inside {' '.join(unit.inside)}, which is no way of a unit before it"
    given: dict[str, Item] = {}
    for way in unit.ways:
        here = f"{where}: {way.id}"
        yield from _negative(f"{here}: minutes", way.minutes)
        yield from _twice(f"{here}: need", [need.id for need in way.needs])
        yield from _twice(f"{here}: item", [item.id for item in way.gives])
        yield from (f"{here}: no demand {one}" for one in way.demands if one not in demands)
        for need in way.needs:
            yield from _twice(f"{here}: {need.id}: alternative", [one.id for one in need.alternatives])
            if not need.alternatives:
                yield f"{here}: {need.id}: no alternative; a need that nothing meets is a way that is not there"
            for one in need.alternatives:
                yield from _negative(f"{here}: {need.id}: {one.id}: minutes", one.minutes)
        for item in way.gives:
            yield from _item(f"{here}: {item.id}", item, demands)
            if given.setdefault(item.id, item) != item:
                yield f"{here}: {item.id} is not as another way of this unit gives it; give it a name of its own"


def _item(where: str, item: Item, demands: set[str]) -> Iterator[str]:
    yield from _part(where, item)
    yield from _negative(f"{where}: minutes", item.minutes)
    yield from _twice(f"{where}: outlet", [outlet.demand for outlet in item.outlets])
    for outlet in item.outlets:
        yield from _negative(f"{where}: {outlet.demand}: minutes", outlet.minutes)
        if outlet.demand not in demands:
            yield f"{where}: no demand {outlet.demand}"


def _part(where: str, part: _Tested) -> Iterator[str]:
    yield from _negative(f"{where}: test_minutes", part.test_minutes)
    if not 0.0 <= part.chance <= 1.0:
        yield f"{where}: chance {part.chance}; it lies between 0 and 1"


def _negative(where: str, number: int | None) -> Iterator[str]:
    if number is not None and number < 0:
        yield f"{where} {number}; not below 0"


def _twice(what: str, ids: list[str]) -> Iterator[str]:
    yield from (f"{what} {one} is there {count} times" for one, count in Counter(ids).items() if count > 1)
