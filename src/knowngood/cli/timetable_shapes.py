"""The shapes of the timetable."""

from __future__ import annotations

from pydantic import Field

from knowngood.cli.shape import Shape


class StretchShape(Shape):
    """Minutes of the hands on one unit."""

    unit: str = Field(description="The unit's name")
    start: str = Field(description="When it begins, UTC, ISO 8601")
    after: float = Field(description="Minutes from now until then")
    minutes: float = Field(description="Hands-on minutes")
    first: bool = Field(
        description="Whether it is the unit's next move; else the rest of its job, as long as that takes in the mean"
    )
    move: str = Field(description="What to do, in words")
    kind: str | None = Field(description="Kind of the move, as in `next`; null for the rest of a job")
    target: str | None = Field(description="The part or test it is about; null for the rest of a job")
    log: str | None = Field(description="The line to log, as in `next`; null for the rest of a job")
    log_seq: int = Field(description="The unit's last line, up to which this goes")
    opens: list[str] = Field(description="Access steps to open first, in this order")
    closes: list[str] = Field(description="Access steps to close first")
    tools: list[str] = Field(description="Tools that it takes")
    cautions: list[str] = Field(description="What can hurt here, in words")
    precautions: list[str] = Field(description="What must be in place; without it a hard rule forbids the move")
    alone: float = Field(description="Minutes that it then goes on without hands: curing, drying, running")


class RingShape(Shape):
    """Something that is over at some time."""

    unit: str = Field(description="The unit's name")
    what: str = Field(description="What is over then")
    time: str = Field(description="When, UTC, ISO 8601")
    after: float = Field(description="Minutes from now until then; below zero if it is past")
    then: str = Field(description="What it is waited for; empty where that is not known")
    planned: bool = Field(description="It is not running yet, and rings then if it is started as the timetable says")


class IdleShape(Shape):
    """A unit that cannot be started now."""

    unit: str = Field(description="The unit's name")
    why: str = Field(description="Why, in words")
    until: str | None = Field(description="Until when, UTC, ISO 8601; null: until a person says so")
    after: float | None = Field(description="Minutes from now until then")


class DueShape(Shape):
    """A part on order."""

    unit: str = Field(description="The unit it is for")
    part: str = Field(description="The part's name")
    supplier: str = Field(description="Where it was ordered")
    due: str | None = Field(description="The day it ought to be here, ISO 8601; null where none was named")


class TimetableAnswer(Shape):
    """`knowngood timetable`"""

    now: str = Field(description="The moment it is made for, UTC, ISO 8601")
    minutes: float = Field(description="Minutes that were asked for")
    stretches: list[StretchShape] = Field(description="What the hands do that begins in these minutes, in order")
    rings: list[RingShape] = Field(description="What cures, dries, cools or runs, the next to ring first")
    rang: list[RingShape] = Field(
        description="What was over before now and whose unit has had no line since, the longest ago first"
    )
    idle: list[IdleShape] = Field(description="Units that cannot be started now, and why")
    due: list[DueShape] = Field(description="Parts on order, the next due day first")
    later: list[str] = Field(description="Units that could be started but get no turn in these minutes, in their order")
    proved: bool = Field(description="Whether it is proved that no other order is better")
    gap: float = Field(description="Share of what waiting costs that another order may save at most; 0 if proved")
    currencies: list[str] = Field(description="Currencies of the units' gains; of several, figures are taken as equal")
    troubles: dict[str, str] = Field(description="Units that there is no advice for, and why")
