"""A plan for a shelf, and what it is worth: counted from what it says, without any solver."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from knowngood.money.shelf.problem import Item, Offer, Problem, Way

SIXTIETHS = 60
"""A worth is counted in sixtieths of a minor unit, in which a minute at so much an hour is a whole number."""


@dataclass(frozen=True)
class Met:
    """How a need is met: ``sources`` are the items or offers taken, one for each key that the alternative takes."""

    alternative: str
    sources: tuple[str, ...] = ()


@dataclass(frozen=True)
class Plan:
    """What is done with everything, by id. What is not named is left as it is."""

    ways: Mapping[str, str]
    """Way of each unit; a unit inside another is not named unless it comes out."""
    met: Mapping[tuple[str, str], Met]
    """By unit and need."""
    outlets: Mapping[str, str]
    """Demand that each item goes to, of those that go to one."""

    def orders(self) -> Counter[str]:
        """How many are bought by each offer or used of each item (then 1)."""
        return Counter(source for met in self.met.values() for source in met.sources)


@dataclass(frozen=True)
class Tally:
    """A plan's figures: expected ``money`` in minor units, hands-on ``minutes``, and both in one ``worth``."""

    money: int
    minutes: int
    worth: int
    """Money less what the minutes must bring, in sixtieths of a minor unit."""
    taken: Mapping[str, int]
    """Places used of each demand."""
    bought: Mapping[str, int]
    """Parts bought by each offer."""
    suppliers: frozenset[str]
    """Those ordered from."""


def tally(problem: Problem, plan: Plan) -> Tally:
    """Adds a plan up. The plan must hold (``broken`` finds nothing in it)."""
    money, minutes = 0, 0
    taken: Counter[str] = Counter()
    for unit, chosen in plan.ways.items():
        way = problem.way[unit, chosen]
        money += way.value
        minutes += way.minutes
        taken.update(way.demands)
        for need in way.needs:
            met = plan.met[unit, need.id]
            alternative = next(one for one in need.alternatives if one.id == met.alternative)
            money -= alternative.cost
            minutes += alternative.minutes
    used = plan.orders()
    bought = {source: count for source, count in used.items() if source in problem.offer}
    for source, count in used.items():
        part: Item | Offer = problem.offer[source] if source in bought else problem.item[source]
        money -= count * part.outlay
        minutes += count * part.hands
    for source, demand in plan.outlets.items():
        item = problem.item[source]
        outlet = next(one for one in item.outlets if one.demand == demand)
        money += outlet.value - item.cost
        minutes += outlet.minutes + item.minutes
        taken[demand] += 1
    money += sum(sum(problem.demand[one].steps[:count]) for one, count in taken.items())
    suppliers = frozenset(problem.offer[one].supplier for one in bought)
    money -= sum(problem.supplier[one].postage for one in suppliers)
    return Tally(money, minutes, SIXTIETHS * money - problem.hour * minutes, dict(taken), bought, suppliers)


def broken(problem: Problem, plan: Plan) -> list[str]:
    """What of the problem a plan does not keep to, one sentence each; nothing if it holds."""
    found = list(_ways_broken(problem, plan)) or list(_uses_broken(problem, plan))
    if not found:
        sums = tally(problem, plan)
        found += [
            f"demand {one}: {count} go to it, of at most {problem.demand[one].most}"
            for one, count in sums.taken.items()
            if (most := problem.demand[one].most) is not None and count > most
        ]
        found += [
            f"offer {one}: {count} bought, of at most {problem.offer[one].most}"
            for one, count in sums.bought.items()
            if (most := problem.offer[one].most) is not None and count > most
        ]
        if problem.minutes is not None and sums.minutes > problem.minutes:
            found.append(f"{sums.minutes} minutes of {problem.minutes}")
    return found


def present(problem: Problem, ways: Mapping[str, str]) -> Iterator[str]:
    """The units that are there if so many go those ways: all but assemblies that stay inside."""
    there: set[str] = set()
    for unit in problem.units:
        if unit.inside is None or (unit.inside[0] in there and ways.get(unit.inside[0]) == unit.inside[1]):
            there.add(unit.id)
            yield unit.id


def _ways_broken(problem: Problem, plan: Plan) -> Iterator[str]:
    there = set(present(problem, plan.ways))
    for unit in there | set(plan.ways):
        if unit not in there:
            yield f"unit {unit}: goes a way, but is not there"
        elif unit not in plan.ways:
            yield f"unit {unit}: goes no way"
        elif (unit, plan.ways[unit]) not in problem.way:
            yield f"unit {unit}: no way {plan.ways[unit]}"


def _uses_broken(problem: Problem, plan: Plan) -> Iterator[str]:
    ways = {unit: problem.way[unit, way] for unit, way in plan.ways.items()}
    items = {item.id for item in problem.items} | {item.id for way in ways.values() for item in way.gives}
    needed = {(unit, need.id) for unit, way in ways.items() for need in way.needs}
    yield from (f"unit {unit}: {need} is met, but not needed" for unit, need in plan.met.keys() - needed)
    for unit, way in ways.items():
        yield from _needs_broken(problem, plan, unit, way, items)
    uses = Counter(source for source in plan.orders().elements() if source not in problem.offer)
    uses.update(plan.outlets.keys())
    yield from (f"item {item}: used {count} times" for item, count in uses.items() if count > 1)
    for item, demand in plan.outlets.items():
        if item not in items:
            yield f"item {item}: goes to {demand}, but is not there"
        elif demand not in {outlet.demand for outlet in problem.item[item].outlets}:
            yield f"item {item}: cannot go to {demand}"


def _needs_broken(problem: Problem, plan: Plan, unit: str, way: Way, items: set[str]) -> Iterator[str]:
    for need in way.needs:
        where, met = f"unit {unit}: {need.id}", plan.met.get((unit, need.id))
        takes = {one.id: one.takes for one in need.alternatives}.get(met.alternative) if met else None
        if met is None or takes is None or len(takes) != len(met.sources):
            yield f"{where}: not met by one of its alternatives in full"
            continue
        for key, source in zip(takes, met.sources, strict=True):
            offer = problem.offer.get(source)
            if offer is None and source not in items:
                yield f"{where}: takes {source}, which is not there"
            elif key not in (offer or problem.item[source]).serves:
                yield f"{where}: takes {source}, which does not serve as {key}"
            elif offer is not None and way.within is not None and offer.days > way.within:
                yield f"{where}: {source} takes {offer.days} days, and {way.within} are left"
