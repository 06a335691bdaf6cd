"""The mixed-integer program of a shelf: columns and rows, for whatever solver; and a plan read back from its columns.

Parts that are alike in everything but their id are one stock (``_Stock``), and needs for the same key by the same day
are one pull (``_Pull``): what goes from a stock to a pull is one whole number. Which part of the stock goes to which of
the needs does not matter to the worth, and is settled when the plan is read back.

Rows, by name:

- ``way U``: a unit goes one of its ways (an assembly inside another: if it comes out).
- ``need U N``: if the unit goes the way, one alternative meets the need, else none.
- ``pull K``: what the alternatives chosen take is what the stocks send.
- ``stock S``: what a stock sends, to pulls and outlets, is what there is: on the shelf, or out of units taken apart.
- ``order O K``: nothing is bought where no order is placed; what is bought of an offer for one key is at most what
  could be pulled there, times whether the supplier's order is placed.
- ``offer O``, ``demand D``, ``minutes``: at most so many.
- ``steps D``: what goes to a demand fills its steps.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from knowngood.money.shelf.plan import SIXTIETHS, Met, Plan
from knowngood.money.shelf.problem import Alternative, Item, Need, Offer, Outlet, Problem, Unit, Way

Key = tuple[str, frozenset[str]]
"""A key, and the offers that would be here in time."""
Use = tuple[int, int]
"""A column and how much of something one of it uses."""


@dataclass(frozen=True)
class Row:
    name: str
    terms: tuple[Use, ...]
    low: int | None
    high: int | None


@dataclass(frozen=True)
class _Stock:
    """Items that are alike, or one offer."""

    serves: frozenset[str]
    outlets: tuple[Outlet, ...]
    minutes: int
    cost: int
    test_minutes: int
    risk: int
    offer: str | None = None

    @staticmethod
    def of(part: Item | Offer) -> _Stock:
        if isinstance(part, Offer):
            return _Stock(part.serves, (), 0, part.price, part.test_minutes, part.risk, part.id)
        return _Stock(part.serves, part.outlets, part.minutes, part.cost, part.test_minutes, part.risk)


@dataclass
class Program:
    """Maximise ``worth`` (sixtieths of a minor unit) over whole numbers between 0 and ``most``, within ``rows``."""

    problem: Problem
    worth: list[int] = field(default_factory=list)
    most: list[int] = field(default_factory=list)
    rows: list[Row] = field(default_factory=list)
    ways: dict[tuple[str, str], int] = field(default_factory=dict)
    """Column of each unit's way; a plan is made by these and ``alternatives``."""
    alternatives: dict[tuple[str, str, str, str], int] = field(default_factory=dict)
    """By unit, way, need, alternative; a need's only alternative has the column of its way."""
    sends: dict[tuple[_Stock, Key], int] = field(default_factory=dict)
    goes: dict[tuple[_Stock, str], int] = field(default_factory=dict)
    """Items of a stock that go to a demand."""
    orders: dict[str, int] = field(default_factory=dict)
    """Whether a supplier's order is placed."""

    def __post_init__(self) -> None:
        self._hands: list[Use] = []
        self._taken: dict[str, list[Use]] = defaultdict(list)
        self._pulled: dict[Key, list[Use]] = defaultdict(list)
        self._items: dict[_Stock, list[Use]] = defaultdict(list)
        self._loose: dict[_Stock, int] = defaultdict(int)
        self._steps: list[tuple[list[Use], list[int]]] = []
        self._in_time: dict[tuple[str, int | None], frozenset[str]] = {}
        for unit in self.problem.units:
            self._unit(unit)
        for item in self.problem.items:
            self._loose[_Stock.of(item)] += 1
        self._stocks()
        for demand in self.problem.demands:
            self._demand(demand.id)
        if self.problem.minutes is not None:
            self._row("minutes", self._hands, None, self.problem.minutes)

    def _column(self, money: int, minutes: int, most: int) -> int:
        self.worth.append(SIXTIETHS * money - self.problem.hour * minutes)
        self.most.append(most)
        column = len(self.most) - 1
        if minutes:
            self._hands.append((column, minutes))
        return column

    def _row(self, name: str, terms: Iterable[Use], low: int | None, high: int | None) -> None:
        summed: dict[int, int] = defaultdict(int)
        for column, factor in terms:
            summed[column] += factor
        self.rows.append(Row(name, tuple((column, factor) for column, factor in summed.items() if factor), low, high))

    def _unit(self, unit: Unit) -> None:
        terms: list[Use] = []
        for way in unit.ways:
            only = [need.alternatives[0] for need in way.needs if len(need.alternatives) == 1]
            money = way.value - sum(one.cost for one in only)
            column = self._column(money, way.minutes + sum(one.minutes for one in only), 1)
            self.ways[unit.id, way.id] = column
            terms.append((column, 1))
            for demand in way.demands:
                self._taken[demand].append((column, 1))
            for item in way.gives:
                self._items[_Stock.of(item)].append((column, 1))
            for need in way.needs:
                self._need(unit, way, need, column)
        if unit.inside is None:
            self._row(f"way {unit.id}", terms, 1, 1)
        else:
            self._row(f"way {unit.id}", [*terms, (self.ways[unit.inside], -1)], 0, 0)

    def _need(self, unit: Unit, way: Way, need: Need, way_column: int) -> None:
        terms: list[Use] = [(way_column, -1)]
        for one in need.alternatives:
            several = len(need.alternatives) > 1
            column = self._column(-one.cost, one.minutes, 1) if several else way_column
            terms.append((column, 1))
            self.alternatives[unit.id, way.id, need.id, one.id] = column
            for key in self._keys(way, one):
                self._pulled[key].append((column, 1))
        if len(need.alternatives) > 1:
            self._row(f"need {unit.id} {need.id}", terms, 0, 0)

    def _keys(self, way: Way, alternative: Alternative) -> list[Key]:
        """What an alternative takes. Keys with the same offers in time are the same, whatever the days."""
        for key in alternative.takes:
            if (key, way.within) not in self._in_time:
                self._in_time[key, way.within] = frozenset(
                    offer.id
                    for offer in self.problem.offers
                    if key in offer.serves and (way.within is None or offer.days <= way.within)
                )
        return [(key, self._in_time[key, way.within]) for key in alternative.takes]

    def _stocks(self) -> None:
        """What every stock can send where, and that no more comes out of it than there is."""
        wanted: dict[str, list[Key]] = defaultdict(list)
        for key in self._pulled:
            wanted[key[0]].append(key)
        sent: dict[Key, list[Use]] = defaultdict(list)
        for number, stock in enumerate(dict.fromkeys([*self._loose, *self._items])):
            out: list[Use] = []
            there = self._loose[stock] + len(self._items[stock])
            for key in (key for one in sorted(stock.serves) for key in wanted[one]):
                out.append((self._send(stock, key, there), 1))
                sent[key].append(out[-1])
            for outlet in stock.outlets:
                minutes = outlet.minutes + stock.minutes
                column = self._column(outlet.value - stock.cost, minutes, there)
                self.goes[stock, outlet.demand] = column
                self._taken[outlet.demand].append((column, 1))
                out.append((column, 1))
            less = [(column, -factor) for column, factor in self._items[stock]]
            self._row(f"stock {number}", [*out, *less], None, self._loose[stock])
        for supplier in self.problem.suppliers:
            self.orders[supplier.id] = self._column(-supplier.postage, 0, 1)
        for offer in self.problem.offers:
            self._offer(offer, [key for one in sorted(offer.serves) for key in wanted[one]], sent)
        for key, pulled in self._pulled.items():
            self._row(f"pull {key[0]}", [*sent[key], *((column, -factor) for column, factor in pulled)], 0, 0)

    def _send(self, stock: _Stock, key: Key, there: int) -> int:
        minutes = stock.minutes + stock.test_minutes
        column = self._column(-stock.cost - stock.risk, minutes, min(there, self._most(key)))
        self.sends[stock, key] = column
        return column

    def _most(self, key: Key) -> int:
        return sum(factor for _, factor in self._pulled[key])

    def _offer(self, offer: Offer, keys: Sequence[Key], sent: dict[Key, list[Use]]) -> None:
        out: list[Use] = []
        for key in (key for key in keys if offer.id in key[1]):
            most = self._most(key) if offer.most is None else min(self._most(key), offer.most)
            out.append((self._send(_Stock.of(offer), key, most), 1))
            sent[key].append(out[-1])
            self._row(f"order {offer.id} {key[0]}", [out[-1], (self.orders[offer.supplier], -most)], None, 0)
        if offer.most is not None:
            self._row(f"offer {offer.id}", out, None, offer.most)

    def _demand(self, name: str) -> None:
        demand, taken = self.problem.demand[name], self._taken[name]
        if not taken:
            return
        could = sum(factor * self.most[column] for column, factor in taken)
        most = could if demand.most is None else min(could, demand.most)
        if not demand.steps:
            if most < could:
                self._row(f"demand {name}", taken, None, most)
            return
        steps = [*demand.steps[:most], *[0] * (most - len(demand.steps))]
        filled = [self._column(step, 0, steps.count(step)) for step in dict.fromkeys(steps)]
        self._steps.append((taken, filled))
        self._row(f"steps {name}", [*taken, *((column, -1) for column in filled)], 0, 0)

    def plan(self, values: Sequence[int]) -> Plan:
        """The plan that whole-number values of the columns mean."""
        ways = {unit: way for (unit, way), column in self.ways.items() if values[column]}
        problem = self.problem
        parts: dict[_Stock, list[str]] = defaultdict(list)
        for item in problem.items:
            parts[_Stock.of(item)].append(item.id)
        for chosen in ways.items():
            for item in problem.way[chosen].gives:
                parts[_Stock.of(item)].append(item.id)
        ready: dict[Key, list[str]] = defaultdict(list)
        for (stock, key), column in self.sends.items():
            for _ in range(values[column]):
                ready[key].append(parts[stock].pop() if stock.offer is None else stock.offer)
        outlets: dict[str, str] = {}
        for (stock, demand), column in self.goes.items():
            for _ in range(values[column]):
                outlets[parts[stock].pop()] = demand
        met: dict[tuple[str, str], Met] = {}
        for (unit, name, need, one), column in self.alternatives.items():
            if values[column] and ways.get(unit) == name:
                way = problem.way[unit, name]
                chosen_one = next(a for n in way.needs if n.id == need for a in n.alternatives if a.id == one)
                met[unit, need] = Met(one, tuple(ready[key].pop() for key in self._keys(way, chosen_one)))
        return Plan(ways, met, outlets)

    def values(self, plan: Plan) -> list[int]:
        """Values of the columns that mean a plan: where a solver may begin."""
        problem, values = self.problem, [0] * len(self.most)
        for chosen in plan.ways.items():
            values[self.ways[chosen]] = 1
        for (unit, need), met in plan.met.items():
            name = plan.ways[unit]
            values[self.alternatives[unit, name, need, met.alternative]] = 1
            way = problem.way[unit, name]
            one = next(a for n in way.needs if n.id == need for a in n.alternatives if a.id == met.alternative)
            for key, source in zip(self._keys(way, one), met.sources, strict=True):
                part = problem.offer.get(source) or problem.item[source]
                values[self.sends[_Stock.of(part), key]] += 1
                if isinstance(part, Offer):
                    values[self.orders[part.supplier]] = 1
        for item, demand in plan.outlets.items():
            values[self.goes[_Stock.of(problem.item[item]), demand]] += 1
        for taken, filled in self._steps:
            left = sum(factor * values[column] for column, factor in taken)
            for column in filled:
                values[column] = min(left, self.most[column])
                left -= values[column]
        return values
