"""The next minutes of the timetable as a person reads it: what to do, what rings, what has to wait and for what."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from knowngood.plan.timetable.jobs import Problem, Slot
from knowngood.plan.timetable.solve import EFFORT, Timetable, timetable
from knowngood.plan.timetable.work import TICKS, Work, problem_of


@dataclass(frozen=True)
class Stretch:
    """Minutes of the hands on one unit."""

    work: Work
    start: float
    """Minutes from now."""
    minutes: float
    first: bool
    """Whether it is the unit's next move; else what follows it, as long as that takes in the mean."""
    alone: float = 0.0
    """What then goes on without hands."""


@dataclass(frozen=True)
class Ring:
    """Something that is over at some time."""

    unit: str
    what: str
    at: float
    """Minutes from now; below zero if it is past, and nothing was logged for the unit since."""
    then: str = ""
    """What it is waited for, where that is known."""
    planned: bool = False
    """It is not running yet: it rings then if it is started as the timetable says."""


@dataclass(frozen=True)
class Idle:
    """A unit that cannot be started now."""

    unit: str
    why: str
    until: float | None
    """Minutes from now; None: until a person says so."""


@dataclass(frozen=True)
class Strip:
    """What the hands do in the minutes asked for."""

    stretches: tuple[Stretch, ...]
    rings: tuple[Ring, ...]
    idle: tuple[Idle, ...]
    later: tuple[str, ...]
    """Units that could be started but do not get their turn in these minutes, in their order."""
    found: Timetable


def strip(
    works: Iterable[Work],
    minutes: float,
    held: Mapping[str, float],
    curing: Sequence[Ring] = (),
    effort: float = EFFORT,
) -> Strip:
    """The next ``minutes`` of the best timetable over all units.

    ``held`` are tools that something keeps, with the minutes left; ``curing`` what rings whatever is done now.
    """
    works = tuple(works)
    able = [work for work in works if not work.put_off]
    problem = problem_of(able, held)
    found = timetable(problem, effort)
    slots = sorted(found.slots, key=lambda slot: slot.start)
    stretches = [one for slot in slots for one in _stretches(able[slot.job], problem, slot) if one.start < minutes]
    turned_to = {one.work.turn.unit for one in stretches}
    idle = [*_idle(works, held)]
    waiting = {one.unit for one in idle}
    order = dict.fromkeys(able[slot.job].turn.unit for slot in slots)
    rings = [*curing, *_cooling(able), *(one for each in stretches if (one := _ring(each)))]
    return Strip(
        tuple(stretches),
        tuple(sorted(rings, key=lambda one: (one.at, one.unit))),
        tuple(sorted(idle, key=lambda one: (one.until is None, one.until or 0.0, one.unit))),
        tuple(unit for unit in order if unit not in turned_to | waiting),
        found,
    )


def _stretches(work: Work, problem: Problem, slot: Slot) -> list[Stretch]:
    start, minutes = slot.start / TICKS, (slot.hands_free - slot.start) / TICKS
    if slot.phase:
        return [Stretch(work, start, minutes, first=False)]
    alone = len(problem.jobs[slot.job].phases) == 1 and work.rest > 0.0
    if not alone:
        return [Stretch(work, start, minutes, first=True, alone=work.alone)]
    own = min(minutes, work.move.minutes)
    going_on = Stretch(work, start + own, minutes - own, first=False)
    return [Stretch(work, start, own, first=True), *([going_on] if going_on.minutes > 0.0 else [])]


def _ring(one: Stretch) -> Ring | None:
    if not one.alone:
        return None
    move = one.work.move
    what = {"dry": "dry", "ask": "answered by the seller"}.get(
        move.kind, f"{move.target} {'done' if move.test else 'cured'}"
    )
    return Ring(one.work.turn.unit, what, one.start + one.minutes + one.alone, planned=True)


def _cooling(works: Iterable[Work]) -> list[Ring]:
    return [Ring(work.turn.unit, "cool", work.cools, work.move.do) for work in works if work.cools]


def _idle(works: Iterable[Work], held: Mapping[str, float]) -> list[Idle]:
    found = []
    for work in works:
        unit, kept = work.turn.unit, {tool: held[tool] for tool in work.move.tools if held.get(tool)}
        if work.put_off:
            found.append(Idle(unit, work.put_off, None))
        elif work.cures:
            found.append(Idle(unit, f"Still curing: {work.turn.advice.best.move.target}.", work.cures))
        elif work.cools:
            found.append(Idle(unit, "It cools before it may be opened.", work.cools))
        elif kept:
            tool = max(kept, key=lambda one: kept[one])
            found.append(Idle(unit, f"The {tool} is on something that cures.", kept[tool]))
    return found
