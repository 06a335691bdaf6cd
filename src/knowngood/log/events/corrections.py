"""What takes an earlier line back, or brings it again."""

from __future__ import annotations

from typing import ClassVar, Literal

from pydantic import Field

from knowngood.log.events.line import Event


class Undid(Event):
    """An earlier line is taken back; the log remembers that it was there."""

    form: ClassVar[str] = "undid NUMBER"
    example: ClassVar[str] = "undid 7"
    pattern: ClassVar[str] = r"(?P<line>\d+)"
    verb: Literal["undid"] = "undid"
    line: int = Field(ge=1)

    def words(self) -> str:
        return str(self.line)


class Redid(Event):
    """A line that was taken back holds again."""

    form: ClassVar[str] = "redid NUMBER"
    example: ClassVar[str] = "redid 7"
    pattern: ClassVar[str] = r"(?P<line>\d+)"
    verb: Literal["redid"] = "redid"
    line: int = Field(ge=1)

    def words(self) -> str:
        return str(self.line)
