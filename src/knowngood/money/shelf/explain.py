"""Why a plan is as it is: what each unit's way gains over its next best, and what one more of a scarce thing is worth.

Each question is answered by solving the whole shelf once more with one thing changed, one after the other. What is not
proved to the last within its share of the time comes back as an interval, ``least`` to ``most``: the worth of the plan
that was found, and the bound on any. All worths are in sixtieths of a minor unit, as a plan's.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from math import inf
from threading import Event
from time import perf_counter

from knowngood.errors import ProblemError, StoppedError
from knowngood.money.shelf.plan import tally
from knowngood.money.shelf.problem import Item, Problem
from knowngood.money.shelf.solve import Answer, solve


@dataclass(frozen=True)
class Margin:
    """What the shelf would lose if a unit could not go the way it goes."""

    unit: str
    way: str
    instead: str | None
    """Where it would go in the best plan found then, with everything else arranged anew; None if there is no plan."""
    least: int
    most: int | None
    """None if there is no plan without this way, or none was found in the time."""

    @property
    def exact(self) -> bool:
        return self.least == self.most


@dataclass(frozen=True)
class Price:
    """What one more of a scarce thing would bring."""

    kind: str
    """``hour``, ``part``, ``demand`` or ``offer``."""
    id: str
    """Key of the part, id of the demand or offer; empty for the hour."""
    least: int
    most: int

    @property
    def exact(self) -> bool:
        return self.least == self.most


@dataclass(frozen=True)
class Explanation:
    """``left_out`` are the units and scarce things, by the words of ``Price``, for which there was no time."""

    margins: tuple[Margin, ...]
    prices: tuple[Price, ...]
    left_out: tuple[str, ...]


def explain(
    problem: Problem,
    answer: Answer,
    *,
    units: Iterable[str] | None = None,
    scarce: bool = True,
    each: float = 5.0,
    seconds: float = inf,
    progress: Callable[[int, int], None] | None = None,
    stop: Event | None = None,
) -> Explanation:
    """Margins of ``units`` (by itself all that are there) and prices of what is scarce in a plan.

    A question gets at most ``each`` seconds and all together ``seconds``; ``stop``, or Ctrl-C, ends the rest.
    ``progress`` hears how many are answered, and of how many.
    """
    end, stop = perf_counter() + seconds, stop or Event()
    asked = [("unit", unit) for unit in (answer.plan.ways if units is None else units)]
    if scarce:
        asked += _scarce(problem, answer)
    margins: list[Margin] = []
    prices: list[Price] = []
    left_out: list[str] = []
    for number, (kind, name) in enumerate(asked):
        time = min(each, end - perf_counter())
        if time <= 0.0 or stop.is_set():
            left_out.append(f"{kind} {name}".strip())
            continue
        if kind == "unit":
            margins.append(_margin(problem, answer, name, time, stop))
        else:
            prices.append(_price(problem, answer, kind, name, time, stop))
        if progress is not None:
            progress(number + 1, len(asked))
    return Explanation(tuple(margins), tuple(prices), tuple(left_out))


def _margin(problem: Problem, answer: Answer, unit: str, seconds: float, stop: Event) -> Margin:
    way = answer.plan.ways[unit]
    try:
        other = solve(problem, seconds=seconds, start=answer.plan, forbid=[(unit, way)], stop=stop)
    except (ProblemError, StoppedError):
        return Margin(unit, way, None, 0, None)
    return Margin(unit, way, other.plan.ways.get(unit), max(0, answer.worth - other.bound), answer.bound - other.worth)


def _price(problem: Problem, answer: Answer, kind: str, name: str, seconds: float, stop: Event) -> Price:
    more = solve(one_more(problem, kind, name), seconds=seconds, start=answer.plan, stop=stop)
    return Price(kind, name, max(0, more.worth - answer.bound), more.bound - answer.worth)


def one_more(problem: Problem, kind: str, name: str) -> Problem:
    """The shelf with one more hour, place of a demand, part in an offer, or part that serves as a key.

    The part is a good one that lies ready on the shelf, for these units alone: what it could be sold for is not in it.
    """
    if kind == "hour":
        return replace(problem, minutes=(problem.minutes or 0) + 60)
    if kind == "part":
        return replace(problem, items=(*problem.items, Item(f"one more {name}", frozenset([name]))))
    if kind == "demand":
        demands = (replace(one, most=(one.most or 0) + 1) if one.id == name else one for one in problem.demands)
        return replace(problem, demands=tuple(demands))
    offers = (replace(one, most=(one.most or 0) + 1) if one.id == name else one for one in problem.offers)
    return replace(problem, offers=tuple(offers))


def _scarce(problem: Problem, answer: Answer) -> Iterator[tuple[str, str]]:
    """What may be scarce: limits that the plan comes to, and every kind of part that a way of a unit there could take.

    The hour counts if less than one is left.
    """
    sums = tally(problem, answer.plan)
    if problem.minutes is not None and problem.minutes - sums.minutes < 60:
        yield "hour", ""
    for demand in problem.demands:
        if demand.most is not None and sums.taken.get(demand.id, 0) >= demand.most:
            yield "demand", demand.id
    for offer in problem.offers:
        if offer.most is not None and sums.bought.get(offer.id, 0) >= offer.most:
            yield "offer", offer.id
    ways = (way for unit in answer.plan.ways for way in problem.unit[unit].ways)
    yield from (
        ("part", key)
        for key in dict.fromkeys(
            key for way in ways for need in way.needs for one in need.alternatives for key in one.takes
        )
    )
