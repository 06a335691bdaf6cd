"""What the person rules out for a unit, and takes back."""

from __future__ import annotations

from typing import ClassVar, Literal

from knowngood.log.events.line import NAME, WORDS, Event, Text


class Lacks(Event):
    """A tool is not here, or a part is not to be had: nothing that takes it is proposed from then on."""

    form: ClassVar[str] = "lacks tool|part NAME"
    example: ClassVar[str] = "lacks tool heat camera"
    pattern: ClassVar[str] = rf"(?P<sort>tool|part) (?P<name>{WORDS})"
    verb: Literal["lacks"] = "lacks"
    sort: Literal["tool", "part"]
    name: Text

    def words(self) -> str:
        return f"{self.sort} {self.name}"


class Has(Event):
    """What was lacking is here."""

    form: ClassVar[str] = "has tool|part NAME"
    example: ClassVar[str] = "has part exhaust-fan"
    pattern: ClassVar[str] = Lacks.pattern
    verb: Literal["has"] = "has"
    sort: Literal["tool", "part"]
    name: Text

    def words(self) -> str:
        return f"{self.sort} {self.name}"


class Deferred(Event):
    """Not now: a part is left alone, a test not made, an access step not opened until it is resumed."""

    form: ClassVar[str] = "deferred PART|TEST|STEP"
    example: ClassVar[str] = "deferred lamp-module"
    pattern: ClassVar[str] = rf"(?P<name>{NAME})"
    verb: Literal["deferred"] = "deferred"
    name: str

    def words(self) -> str:
        return self.name


class Resumed(Event):
    """What was put off may be done again."""

    form: ClassVar[str] = "resumed PART|TEST|STEP"
    example: ClassVar[str] = "resumed lamp-module"
    pattern: ClassVar[str] = rf"(?P<name>{NAME})"
    verb: Literal["resumed"] = "resumed"
    name: str

    def words(self) -> str:
        return self.name
