"""What can happen at the bench: one frozen class for each plain verb, with its one canonical line.

``parse(render(event)) == event`` holds for every event. A line may end in ``in 12 min`` (hands-on time, else the map's
figure counts) and `` -- a remark``.
"""

from __future__ import annotations

import re
from typing import Annotated, ClassVar, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationError

from knowngood.errors import LineError, QuantityError
from knowngood.handbook.quantities import Money, parse_minutes, parse_money
from knowngood.maps.shape import similar

ALL = "all"
"""In ``closed all``: every step that is open."""

BACK = "back"
"""In ``fitted PART from back``: the part that came out of this unit goes in again."""

_NAME = r"[a-z0-9][a-z0-9.-]*"
_MONEY = r"[A-Z]{3} ?-?\d+(?:[.,]\d+)?"
_TIME = r"\d+(?:[.,]\d+)? ?(?:min|h)"
_WORDS = r"(?:(?! -- | in \d).)+?"
"""Free words in front of the tail."""
_TAIL = rf"(?: in (?P<minutes>{_TIME}))?(?: -- (?P<note>\S.*))?$"


def _one_line(value: object) -> object:
    return " ".join(value.split()) if isinstance(value, str) else value


def _tenths(value: object) -> object:
    return round(value, 1) if isinstance(value, float) else value


def _time(minutes: float) -> str:
    return f"{minutes / 60:.0f} h" if minutes and minutes % 60 == 0 else f"{minutes:.10g} min"


Text = Annotated[str, BeforeValidator(_one_line), Field(min_length=1)]
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


class Bought(Event):
    """The unit came in: by which map, for how much, with what past."""

    form: ClassVar[str] = "bought MAP for MONEY [past PAST,PAST]"
    example: ClassVar[str] = "bought ceiling-projector for EUR 45 past dropped"
    pattern: ClassVar[str] = rf"(?P<map>\S+) for (?P<price>{_MONEY})(?: past (?P<past>[a-z,-]+))?"
    verb: Literal["bought"] = "bought"
    map: Annotated[str, Field(pattern=r"^\S+$")]
    price: Money
    past: tuple[str, ...] = ()

    def words(self) -> str:
        return f"{self.map} for {self.price}" + (f" past {','.join(self.past)}" if self.past else "")


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
        rf"(?P<part>{_NAME}) (?P<condition>[a-z-]+)(?: (?P<degree>slight|clear|severe))?"
        rf"(?: (?P<look>glance|close|magnified))?(?: marked (?P<mark>{_WORDS}))?"
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
    pattern: ClassVar[str] = rf"(?P<test>{_NAME}) (?P<reading>OL(?: \S+)?|[+-]?[\d.,]\S*(?: (?!in \d)\S+)?)"
    verb: Literal["read"] = "read"
    test: str
    reading: Text

    def words(self) -> str:
        return f"{self.test} {self.reading}"


class Tried(Event):
    """A function was tried."""

    form: ClassVar[str] = "tried FUNCTION works|weak|fails"
    example: ClassVar[str] = "tried lamp-lights fails"
    pattern: ClassVar[str] = rf"(?P<test>{_NAME}) (?P<outcome>works|weak|fails)"
    verb: Literal["tried"] = "tried"
    test: str
    outcome: Literal["works", "weak", "fails"]

    def words(self) -> str:
        return f"{self.test} {self.outcome}"


class Found(Event):
    """A test with named outcomes gave one of them."""

    form: ClassVar[str] = "found TEST OUTCOME"
    example: ClassVar[str] = "found interlock-chain open"
    pattern: ClassVar[str] = rf"(?P<test>{_NAME}) (?P<outcome>[a-z0-9-]+)"
    verb: Literal["found"] = "found"
    test: str
    outcome: str

    def words(self) -> str:
        return f"{self.test} {self.outcome}"


class Opened(Event):
    """An access step was opened; its connections are unplugged and its parts off."""

    form: ClassVar[str] = "opened STEP"
    example: ClassVar[str] = "opened cover-off"
    pattern: ClassVar[str] = rf"(?P<step>{_NAME})"
    verb: Literal["opened"] = "opened"
    step: str

    def words(self) -> str:
        return self.step


class Closed(Event):
    """An access step was closed again; its connections are made and its parts on."""

    form: ClassVar[str] = "closed STEP|all"
    example: ClassVar[str] = "closed all"
    pattern: ClassVar[str] = rf"(?P<step>{_NAME})"
    verb: Literal["closed"] = "closed"
    step: str

    def words(self) -> str:
        return self.step


class Unplugged(Event):
    """A connection was taken apart."""

    form: ClassVar[str] = "unplugged CONNECTION"
    example: ClassVar[str] = "unplugged exhaust-fan-plug"
    pattern: ClassVar[str] = rf"(?P<connection>{_NAME})"
    verb: Literal["unplugged"] = "unplugged"
    connection: str

    def words(self) -> str:
        return self.connection


class Plugged(Event):
    """A connection was made."""

    form: ClassVar[str] = "plugged CONNECTION"
    example: ClassVar[str] = "plugged exhaust-fan-plug"
    pattern: ClassVar[str] = rf"(?P<connection>{_NAME})"
    verb: Literal["plugged"] = "plugged"
    connection: str

    def words(self) -> str:
        return self.connection


class Removed(Event):
    """A part was taken out."""

    form: ClassVar[str] = "removed PART"
    example: ClassVar[str] = "removed exhaust-fan"
    pattern: ClassVar[str] = rf"(?P<part>{_NAME})"
    verb: Literal["removed"] = "removed"
    part: str

    def words(self) -> str:
        return self.part


class Harvested(Event):
    """A part left this unit for the shelf and keeps its identity."""

    form: ClassVar[str] = "harvested PART"
    example: ClassVar[str] = "harvested lamp-door"
    pattern: ClassVar[str] = rf"(?P<part>{_NAME})"
    verb: Literal["harvested"] = "harvested"
    part: str

    def words(self) -> str:
        return self.part


class Fitted(Event):
    """A part was put in: from a unit, ``new``, ``used``, or ``back`` (the one that came out)."""

    form: ClassVar[str] = "fitted PART from UNIT|new|used|back [for MONEY]"
    example: ClassVar[str] = "fitted lamp-door from D1 for EUR 8"
    pattern: ClassVar[str] = rf"(?P<part>{_NAME}) from (?P<origin>[A-Za-z0-9-]+)(?: for (?P<price>{_MONEY}))?"
    verb: Literal["fitted"] = "fitted"
    part: str
    origin: str
    price: Money | None = None

    def words(self) -> str:
        return f"{self.part} from {self.origin}" + (f" for {self.price}" if self.price else "")


class Mended(Event):
    """A remedy was applied to a part where it is."""

    form: ClassVar[str] = "mended PART REMEDY [for MONEY]"
    example: ClassVar[str] = "mended green-flex-socket reseat"
    pattern: ClassVar[str] = rf"(?P<part>{_NAME}) (?P<remedy>[a-z0-9-]+)(?: for (?P<price>{_MONEY}))?"
    verb: Literal["mended"] = "mended"
    part: str
    remedy: str
    price: Money | None = None

    def words(self) -> str:
        return f"{self.part} {self.remedy}" + (f" for {self.price}" if self.price else "")


class Used(Event):
    """Loose parts were taken from a lot on the shelf, and on which part of the unit they went."""

    form: ClassVar[str] = "used COUNT of LOT [on PART]"
    example: ClassVar[str] = "used 1 of S3 on main-board"
    pattern: ClassVar[str] = rf"(?P<count>\d+) of (?P<lot>S\d+)(?: on (?P<part>{_NAME}))?"
    verb: Literal["used"] = "used"
    count: int = Field(ge=1)
    lot: str
    part: str | None = None

    def words(self) -> str:
        return f"{self.count} of {self.lot}" + (f" on {self.part}" if self.part else "")


class Discharged(Event):
    """A stored charge was let off and the rest measured."""

    form: ClassVar[str] = "discharged PART VOLTAGE"
    example: ClassVar[str] = "discharged mains-supply 3 V"
    pattern: ClassVar[str] = rf"(?P<part>{_NAME}) (?P<reading>[\d.,]+ ?[a-zA-Z]*)"
    verb: Literal["discharged"] = "discharged"
    part: str
    reading: Text

    def words(self) -> str:
        return f"{self.part} {self.reading}"


class Dried(Event):
    """The unit was cleaned and dried through."""

    form: ClassVar[str] = "dried unit"
    example: ClassVar[str] = "dried unit"
    pattern: ClassVar[str] = r"unit"
    verb: Literal["dried"] = "dried"

    def words(self) -> str:
        return "unit"


class Declared(Event):
    """A function is sold as not working, and said so."""

    form: ClassVar[str] = "declared FUNCTION"
    example: ClassVar[str] = "declared usb-media"
    pattern: ClassVar[str] = rf"(?P<function>{_NAME})"
    verb: Literal["declared"] = "declared"
    function: str

    def words(self) -> str:
        return self.function


class Waited(Event):
    """Time passed with no hands on the unit."""

    form: ClassVar[str] = "waited TIME"
    example: ClassVar[str] = "waited 12 h"
    pattern: ClassVar[str] = rf"(?P<wait>{_TIME})"
    verb: Literal["waited"] = "waited"
    wait: Tenths

    def words(self) -> str:
        return _time(self.wait)


class Worked(Event):
    """Hands-on time that no other line holds."""

    form: ClassVar[str] = "worked TIME"
    example: ClassVar[str] = "worked 15 min -- photos and listing"
    pattern: ClassVar[str] = rf"(?P<work>{_TIME})"
    verb: Literal["worked"] = "worked"
    work: Tenths

    def words(self) -> str:
        return _time(self.work)


class Paid(Event):
    """Money went out for this unit."""

    form: ClassVar[str] = "paid MONEY for WHAT"
    example: ClassVar[str] = "paid EUR 12 for collection"
    pattern: ClassVar[str] = rf"(?P<amount>{_MONEY}) for (?P<what>{_WORDS})"
    verb: Literal["paid"] = "paid"
    amount: Money
    what: Text

    def words(self) -> str:
        return f"{self.amount} for {self.what}"


class Got(Event):
    """Money came in for this unit, other than by selling it."""

    form: ClassVar[str] = "got MONEY for WHAT"
    example: ClassVar[str] = "got EUR 9 for the old lamp"
    pattern: ClassVar[str] = Paid.pattern
    verb: Literal["got"] = "got"
    amount: Money
    what: Text

    def words(self) -> str:
        return f"{self.amount} for {self.what}"


class Sold(Event):
    """The unit was sold, working or as it is."""

    form: ClassVar[str] = "sold working|as-is for MONEY"
    example: ClassVar[str] = "sold working for EUR 215"
    pattern: ClassVar[str] = rf"(?P<how>working|as-is) for (?P<price>{_MONEY})"
    verb: Literal["sold"] = "sold"
    how: Literal["working", "as-is"]
    price: Money

    def words(self) -> str:
        return f"{self.how} for {self.price}"


class Parted(Event):
    """The unit was given up and becomes parts, thought to be worth so much."""

    form: ClassVar[str] = "parted worth MONEY"
    example: ClassVar[str] = "parted worth EUR 60"
    pattern: ClassVar[str] = rf"worth (?P<worth>{_MONEY})"
    verb: Literal["parted"] = "parted"
    worth: Money

    def words(self) -> str:
        return f"worth {self.worth}"


class Priced(Event):
    """What a way out of this unit would bring, in place of the map's figure."""

    form: ClassVar[str] = "priced working|as-is|parts at MONEY"
    example: ClassVar[str] = "priced working at EUR 80"
    pattern: ClassVar[str] = rf"(?P<how>working|as-is|parts) at (?P<price>{_MONEY})"
    verb: Literal["priced"] = "priced"
    how: Literal["working", "as-is", "parts"]
    price: Money

    def words(self) -> str:
        return f"{self.how} at {self.price}"


class Lacks(Event):
    """A tool is not here, or a part is not to be had: nothing that takes it is proposed from then on."""

    form: ClassVar[str] = "lacks tool|part NAME"
    example: ClassVar[str] = "lacks tool heat camera"
    pattern: ClassVar[str] = rf"(?P<sort>tool|part) (?P<name>{_WORDS})"
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
    pattern: ClassVar[str] = rf"(?P<name>{_NAME})"
    verb: Literal["deferred"] = "deferred"
    name: str

    def words(self) -> str:
        return self.name


class Resumed(Event):
    """What was put off may be done again."""

    form: ClassVar[str] = "resumed PART|TEST|STEP"
    example: ClassVar[str] = "resumed lamp-module"
    pattern: ClassVar[str] = rf"(?P<name>{_NAME})"
    verb: Literal["resumed"] = "resumed"
    name: str

    def words(self) -> str:
        return self.name


class Noted(Event):
    """Words that nothing is computed from."""

    form: ClassVar[str] = "noted WORDS"
    example: ClassVar[str] = "noted smells burnt near the inlet"
    pattern: ClassVar[str] = r"(?P<text>\S.*)"
    verb: Literal["noted"] = "noted"
    text: Text

    def words(self) -> str:
        return self.text


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


AnyEvent = Annotated[
    Bought
    | Past
    | Asked
    | Saw
    | Read
    | Tried
    | Found
    | Opened
    | Closed
    | Unplugged
    | Plugged
    | Removed
    | Harvested
    | Fitted
    | Mended
    | Used
    | Discharged
    | Dried
    | Declared
    | Waited
    | Worked
    | Paid
    | Got
    | Sold
    | Parted
    | Priced
    | Lacks
    | Has
    | Deferred
    | Resumed
    | Noted
    | Undid
    | Redid,
    Field(discriminator="verb"),
]
"""Every event, told apart by its verb."""

EVENTS: dict[str, type[Event]] = {
    event.model_fields["verb"].default: event
    for event in (
        *(Bought, Past, Asked, Saw, Read, Tried, Found, Opened, Closed, Unplugged, Plugged, Removed, Harvested, Fitted),
        *(Mended, Used, Discharged, Dried, Declared, Waited, Worked, Paid, Got, Sold, Parted, Priced),
        *(Lacks, Has, Deferred, Resumed, Noted, Undid, Redid),
    )
}
"""Event class by verb."""


def render(event: Event) -> str:
    """The canonical line of an event, without number and time."""
    verb: str = event.verb  # type: ignore[attr-defined]  # every child has one; the base cannot
    tail = f" in {event.minutes:.10g} min" if event.minutes is not None else ""
    return f"{verb} {event.words()}{tail}" + (f" -- {event.note}" if event.note else "")


def parse(line: str) -> Event:
    """The event of a canonical line. Raises LineError that shows the form and an example."""
    verb, _, rest = " ".join(line.split()).partition(" ")
    event = EVENTS.get(verb)
    if event is None:
        raise LineError(f"'{verb}' is not one of the verbs. {similar(verb, EVENTS)}")
    pattern = event.pattern + ("$" if event is Noted else _TAIL)
    match = re.fullmatch(pattern.removesuffix("$"), rest)
    if match is None:
        raise LineError(f"'{line.strip()}' is not understood. Write: {event.form}. For example: {event.example}")
    try:
        return event.model_validate(_values(match.groupdict()))
    except QuantityError as error:
        raise LineError(f"'{line.strip()}': {error}") from None
    except ValidationError as error:
        first = error.errors()[0]
        raise LineError(f"'{line.strip()}': {first['loc'][-1]}: {first['msg']}. For example: {event.example}") from None


def _values(groups: dict[str, str | None]) -> dict[str, object]:
    values: dict[str, object] = {}
    for key, text in groups.items():
        if text is None:
            continue
        if key in ("price", "amount", "worth"):
            values[key] = parse_money(text)
        elif key in ("minutes", "wait", "work"):
            values[key] = parse_minutes(text)
        elif key == "past":
            values[key] = tuple(word for word in text.split(",") if word)
        elif key in ("line", "count"):
            values[key] = int(text)
        else:
            values[key] = text
    return values
