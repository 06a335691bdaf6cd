"""Screws and other fasteners, counted out of an access step and in again."""

from __future__ import annotations

from typing import ClassVar, Literal

from pydantic import Field

from knowngood.log.events.line import NAME, Event

COUNTED = rf"(?P<step>{NAME}) (?P<count>\d+)(?: x (?P<sort>[A-Za-z0-9][A-Za-z0-9.-]*))?"


class _Counted(Event):
    pattern: ClassVar[str] = COUNTED
    step: str
    count: int = Field(ge=0)
    sort: str | None = None

    def words(self) -> str:
        return f"{self.step} {self.count}" + (f" x {self.sort}" if self.sort else "")


class Unscrewed(_Counted):
    """Fasteners came out of an access step: so many, of that sort (thread x length)."""

    form: ClassVar[str] = "unscrewed STEP COUNT [x SORT]"
    example: ClassVar[str] = "unscrewed cover-off 7 x M3x8"
    verb: Literal["unscrewed"] = "unscrewed"


class Screwed(_Counted):
    """Fasteners went into an access step again."""

    form: ClassVar[str] = "screwed STEP COUNT [x SORT]"
    example: ClassVar[str] = "screwed cover-off 6 x M3x8"
    verb: Literal["screwed"] = "screwed"
