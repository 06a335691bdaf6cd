"""The best plan of a small shelf by going through all of them: written from what a problem means, not from the program.

Only what can never be right again is left out early: too many minutes, a demand or offer used beyond its limit.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from knowngood.money.shelf.problem import Item, Need, Offer, Problem, Way


class TooMany(Exception):
    """More steps than allowed."""


class EveryPlan:
    """``best`` is the worth of the best plan in sixtieths of a minor unit, None if there is no plan."""

    def __init__(self, problem: Problem, most: int) -> None:
        self.problem, self.left = problem, most
        self.best: int | None = None
        self.plans = 0
        self.money = self.minutes = 0
        self.used: Counter[str] = Counter()
        self.taken: Counter[str] = Counter()
        self.ways: dict[str, str] = {}
        self._units(0)

    def _spend(self, money: int, minutes: int) -> bool:
        self.left -= 1
        if self.left < 0:
            raise TooMany
        self.money += money
        self.minutes += minutes
        return self.problem.minutes is None or self.minutes <= self.problem.minutes

    def _back(self, money: int, minutes: int) -> None:
        self.money -= money
        self.minutes -= minutes

    def _room(self, demand: str) -> bool:
        most = self.problem.demand[demand].most
        return most is None or self.taken[demand] <= most

    def _units(self, number: int) -> None:
        if number == len(self.problem.units):
            chosen = [self.problem.way[one] for one in self.ways.items()]
            items = {item.id: item for way in chosen for item in way.gives}
            items.update({item.id: item for item in self.problem.items})
            self._needs([(way, need) for way in chosen for need in way.needs], items)
            return
        unit = self.problem.units[number]
        if unit.inside is not None and self.ways.get(unit.inside[0]) != unit.inside[1]:
            self._units(number + 1)
            return
        for way in unit.ways:
            self.taken.update(way.demands)
            self.ways[unit.id] = way.id
            if self._spend(way.value, way.minutes) and all(self._room(one) for one in way.demands):
                self._units(number + 1)
            self._back(way.value, way.minutes)
            del self.ways[unit.id]
            self.taken.subtract(way.demands)

    def _needs(self, needs: list[tuple[Way, Need]], items: dict[str, Item]) -> None:
        if not needs:
            self._outlets([item for item in items.values() if not self.used[item.id]])
            return
        (way, need), *others = needs
        for one in need.alternatives:
            if self._spend(-one.cost, one.minutes):
                for _ in self._parts(way, list(one.takes), items):
                    self._needs(others, items)
            self._back(-one.cost, one.minutes)

    def _parts(self, way: Way, keys: list[str], items: dict[str, Item]) -> Iterator[None]:
        """Every choice of parts for these keys, each in force while it is yielded."""
        if not keys:
            yield
            return
        parts: list[Item | Offer] = [item for item in items.values() if not self.used[item.id]]
        for offer in self.problem.offers:
            in_time = way.within is None or offer.days <= way.within
            if in_time and (offer.most is None or self.used[offer.id] < offer.most):
                parts.append(offer)
        for part in parts:
            if keys[0] not in part.serves:
                continue
            money = -part.risk - (part.price if isinstance(part, Offer) else part.cost)
            minutes = part.test_minutes + (0 if isinstance(part, Offer) else part.minutes)
            self.used[part.id] += 1
            if self._spend(money, minutes):
                yield from self._parts(way, keys[1:], items)
            self._back(money, minutes)
            self.used[part.id] -= 1

    def _outlets(self, items: list[Item]) -> None:
        if not items:
            self._count()
            return
        item, *others = items
        self._outlets(others)
        for outlet in item.outlets:
            self.taken[outlet.demand] += 1
            money, minutes = outlet.value - item.cost, outlet.minutes + item.minutes
            if self._spend(money, minutes) and self._room(outlet.demand):
                self._outlets(others)
            self._back(money, minutes)
            self.taken[outlet.demand] -= 1

    def _count(self) -> None:
        self.plans += 1
        steps = sum(sum(self.problem.demand[one].steps[:count]) for one, count in self.taken.items())
        ordered = {offer.supplier for offer in self.problem.offers if self.used[offer.id]}
        postage = sum(one.postage for one in self.problem.suppliers if one.id in ordered)
        worth = 60 * (self.money + steps - postage) - self.problem.hour * self.minutes
        self.best = worth if self.best is None else max(self.best, worth)
