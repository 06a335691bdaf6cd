"""The timetable of the bench: every unit's next move, what cures and what is on order, as the clock stands."""

from __future__ import annotations

from dataclasses import dataclass

from knowngood.bench.questions import turns
from knowngood.bench.store import Store, utc_now
from knowngood.bench.work import replayed
from knowngood.log.incoming import Order
from knowngood.log.state import Replay, minutes_between
from knowngood.plan.several import Turn
from knowngood.plan.timetable.solve import EFFORT
from knowngood.plan.timetable.strip import Ring, Strip, strip
from knowngood.plan.timetable.work import Work, held_now, work_of


@dataclass(frozen=True)
class Due:
    """A part on order for a unit."""

    unit: str
    part: str
    order: Order


@dataclass(frozen=True)
class Day:
    """The timetable from a moment on."""

    now: str
    """UTC, ISO 8601."""
    strip: Strip
    rang: tuple[Ring, ...]
    """What was over before now, and whose unit has had no line since; the longest ago first."""
    due: tuple[Due, ...]
    currencies: tuple[str, ...]
    """Of the units' gains."""
    troubles: dict[str, str]
    """Units that there is no advice for, and why."""


def timetable_of(store: Store, minutes: float, effort: float = EFFORT) -> Day:
    """What to do in the next minutes. Nothing of it is kept: it is made anew from the logs and the clock each time."""
    found, troubles = turns(store)
    now = utc_now()
    works = [_work(turn, now) for turn in found]
    held: dict[str, float] = {}
    curing: list[Ring] = []
    rang: list[Ring] = []
    due: list[Due] = []
    for unit in [*(turn.unit for turn in found), *troubles]:
        device, told = replayed(store, unit)
        lain = _lain(told, now)
        for tool, left in held_now(device, told.state).items():
            if left > lain:
                held[tool] = max(held.get(tool, 0.0), left - lain)
        for part, left in told.state.curing.items():
            then = _then(works, unit, part) if left > lain else ""
            (curing if left > lain else rang).append(Ring(unit, f"{part} cured", left - lain, then))
        due += [Due(unit, part, order) for part, order in told.state.incoming.ordered.items()]
    return Day(
        now,
        strip(works, minutes, held, curing, effort),
        tuple(sorted(rang, key=lambda one: (one.at, one.unit))),
        tuple(sorted(due, key=lambda one: (one.order.due or "9", one.unit, one.part))),
        tuple(sorted({turn.currency for turn in found})),
        troubles,
    )


def _work(turn: Turn, now: str) -> Work:
    told = turn.advice.asked.replay
    return work_of(turn, _lain(told, now), minutes_between(told.now, now))


def _lain(told: Replay, now: str) -> float:
    return minutes_between(told.lines[-1].time, now)


def _then(works: list[Work], unit: str, part: str) -> str:
    """What a unit's cure is waited for, where that is why it waits."""
    waits = (one for one in works if one.turn.unit == unit and one.cures)
    return next((one.move.do for one in waits if one.turn.advice.best.move.target == part), "")
