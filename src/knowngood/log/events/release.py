"""What has to be so before a unit may leave: the safety test after repair, data removed, locks, overrides."""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal, get_args

from pydantic import BeforeValidator, Field, model_validator

from knowngood.log.events.line import NAME, WORDS, Event, Name, Reasoned, Text

Inspection = Literal["visual", "supply", "function"]
Quantity = Literal["protective-earth", "insulation", "protective-current", "touch-current"]
RuleSet = Literal["german", "british"]
Method = Literal["clear", "purge", "destroy"]
Matter = Literal["not-proved", "open-steps", "declared-faults", "account-lock", "damaged-cell"]

UNITS: dict[Quantity, str] = {
    "protective-earth": "ohm",
    "insulation": "ohm",
    "protective-current": "A",
    "touch-current": "A",
}
"""The unit that each quantity of the safety test is read in."""

STATED: dict[str, tuple[str, ...]] = {
    "class": ("I", "II", "III"),
    "cord": ("detachable", "fixed", "none"),
    "metal": ("earthed", "unearthed", "both", "none"),
}
"""What can be stated of a unit that is tested, and the words for it."""

_PART = rf"(?P<part>{NAME})"
_NUMBER = r"\d+(?:[.,]\d+)?"
_READ = r"OL(?: [a-zA-Z]+)?|[\d.,]+ ?[a-zA-Zµ]+"
_TOOL = r"(?:(?! -- | in \d| verified ).)+?"


def _words(*of: object) -> str:
    return "|".join(word for one in of for word in get_args(one))


def _decimal(value: object) -> object:
    if isinstance(value, str):
        return value.replace(",", ".")
    return float(f"{value:.10g}") if isinstance(value, float) else value


Metres = Annotated[float, BeforeValidator(_decimal), Field(ge=0.1, le=100)]
SquareMillimetres = Annotated[float, BeforeValidator(_decimal), Field(ge=0.1, le=10)]


class Stated(Event):
    """What is so of the unit that decides which safety tests it gets: its class as found, its cord, touchable metal."""

    form: ClassVar[str] = (
        "stated class I|II|III, stated cord detachable|fixed LENGTH m [SECTION mm2], stated cord none, "
        "or stated metal earthed|unearthed|both|none"
    )
    example: ClassVar[str] = "stated cord detachable 1.8 m 0.75 mm2"
    pattern: ClassVar[str] = (
        rf"(?P<topic>class|cord|metal) (?P<value>[A-Za-z]+)"
        rf"(?: (?P<length>{_NUMBER}) ?m(?: (?P<section>{_NUMBER}) ?mm2)?)?"
    )
    verb: Literal["stated"] = "stated"
    topic: Literal["class", "cord", "metal"]
    value: str
    length: Metres | None = None
    """Of the cord, m."""
    section: SquareMillimetres | None = None
    """Of its protective conductor, mm^2."""

    @model_validator(mode="after")
    def _fitting(self) -> Stated:
        known = STATED[self.topic]
        if self.value not in known:
            raise ValueError(f"'{self.value}' is no {self.topic}. It is one of {', '.join(known)}.")
        measured = self.topic == "cord" and self.value != "none"
        if measured and self.length is None:
            raise ValueError("The limit of the earth path rests on the length of the cord. How long is it?")
        if not measured and (self.length is not None or self.section is not None):
            raise ValueError(f"A length stands behind '{self.topic} {self.value}': only a cord has one.")
        if self.section is not None and self.length is None:
            raise ValueError("A section alone says nothing. How long is the cord?")
        return self

    def words(self) -> str:
        length = f" {self.length:.10g} m" if self.length is not None else ""
        section = f" {self.section:.10g} mm2" if self.section is not None else ""
        return f"{self.topic} {self.value}{length}{section}"


class Inspected(Event):
    """A step of the safety test that eyes or hands decide. ``visual`` begins the test: all before it counts no more."""

    form: ClassVar[str] = "inspected visual|supply|function passed|failed"
    example: ClassVar[str] = "inspected visual passed"
    pattern: ClassVar[str] = rf"(?P<what>{_words(Inspection)}) (?P<outcome>passed|failed)"
    verb: Literal["inspected"] = "inspected"
    what: Inspection
    outcome: Literal["passed", "failed"]

    def words(self) -> str:
        return f"{self.what} {self.outcome}"


class Measured(Event):
    """A reading of the safety test, with the instrument that gave it and the rule set that it was taken by."""

    form: ClassVar[str] = (
        f"measured {_words(Quantity)} VALUE by INSTRUMENT [at VOLTAGE] [against LIMIT] [under {_words(RuleSet)}]"
    )
    example: ClassVar[str] = "measured protective-earth 0.12 ohm by fluxa"
    pattern: ClassVar[str] = (
        rf"(?P<quantity>{_words(Quantity)}) (?P<reading>{_READ}) by (?P<instrument>{NAME})"
        rf"(?: at (?P<voltage>{_NUMBER} ?V))?(?: against (?P<limit>{_READ}))?(?: under (?P<rules>{_words(RuleSet)}))?"
    )
    verb: Literal["measured"] = "measured"
    quantity: Quantity
    reading: Text
    """As written; ``OL`` is beyond the range."""
    instrument: Name
    voltage: Text | None = None
    """Test voltage, d.c., of an insulation test."""
    limit: Text | None = None
    """The limit as it stands in the person's own copy of the rules."""
    rules: RuleSet | None = None
    """Without it the bench's own; the stored line always has it."""

    def words(self) -> str:
        voltage = f" at {self.voltage}" if self.voltage else ""
        limit = f" against {self.limit}" if self.limit else ""
        rules = f" under {self.rules}" if self.rules else ""
        return f"{self.quantity} {self.reading} by {self.instrument}{voltage}{limit}{rules}"


class Wiped(Event):
    """The data on a part, or in the whole ``unit``, was removed; methods by the terms of NIST SP 800-88 Rev. 2."""

    form: ClassVar[str] = "wiped PART|unit by clear|purge|destroy [with TOOL] [verified HOW]"
    example: ClassVar[str] = "wiped config-store by clear with factory reset verified first start asks for a language"
    pattern: ClassVar[str] = (
        rf"{_PART} by (?P<method>{_words(Method)})(?: with (?P<tool>{_TOOL}))?(?: verified (?P<check>{WORDS}))?"
    )
    verb: Literal["wiped"] = "wiped"
    part: str
    method: Method
    tool: Text | None = None
    check: Text | None = None

    def words(self) -> str:
        tool = f" with {self.tool}" if self.tool else ""
        check = f" verified {self.check}" if self.check else ""
        return f"{self.part} by {self.method}{tool}{check}"


class Overrode(Reasoned):
    """A warning at the release was overridden, and why (the remark). What protects people cannot be."""

    form: ClassVar[str] = f"overrode {_words(Matter)} -- WHY"
    example: ClassVar[str] = "overrode not-proved -- the buyer has no use for the analogue input"
    reason: ClassVar[str] = "An override needs its reason, after ' -- '."
    pattern: ClassVar[str] = rf"(?P<matter>{_words(Matter)})"
    verb: Literal["overrode"] = "overrode"
    matter: Matter

    def words(self) -> str:
        return self.matter
