"""The JSON of intake and of photos."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from knowngood.cli.shape import Shape


class LackShape(Shape):
    """Something that intake still lacks."""

    what: str = Field(description="What it is")
    right: str = Field(description="The line or command that brings it")


class ReceivedShape(Shape):
    """One function as the unit came in, before the first act on it."""

    function: str = Field(description="Its name")
    what: str = Field(description="In words")
    promised: bool = Field(description="Whether a person pays for it")
    how: Literal["works", "weak", "fails", "not tried"] = Field(description="How it was as received")
    seq: int | None = Field(description="The line that says so; null if none does")
    why: str = Field(description="Why it was not tried, or what forbids to try it now; empty if nothing does")
    log: str = Field(description="The line that would say it; empty if one does")


class WeightShape(Shape):
    """What the unit weighs."""

    kilograms: float = Field(description="As weighed last, kg")
    expected: float | None = Field(description="By its map, kg; null if that does not say")
    says: str = Field(description="What the difference may mean")


class DisputeShape(Shape):
    """Until when the purchase can be disputed."""

    until: str = Field(description="The last day, ISO 8601")
    days_left: int = Field(description="Days left: 0 on that day, below zero after it")
    says: str = Field(description="The same in words")


class PhotoShape(Shape):
    """A stored photo, its bytes as they were given."""

    seq: int = Field(description="Number of the line that names it")
    target: str = Field(
        description="What it shows: `unit`, `serial` (left out of what a buyer gets), a part, connection, step, test "
        "or function"
    )
    when: Literal["before", "after"] | None = Field(description="Before or after the work that it shows, if said")
    file: str = Field(description="Its file name in the folder")


class QuarantineShape(Shape):
    """The unit is kept apart."""

    seq: int = Field(description="The line that says so")
    why: str = Field(description="Why")
    days: int = Field(description="For how many days")
    ends_by: list[str] = Field(description="The lines that end it, in order")


class IntakeAnswer(Shape):
    """`knowngood intake`"""

    unit: str = Field(description="The unit's name")
    log_seq: int = Field(description="The unit's last line, up to which this answer goes")
    began: int = Field(description="The line with which it came in: the purchase, or the return by a buyer")
    ended: int | None = Field(description="The first act on it, which ended intake; null while it lasts")
    back: str | None = Field(description="What its buyer said, if it came back")
    lacks: list[LackShape] = Field(description="What is lacking, the most urgent first; empty once intake has ended")
    chart: list[ReceivedShape] = Field(description="What it did as it was received, every function that is tried")
    serials: dict[str, str] = Field(description="Serial numbers by part; `unit` is the one on the outside")
    differs: list[str] = Field(description="Serials that differ from when it was sold, in words")
    weight: WeightShape | None = Field(description="Null if it was not weighed")
    dispute: DisputeShape | None = Field(description="Null if no line says until when it can be disputed")
    quarantine: QuarantineShape | None = Field(description="Null if it is in none")
    lock: Literal["none", "locked"] | None = Field(description="Account lock as seen last; null if nobody looked")
    photos: list[PhotoShape] = Field(description="All photos of the unit, in the order of the log")
    folder: str = Field(description="Where they are")
    remarks: list[str] = Field(description="What was noted during intake")
    cautions: list[str] = Field(description="What can hurt")


class PhotoAnswer(Shape):
    """`knowngood photo`"""

    unit: str = Field(description="The unit's name")
    log_seq: int = Field(description="The unit's last line")
    photos: list[PhotoShape] = Field(description="The photos that were stored")
    folder: str = Field(description="Where they are")
