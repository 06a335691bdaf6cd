"""What was found out about a unit: seen, read, tried, told."""

from __future__ import annotations

from typing import ClassVar, Literal

from knowngood.log.events.line import NAME, WORDS, Event, Text


class Past(Event):
    """Something is now known of the unit's past."""

    form: ClassVar[str] = "past PAST"
    example: ClassVar[str] = "past opened-before"
    pattern: ClassVar[str] = r"(?P<what>[a-z-]+)"
    verb: Literal["past"] = "past"
    what: str

    def words(self) -> str:
        return self.what


class Asked(Event):
    """The seller was asked what happened to the unit; what they say did is logged as a past each."""

    form: ClassVar[str] = "asked seller"
    example: ClassVar[str] = "asked seller"
    pattern: ClassVar[str] = r"seller"
    verb: Literal["asked"] = "asked"

    def words(self) -> str:
        return "seller"


class Saw(Event):
    """A condition found by eye on a part, and what is printed on it or on the small part in it that was hurt."""

    form: ClassVar[str] = "saw PART CONDITION [slight|clear|severe] [glance|close|magnified] [marked MARK]"
    example: ClassVar[str] = "saw exhaust-fan missing"
    pattern: ClassVar[str] = (
        rf"(?P<part>{NAME}) (?P<condition>[a-z-]+)(?: (?P<degree>slight|clear|severe))?"
        rf"(?: (?P<look>glance|close|magnified))?(?: marked (?P<mark>{WORDS}))?"
    )
    verb: Literal["saw"] = "saw"
    part: str
    condition: str
    degree: Literal["slight", "clear", "severe"] | None = None
    look: Literal["glance", "close", "magnified"] | None = None
    mark: Text | None = None
    """As printed, or colours of bands with commas; it moves no belief."""

    def words(self) -> str:
        mark = self.mark and f"marked {self.mark}"
        return " ".join(word for word in (self.part, self.condition, self.degree, self.look, mark) if word)


class Read(Event):
    """A number read off an instrument, as written."""

    form: ClassVar[str] = "read TEST VALUE"
    example: ClassVar[str] = "read rail-12v 0.03 V"
    pattern: ClassVar[str] = rf"(?P<test>{NAME}) (?P<reading>OL(?: \S+)?|[+-]?[\d.,]\S*(?: (?!in \d)\S+)?)"
    verb: Literal["read"] = "read"
    test: str
    reading: Text

    def words(self) -> str:
        return f"{self.test} {self.reading}"


class Drew(Event):
    """What the unit drew from its supply at rest (``idle``) or while a function was tried. It moves no belief."""

    form: ClassVar[str] = "drew VALUE at idle|FUNCTION"
    example: ClassVar[str] = "drew 0.24 A at starts"
    pattern: ClassVar[str] = rf"(?P<reading>[\d.,]+ ?[a-zA-Zµ]+) at (?P<what>{NAME})"
    verb: Literal["drew"] = "drew"
    reading: Text
    what: str

    def words(self) -> str:
        return f"{self.reading} at {self.what}"


class Tried(Event):
    """A function was tried, ``on bench`` if a limited bench supply stood in the place of the pack."""

    form: ClassVar[str] = "tried FUNCTION works|weak|fails [on bench]"
    example: ClassVar[str] = "tried lamp-lights fails"
    pattern: ClassVar[str] = rf"(?P<test>{NAME}) (?P<outcome>works|weak|fails)(?: (?P<bench>on bench))?"
    verb: Literal["tried"] = "tried"
    test: str
    outcome: Literal["works", "weak", "fails"]
    bench: bool = False

    def words(self) -> str:
        return f"{self.test} {self.outcome}" + (" on bench" if self.bench else "")


class Found(Event):
    """A test with named outcomes gave one of them."""

    form: ClassVar[str] = "found TEST OUTCOME"
    example: ClassVar[str] = "found interlock-chain open"
    pattern: ClassVar[str] = rf"(?P<test>{NAME}) (?P<outcome>[a-z0-9-]+)"
    verb: Literal["found"] = "found"
    test: str
    outcome: str

    def words(self) -> str:
        return f"{self.test} {self.outcome}"


class Checked(Event):
    """A general check was made and nothing was wrong; or whether the unit is locked to an account of somebody else."""

    form: ClassVar[str] = "checked WHAT, or checked account-lock none|locked"
    example: ClassVar[str] = "checked shaken"
    pattern: ClassVar[str] = (
        r"(?P<what>(?!account-lock\b)[a-z-]+\b(?! (?:none|locked)\b)|account-lock(?= ))(?: (?P<lock>none|locked))?"
    )
    verb: Literal["checked"] = "checked"
    what: str
    lock: Literal["none", "locked"] | None = None

    def words(self) -> str:
        return f"{self.what} {self.lock}" if self.lock else self.what


class Noted(Event):
    """Words that nothing is computed from."""

    form: ClassVar[str] = "noted WORDS"
    example: ClassVar[str] = "noted smells burnt near the inlet"
    pattern: ClassVar[str] = r"(?P<text>\S.*)"
    verb: Literal["noted"] = "noted"
    text: Text

    def words(self) -> str:
        return self.text


class Identified(Event):
    """The revision of a part, read off it."""

    form: ClassVar[str] = "identified PART as REVISION"
    example: ClassVar[str] = "identified main-board as B"
    pattern: ClassVar[str] = rf"(?P<part>{NAME}) as (?P<revision>[A-Za-z0-9.-]+)"
    verb: Literal["identified"] = "identified"
    part: str
    revision: str

    def words(self) -> str:
        return f"{self.part} as {self.revision}"
