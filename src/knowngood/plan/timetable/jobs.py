"""Jobs for one pair of hands and single tools, and what an order of their phases comes to.

All times are whole ticks from now on. A phase takes the hands and then goes on alone; every schedule in which nothing
could start earlier is fixed by the order in which the hands take the phases, so an order is all that is searched for.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field


@dataclass(frozen=True)
class Phase:
    """One go of the hands on a job, and what then takes its time without them."""

    hands: int
    """At least one tick."""
    alone: int = 0
    tools: frozenset[str] = frozenset()
    """Taken as long as the hands are on it."""
    holds: frozenset[str] = frozenset()
    """Taken until it is over alone as well."""


@dataclass(frozen=True)
class Job:
    """Phases in their order; each tick until the last of them is over costs ``weight``."""

    name: str
    weight: int
    phases: tuple[Phase, ...]
    ready: int = 0
    """The first tick at which it may start."""


@dataclass(frozen=True)
class Slot:
    """One phase in the timetable."""

    job: int
    phase: int
    start: int
    hands_free: int
    over: int
    """When its time alone is over, too."""


@dataclass(frozen=True)
class Problem:
    """All jobs, and the tools that something holds now, with the tick until which it does."""

    jobs: tuple[Job, ...]
    held: Mapping[str, int] = field(default_factory=dict)


Order = Sequence[int]
"""The jobs in the order in which the hands turn to them, each as often as it has phases."""


def placed(problem: Problem, order: Order) -> tuple[Slot, ...]:
    """The phases at the earliest at which they can start in that order."""
    hands, tools = 0, dict(problem.held)
    at = [job.ready for job in problem.jobs]
    done = [0] * len(problem.jobs)
    slots = []
    for number in order:
        phase = problem.jobs[number].phases[done[number]]
        taken = phase.tools | phase.holds
        start = max(hands, at[number], *(tools.get(tool, 0) for tool in taken)) if taken else max(hands, at[number])
        hands = start + phase.hands
        over = hands + phase.alone
        for tool in taken:
            tools[tool] = over if tool in phase.holds else hands
        slots.append(Slot(number, done[number], start, hands, over))
        at[number] = over
        done[number] += 1
    return tuple(slots)


def cost(problem: Problem, slots: Sequence[Slot]) -> int:
    """Sum over the jobs of weight times the tick at which the last phase is over."""
    last = {slot.job: slot.over for slot in slots}
    return sum(job.weight * last[number] for number, job in enumerate(problem.jobs))
