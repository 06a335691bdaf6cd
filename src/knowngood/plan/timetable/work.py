"""From a unit's next move to a job: what of it is certain, and how long the rest takes in the mean.

Certain is the first move alone: what comes after it hangs on what it finds. The rest of the job is a stretch of the
hands as long as the plan behind the move takes in the mean, and what the job is worth is what going on gains over
stopping. Each minute that a unit is done later loses the same small share of that, whatever the share (own judgement),
so with nothing to wait for the hands go where an hour of them gains most, as ``plan.several`` has it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import ceil

from knowngood.log.state import State
from knowngood.maps.device import Device
from knowngood.plan.moves import Move
from knowngood.plan.several import Turn
from knowngood.plan.timetable.jobs import Job, Phase, Problem

TICKS = 10
"""In a minute."""


@dataclass(frozen=True)
class Work:
    """What a unit wants of the hands, in minutes from now."""

    turn: Turn
    move: Move
    """What is done first; where something cures, what the wait is for."""
    cools: float = 0.0
    """Until it may be opened."""
    cures: float = 0.0
    """Until what cures may be used."""
    put_off: str = ""
    """Why it is left lying, if that is a person's word."""
    alone: float = 0.0
    """After the move, without hands."""
    rest: float = 0.0
    """Hands that the job takes after the move, in the mean."""

    @property
    def ready(self) -> float:
        return max(self.cools, self.cures)


def work_of(turn: Turn, lain: float, late: float = 0.0) -> Work:
    """The work on a unit that had no hands on it for ``lain`` minutes, asked ``late`` minutes after its advice.

    What cools has done so since the last line at least: no line says when it was switched off.
    """
    best = turn.advice.best.move
    if best.kind == "wait" and best.wait == 0.0:
        return Work(turn, best.then or best, put_off=best.remark)
    move = best.then or best
    steps = turn.advice.asked.device.steps
    cooling = sum(steps[step].wait for step in move.opens)
    # Whatever else waits does so once the hands are off: it cures, dries, runs, or the seller has to answer.
    alone = move.wait - cooling + (max(0.0, move.test.runs - move.test.minutes) if move.test else 0.0)
    cures = max(0.0, best.wait - late) if best.kind == "wait" else 0.0
    rest = 0.0 if move.act.ends else max(0.0, turn.minutes - move.minutes)
    return Work(turn, move, max(0.0, cooling - lain), cures, alone=alone, rest=rest)


def held_now(device: Device, state: State) -> dict[str, float]:
    """Tools that stay on what cures, and for how many minutes still."""
    found: dict[str, float] = {}
    for part, left in state.curing.items():
        done = state.mended.get(part, ())
        remedy = device.parts[part].remedy(done[-1]) if done else device.parts[part].swap
        for tool in remedy.holds if remedy else ():
            found[tool] = max(found.get(tool, 0.0), left)
    return found


def problem_of(works: Iterable[Work], held: Mapping[str, float]) -> Problem:
    """The jobs of units that are not put off, in the same order."""
    works = tuple(works)
    single = frozenset(held).union(*(_holds(work) for work in works))
    return Problem(tuple(_job(work, single) for work in works), {tool: ticks(left) for tool, left in held.items()})


def _holds(work: Work) -> frozenset[str]:
    move = work.move
    if not work.alone:
        return frozenset()
    return frozenset(move.remedy.holds if move.remedy else move.tools if move.test else ())


def _job(work: Work, single: frozenset[str]) -> Job:
    """The rest of a job follows at once where nothing waits: to begin and leave it never pays."""
    holds = _holds(work)
    tools = frozenset(work.move.tools) & single
    first = max(work.move.minutes, work.turn.minutes) if work.move.act.ends else work.move.minutes
    if not work.alone and not tools:
        phases: tuple[Phase, ...] = (Phase(max(1, ticks(first + work.rest))),)
    else:
        phases = (Phase(max(1, ticks(first)), ticks(work.alone), tools, holds),)
        phases += (Phase(ticks(work.rest)),) if ticks(work.rest) else ()
    return Job(work.turn.unit, max(1, round(100 * work.turn.gain)), phases, ticks(work.ready))


def ticks(minutes: float) -> int:
    """Whole ticks, rounded up: nothing is ready before it is."""
    return ceil(round(minutes * TICKS, 6))
