"""The plan of the shelf in the words of the bench: what becomes of each unit, who takes what from whom, what to buy."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from threading import Event

from knowngood.bench.market import Offers
from knowngood.bench.shelf.accepted import Buy, UnitPlan
from knowngood.bench.shelf.building import Built, built, parts_of
from knowngood.bench.shelf.facts import Facts
from knowngood.money.shelf.explain import Explanation, explain
from knowngood.money.shelf.greedy import greedy
from knowngood.money.shelf.plan import Met, Plan, Tally, tally
from knowngood.money.shelf.problem import Alternative
from knowngood.money.shelf.solve import Answer, Progress, solve


@dataclass(frozen=True)
class Settled:
    """How one need of a unit is met: ``parts``, by which of the manners, with what from where."""

    parts: tuple[str, ...]
    how: str
    origin: str | None
    """A unit, ``new``, ``used``; None if nothing is taken."""
    offer: Offers | None
    chance: float
    """That what is taken is good."""


@dataclass(frozen=True)
class Going:
    """What becomes of one unit."""

    unit: str
    way: str
    settled: tuple[Settled, ...]
    gives: tuple[tuple[str, str], ...]
    """Parts that leave it, and what for: another unit, or the demand that they go to."""

    @property
    def plan(self) -> UnitPlan:
        """As it is accepted."""
        takes = {part: one.origin for one in self.settled if one.origin for part in one.parts}
        buys = tuple(
            Buy(self.unit, one.offer.part, one.offer.condition, one.offer.supplier, one.offer.price)
            for one in self.settled
            if one.offer
        )
        return UnitPlan(self.unit, self.way, takes, buys)


@dataclass(frozen=True)
class ShelfPlan:
    """The answer, with what it rests on."""

    facts: Facts
    built: Built
    answer: Answer
    sums: Tally
    rule: Tally | None
    """What the sensible rule comes to; None if it finds no plan."""
    units: tuple[Going, ...]
    why: Explanation | None = None


def planned(
    facts: Facts,
    *,
    build: Callable[[Facts], Built] = built,
    gap: float = 0.0,
    seconds: float = float("inf"),
    progress: Callable[[Progress], None] | None = None,
    why: Callable[[int, int], None] | None = None,
    stop: Event | None = None,
) -> ShelfPlan:
    """The best plan for the facts, or the best within ``gap``, after ``seconds``, or so far when ``stop`` is set.

    With ``why`` it is explained, which takes as long again at most; ``why`` is told how many questions of how many are
    answered.
    """
    made = build(facts)
    answer = solve(made.problem, gap=gap, seconds=seconds, progress=progress, stop=stop)
    rule = greedy(made.problem)
    units = [one.id for one in made.problem.units if one.id in answer.plan.ways and one.inside is None]
    explained = explain(made.problem, answer, units=units, seconds=seconds, progress=why, stop=stop) if why else None
    return ShelfPlan(
        facts,
        made,
        answer,
        tally(made.problem, answer.plan),
        tally(made.problem, rule) if rule else None,
        tuple(goings(made, answer.plan)),
        explained,
    )


def goings(made: Built, plan: Plan) -> Iterable[Going]:
    """What a plan means for each unit, in the order of the problem."""
    gone = _gone(made, plan)
    for unit in made.problem.units:
        if unit.id in plan.ways and unit.inside is None:
            way = made.problem.way[unit.id, plan.ways[unit.id]]
            settled = []
            for need in way.needs:
                met = plan.met[unit.id, need.id]
                alternative = next(one for one in need.alternatives if one.id == met.alternative)
                settled += list(_settled(made, need.id, alternative, met))
            yield Going(unit.id, way.id, tuple(settled), tuple(gone.get(unit.id, ())))


def _settled(made: Built, need: str, alternative: Alternative, met: Met) -> Iterable[Settled]:
    if not alternative.takes:
        yield Settled(tuple(need.split("+")), alternative.id, None, None, 1.0)
    for key, source in zip(alternative.takes, met.sources, strict=True):
        if source in made.offers:
            offer = made.offers[source]
            yield Settled(parts_of(key), alternative.id, offer.condition, offer, made.problem.offer[source].chance)
        else:
            chance = made.problem.item[source].chance
            yield Settled(parts_of(key), alternative.id, made.units[source], None, chance)


def _gone(made: Built, plan: Plan) -> Mapping[str, list[tuple[str, str]]]:
    """By unit: what leaves it, and what for."""
    found: dict[str, list[tuple[str, str]]] = {}
    for (taker, _), met in plan.met.items():
        for source in met.sources:
            if source in made.units:
                found.setdefault(made.units[source], []).append((_named(source), taker))
    for source, demand in plan.outlets.items():
        found.setdefault(made.units[source], []).append((_named(source), demand))
    return found


def _named(item: str) -> str:
    """The part that an item is, or the married group."""
    return item.partition("/")[2].partition("#")[0]
