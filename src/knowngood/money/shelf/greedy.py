"""The sensible rule, to hold the optimum against: the best unit first, with what is there when its turn comes.

Every unit begins at rest (the way that takes least). Then units are taken up one by one, the one first that gains most
for each minute, and each gets the parts that cost it least of those left: from the shelf, out of a unit already taken
apart, or bought (the first to buy from a supplier pays the postage). Units that are worth most as parts are taken apart
before the others or in one order with them, whichever comes out better. At last what is left of the parts is sold or
kept where it brings most.
"""

from __future__ import annotations

import heapq
from bisect import bisect_left, insort
from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from threading import Event

from knowngood.money.shelf.plan import SIXTIETHS, Met, Plan, tally
from knowngood.money.shelf.problem import Alternative, Item, Offer, Outlet, Problem, Unit, Way


def greedy(problem: Problem, stop: Event | None = None) -> Plan | None:
    """The plan of the sensible rule; None if the units at rest do not keep the limits, one after the other.

    Once ``stop`` is set no more units are taken up: the others stay at rest.
    """
    stop = stop or Event()
    plans = [plan for apart_first in (True, False) if (plan := _Shelf(problem, stop).fill(apart_first)) is not None]
    return max(plans, key=lambda plan: tally(problem, plan).worth, default=None)


@dataclass
class _Turn:
    """What one unit, and the assemblies that come out of it, do and use."""

    worth: int = 0
    hoped: int = 0
    """What the items that it gives would bring, sold or kept, beside what others hope for; not in ``worth``."""
    minutes: int = 0
    hoped_minutes: int = 0
    ways: dict[str, str] = field(default_factory=dict)
    met: dict[tuple[str, str], Met] = field(default_factory=dict)
    gives: tuple[Item, ...] = ()
    sources: Counter[str] = field(default_factory=Counter)
    taken: Counter[str] = field(default_factory=Counter)
    hoped_taken: Counter[str] = field(default_factory=Counter)

    @property
    def total(self) -> int:
        return self.worth + self.hoped

    @property
    def all_minutes(self) -> int:
        return self.minutes + self.hoped_minutes

    def copy(self) -> _Turn:
        mine = {name: getattr(self, name).copy() for name in ("ways", "met", "sources", "taken", "hoped_taken")}
        return replace(self, **mine)


class _Shelf:
    """What is left of everything while units are taken up."""

    def __init__(self, problem: Problem, stop: Event) -> None:
        self.problem, self.stop = problem, stop
        self.minutes = 0
        """Those of ``turns``, with what is hoped to be sold, until it is (``_sell``)."""
        self.turns: dict[str, _Turn] = {}
        self.taken: Counter[str] = Counter()
        self.hoped: Counter[str] = Counter()
        self.bought: Counter[str] = Counter()
        """By offer; ``orders`` are these by supplier."""
        self.orders: Counter[str] = Counter()
        self.used: set[str] = set()
        self.ready: dict[str, list[tuple[int, str]]] = defaultdict(list)
        """Items there and not used, and offers, that serve as a key: what each costs, the cheapest first."""
        self.inside: dict[tuple[str, str], list[Unit]] = defaultdict(list)
        for unit in problem.units:
            if unit.inside is not None:
                self.inside[unit.inside].append(unit)
        parts: tuple[Item | Offer, ...] = (*problem.items, *problem.offers)
        for part in parts:
            self._put(part)

    def fill(self, apart_first: bool) -> Plan | None:
        tops = [unit for unit in self.problem.units if unit.inside is None]
        for unit in tops:
            turns = [turn for way in unit.ways if (turn := self._turn(_Turn(), unit, way)) and self._fits(turn)]
            if not turns:
                return None
            self._go(min(turns, key=lambda turn: (turn.sources.total(), turn.minutes, turn.taken.total())), unit)
        if apart_first:
            self._take_up([unit for unit in tops if self._best_alone(unit).gives])
        self._take_up(tops)
        self._take_up(tops)
        outlets = self._sell()
        ways = {unit: way for turn in self.turns.values() for unit, way in turn.ways.items()}
        return Plan(ways, {need: met for turn in self.turns.values() for need, met in turn.met.items()}, outlets)

    def _best_alone(self, unit: Unit) -> _Turn:
        turns = [turn for way in unit.ways if (turn := self._turn(_Turn(), unit, way)) is not None]
        return max([self.turns[unit.id], *turns], key=lambda turn: turn.total)

    def _take_up(self, units: Iterable[Unit]) -> None:
        """Moves units to better ways, the most gain for each minute first, as long as there is one."""
        queue: list[tuple[float, int]] = []
        moves = [(unit, way) for unit in units for way in unit.ways]
        for number, (unit, way) in enumerate(moves):
            if not self.stop.is_set() and (better := self._better(unit, way)) is not None:
                heapq.heappush(queue, (-better[0], number))
        while queue and not self.stop.is_set():
            rank, number = heapq.heappop(queue)
            unit, way = moves[number]
            better = self._better(unit, way)
            if better is None:
                continue
            if better[0] < -rank and queue and better[0] < -queue[0][0]:
                heapq.heappush(queue, (-better[0], number))
            else:
                self._leave(unit)
                self._go(better[1], unit)

    def _better(self, unit: Unit, way: Way) -> tuple[float, _Turn] | None:
        """Gain for each minute more of going this way, and how; None if there is no gain, or no room."""
        before = self.turns[unit.id]
        if before.ways[unit.id] == way.id or any(item.id in self.used for item in before.gives):
            return None
        self._leave(unit)
        turn = self._turn(_Turn(), unit, way)
        if turn is not None and not self._fits(turn):
            turn = None
        self._go(before, unit)
        if turn is None or turn.total <= before.total:
            return None
        return (turn.total - before.total) / max(1, turn.all_minutes - before.all_minutes), turn

    def _fits(self, turn: _Turn) -> bool:
        return self.problem.minutes is None or self.minutes + turn.all_minutes <= self.problem.minutes

    def _turn(self, turn: _Turn, unit: Unit, way: Way) -> _Turn | None:
        """The turn, once this unit goes this way too, as things stand; None if a demand is full or a need not met."""
        turn.ways[unit.id] = way.id
        turn.worth += SIXTIETHS * way.value - self.problem.hour * way.minutes
        turn.minutes += way.minutes
        turn.gives += way.gives
        for demand in way.demands:
            step = self._step(demand, turn.taken[demand])
            if step is None:
                return None
            turn.worth += SIXTIETHS * step
            turn.taken[demand] += 1
        for need in way.needs:
            met = [met for one in need.alternatives if (met := self._meet(turn, way, one)) is not None]
            if not met:
                return None
            cost, minutes, how = min(met, key=lambda one: one[0])
            turn.worth -= cost
            turn.minutes += minutes
            turn.met[unit.id, need.id] = how
            turn.sources.update(how.sources)
        for item in way.gives:
            self._hope(turn, item)
        for inner in self.inside[unit.id, way.id]:
            turns = [more for one in inner.ways if (more := self._turn(turn.copy(), inner, one)) is not None]
            if not turns:
                return None
            turn = max(turns, key=lambda one: one.total)
        return turn

    def _step(self, demand: str, more: int = 0) -> int | None:
        """What the next place of a demand brings, after so many more; None if there is none."""
        one, count = self.problem.demand[demand], self.taken[demand] + more
        if one.most is not None and count >= one.most:
            return None
        return one.steps[count] if count < len(one.steps) else 0

    def _hope(self, turn: _Turn, item: Item) -> None:
        """Counts an item at the outlet that brings most, with the places that are not hoped for yet."""
        best, at = 0, None
        for one in item.outlets:
            gain = self._gain(item, one, turn.taken[one.demand] + turn.hoped_taken[one.demand] + self.hoped[one.demand])
            if gain is not None and gain > best:
                best, at = gain, one
        if at is not None:
            turn.hoped += best
            turn.hoped_minutes += item.minutes + at.minutes
            turn.hoped_taken[at.demand] += 1

    def _gain(self, item: Item, outlet: Outlet, more: int = 0) -> int | None:
        step = self._step(outlet.demand, more)
        if step is None:
            return None
        return SIXTIETHS * (outlet.value + step - item.cost) - self.problem.hour * (outlet.minutes + item.minutes)

    def _meet(self, turn: _Turn, way: Way, one: Alternative) -> tuple[int, int, Met] | None:
        """Cost, minutes, and with what: the cheapest parts that the unit does not have yet."""
        cost, minutes, sources = SIXTIETHS * one.cost + self.problem.hour * one.minutes, one.minutes, list[str]()
        for key in one.takes:
            mine = Counter(sources) + turn.sources
            best: tuple[int, str] | None = None
            for price, source in self.ready[key]:
                if best is not None and price >= best[0]:
                    break
                offer = self.problem.offer.get(source)
                if offer is None and source in mine:
                    continue
                if offer is not None:
                    if self._sold_out(offer, mine) or (way.within is not None and offer.days > way.within):
                        continue
                    price += SIXTIETHS * self._postage(offer, mine)
                if best is None or price < best[0]:
                    best = (price, source)
            if best is None:
                return None
            cost += best[0]
            minutes += self._part(best[1]).hands
            sources.append(best[1])
        return cost, minutes, Met(one.id, tuple(sources))

    def _sold_out(self, offer: Offer, mine: Counter[str]) -> bool:
        return offer.most is not None and self.bought[offer.id] + mine[offer.id] >= offer.most

    def _postage(self, offer: Offer, mine: Counter[str]) -> int:
        """To be paid still, if something of this offer is bought."""
        mine_too = (self.problem.offer[one].supplier for one in mine if one in self.problem.offer)
        if self.orders[offer.supplier] or offer.supplier in mine_too:
            return 0
        return self.problem.supplier[offer.supplier].postage

    def _part(self, source: str) -> Item | Offer:
        return self.problem.offer.get(source) or self.problem.item[source]

    def _price(self, part: Item | Offer) -> tuple[int, str]:
        return SIXTIETHS * part.outlay + self.problem.hour * part.hands, part.id

    def _put(self, part: Item | Offer) -> None:
        for key in part.serves:
            insort(self.ready[key], self._price(part))

    def _remove(self, item: Item) -> None:
        for key in item.serves:
            del self.ready[key][bisect_left(self.ready[key], self._price(item))]

    def _go(self, turn: _Turn, unit: Unit) -> None:
        self.turns[unit.id] = turn
        self.minutes += turn.all_minutes
        self.taken.update(turn.taken)
        self.hoped.update(turn.hoped_taken)
        for item in turn.gives:
            self._put(item)
        for source, count in turn.sources.items():
            if (offer := self.problem.offer.get(source)) is not None:
                self.bought[source] += count
                self.orders[offer.supplier] += count
            else:
                self.used.add(source)
                self._remove(self.problem.item[source])

    def _leave(self, unit: Unit) -> None:
        turn = self.turns.pop(unit.id)
        self.minutes -= turn.all_minutes
        self.taken.subtract(turn.taken)
        self.hoped.subtract(turn.hoped_taken)
        for item in turn.gives:
            self._remove(item)
        for source, count in turn.sources.items():
            if (offer := self.problem.offer.get(source)) is not None:
                self.bought[source] -= count
                self.orders[offer.supplier] -= count
            else:
                self.used.remove(source)
                self._put(self.problem.item[source])

    def _sell(self) -> dict[str, str]:
        """Each part that is left goes where it brings most, the best first, while there are places and minutes."""
        self.minutes = sum(turn.minutes for turn in self.turns.values())
        given = [item for turn in self.turns.values() for item in turn.gives]
        left = [item for item in (*self.problem.items, *given) if item.id not in self.used]
        moves = [(item, outlet) for item in left for outlet in item.outlets]
        queue = [(-gain, number) for number, one in enumerate(moves) if (gain := self._gain(*one)) is not None]
        heapq.heapify(queue)
        sold: dict[str, str] = {}
        while queue:
            rank, number = heapq.heappop(queue)
            item, outlet = moves[number]
            gain, minutes = self._gain(item, outlet), item.minutes + outlet.minutes
            no_room = self.problem.minutes is not None and self.minutes + minutes > self.problem.minutes
            if item.id in sold or gain is None or gain <= 0 or no_room:
                continue
            if gain < -rank:
                heapq.heappush(queue, (-gain, number))
                continue
            sold[item.id] = outlet.demand
            self.minutes += minutes
            self.taken[outlet.demand] += 1
        return sold
