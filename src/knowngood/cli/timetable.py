"""``knowngood timetable``: who gets the hands in the next minutes, and what rings when."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Annotated

import typer

from knowngood.cli.frame import Home, Json, answer, failing_plainly, opened

if TYPE_CHECKING:
    from knowngood.bench.timetable import Day
    from knowngood.cli.shapes import TimetableAnswer
    from knowngood.cli.timetable_shapes import RingShape, StretchShape
    from knowngood.plan.timetable.strip import Ring, Stretch


def timetable(
    minutes: Annotated[int, typer.Option("--minutes", min=1, max=1440, help="How far ahead, from now.")] = 40,
    home: Home = None,
    as_json: Json = False,
) -> None:
    """Says what to do on which unit in the next minutes, and when what cures, dries, cools or runs is over.

    One pair of hands, single tools. Each unit's next move is certain; what follows it takes what it takes in the mean,
    so ask again after each line. Nothing is kept: late or early, it is made anew from the logs and the clock.

    Example: knowngood timetable --minutes 40
    """
    with failing_plainly(as_json), opened(home) as store:
        from knowngood.bench.timetable import timetable_of
        from knowngood.cli import timetable_show

        answer(_shape(timetable_of(store, minutes), minutes), as_json, timetable_show.timetable)


def _shape(day: Day, minutes: float) -> TimetableAnswer:
    from knowngood.cli import timetable_shapes as shapes

    found = day.strip.found
    return shapes.TimetableAnswer(
        now=day.now,
        minutes=minutes,
        stretches=[_stretch(one, day.now) for one in day.strip.stretches],
        rings=[_ring(one, day.now) for one in day.strip.rings],
        rang=[_ring(one, day.now) for one in day.rang],
        idle=[
            shapes.IdleShape(
                unit=one.unit,
                why=one.why,
                until=None if one.until is None else _at(day.now, one.until),
                after=one.until,
            )
            for one in day.strip.idle
        ],
        due=[
            shapes.DueShape(unit=one.unit, part=one.part, supplier=one.order.supplier, due=one.order.due)
            for one in day.due
        ],
        later=list(day.strip.later),
        proved=found.proved,
        gap=found.gap,
        currencies=list(day.currencies),
        troubles=day.troubles,
    )


def _stretch(one: Stretch, now: str) -> StretchShape:
    from knowngood.cli import timetable_shapes as shapes

    move, unit = one.work.move, one.work.turn.unit
    return shapes.StretchShape(
        unit=unit,
        start=_at(now, one.start),
        after=one.start,
        minutes=one.minutes,
        first=one.first,
        move=move.do if one.first else f"On with it, as 'knowngood next {unit}' then says",
        kind=move.kind if one.first else None,
        target=move.target if one.first else None,
        log=move.log if one.first else None,
        log_seq=one.work.turn.advice.log_seq,
        opens=list(move.opens) if one.first else [],
        closes=list(move.closes) if one.first else [],
        tools=list(move.tools) if one.first else [],
        cautions=list(move.cautions) if one.first else [],
        precautions=list(move.precautions) if one.first else [],
        alone=one.alone,
    )


def _ring(one: Ring, now: str) -> RingShape:
    from knowngood.cli import timetable_shapes as shapes

    return shapes.RingShape(
        unit=one.unit, what=one.what, time=_at(now, one.at), after=one.at, then=one.then, planned=one.planned
    )


def _at(now: str, minutes: float) -> str:
    return (datetime.fromisoformat(now) + timedelta(minutes=minutes)).isoformat(timespec="seconds")
