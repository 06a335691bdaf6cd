"""What every line of a log is made of: the base of all events, and the patterns and types that they share."""

from __future__ import annotations

from contextlib import suppress
from datetime import date
from typing import Annotated, ClassVar, Self

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, model_validator

ALL = "all"
"""In ``closed all``: every step that is open."""

BACK = "back"
"""In ``fitted PART from back``: the part that came out of this unit goes in again."""

IDLE = "idle"
"""In ``drew VALUE at idle``: with power and nothing started."""

TO_BUY = ("new", "used")
"""In ``fitted PART from new`` and ``reserved PART from used``: a part that is bought, out of no unit of the bench."""

NAME = r"[a-z0-9][a-z0-9.-]*"
MONEY = r"[A-Z]{3} ?-?\d+(?:[.,]\d+)?"
TIME = r"\d+(?:[.,]\d+)? ?(?:min|h)"
UNIT = "unit"
"""In ``put unit in PLACE`` and ``scrapped unit``: the whole of it."""
WORDS = r"(?:(?! -- | in \d).)+?"
"""Free words in front of the tail."""
PLACE = rf"(?!\d){WORDS}"
"""Where a thing lies, after ``in``; one that began with a digit would be read as a time."""
TAIL = rf"(?: in (?P<minutes>{TIME}))?(?: -- (?P<note>\S.*))?$"


def _one_line(value: object) -> object:
    return " ".join(value.split()) if isinstance(value, str) else value


def _tenths(value: object) -> object:
    return round(value, 1) if isinstance(value, float) else value


def time(minutes: float) -> str:
    return f"{minutes / 60:.0f} h" if minutes and minutes % 60 == 0 else f"{minutes:.10g} min"


Name = Annotated[str, Field(pattern=rf"^{NAME}$")]
Text = Annotated[str, BeforeValidator(_one_line), Field(min_length=1)]


def _day(value: object) -> object:
    """A day as ISO 8601 writes it, and in no other way: what is typed is what is read back."""
    with suppress(ValueError):
        if isinstance(value, str) and date.fromisoformat(value).isoformat() == value:
            return value
    raise ValueError(f"{value!r} is not a day. Write it as 2026-12-03.")


Day = Annotated[str, BeforeValidator(_day)]
"""A day, ISO 8601."""
Tenths = Annotated[float, BeforeValidator(_tenths), Field(ge=0)]


class Event(BaseModel):
    """Base of all events. ``form`` is how it is typed, ``example`` one that is right."""

    model_config = ConfigDict(frozen=True, extra="forbid", arbitrary_types_allowed=True)
    form: ClassVar[str]
    example: ClassVar[str]
    pattern: ClassVar[str]

    minutes: Tenths | None = None
    note: Annotated[str, BeforeValidator(_one_line)] = ""

    def words(self) -> str:
        """The line between the verb and the tail."""
        raise NotImplementedError


class Reasoned(Event):
    """Base of events that say nothing without their remark. ``reason`` is what a person reads who left it out."""

    reason: ClassVar[str]

    @model_validator(mode="after")
    def _with_its_reason(self) -> Self:
        if not self.note:
            raise ValueError(self.reason)
        return self
