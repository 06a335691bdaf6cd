"""What was done to a unit, and the time that it took."""

from __future__ import annotations

from typing import ClassVar, Literal

from pydantic import Field

from knowngood.handbook.quantities import Money
from knowngood.log.events.line import MONEY, NAME, PLACE, TIME, Event, Tenths, Text, time

LIVE = rf"(?P<connection>{NAME})(?: (?P<live>with power on))?"


class Opened(Event):
    """An access step was opened; its connections are unplugged and its parts off."""

    form: ClassVar[str] = "opened STEP"
    example: ClassVar[str] = "opened cover-off"
    pattern: ClassVar[str] = rf"(?P<step>{NAME})"
    verb: Literal["opened"] = "opened"
    step: str

    def words(self) -> str:
        return self.step


class Closed(Event):
    """An access step was closed again; its connections are made and its parts on."""

    form: ClassVar[str] = "closed STEP|all"
    example: ClassVar[str] = "closed all"
    pattern: ClassVar[str] = rf"(?P<step>{NAME})"
    verb: Literal["closed"] = "closed"
    step: str

    def words(self) -> str:
        return self.step


class Unplugged(Event):
    """A connection was taken apart, ``with power on`` if the unit kept its input meanwhile: a supply that latches off
    at a short is then still off."""

    form: ClassVar[str] = "unplugged CONNECTION [with power on]"
    example: ClassVar[str] = "unplugged exhaust-fan-plug"
    pattern: ClassVar[str] = LIVE
    verb: Literal["unplugged"] = "unplugged"
    connection: str
    live: bool = False

    def words(self) -> str:
        return self.connection + (" with power on" if self.live else "")


class Plugged(Event):
    """A connection was made, ``with power on`` if the unit kept its input meanwhile."""

    form: ClassVar[str] = "plugged CONNECTION [with power on]"
    example: ClassVar[str] = "plugged exhaust-fan-plug"
    pattern: ClassVar[str] = LIVE
    verb: Literal["plugged"] = "plugged"
    connection: str
    live: bool = False

    def words(self) -> str:
        return self.connection + (" with power on" if self.live else "")


class Removed(Event):
    """A part was taken out."""

    form: ClassVar[str] = "removed PART"
    example: ClassVar[str] = "removed exhaust-fan"
    pattern: ClassVar[str] = rf"(?P<part>{NAME})"
    verb: Literal["removed"] = "removed"
    part: str

    def words(self) -> str:
        return self.part


class Harvested(Event):
    """A part left this unit for the shelf, where it may be said to lie, and keeps its identity."""

    form: ClassVar[str] = "harvested PART [in PLACE]"
    example: ClassVar[str] = "harvested lamp-door in drawer 3"
    pattern: ClassVar[str] = rf"(?P<part>{NAME})(?: in (?P<place>{PLACE}))?"
    verb: Literal["harvested"] = "harvested"
    part: str
    place: Text | None = None

    def words(self) -> str:
        return self.part + (f" in {self.place}" if self.place else "")


class Put(Event):
    """A harvested part, or the whole ``unit``, lies in another place from now on."""

    form: ClassVar[str] = "put PART|unit in PLACE"
    example: ClassVar[str] = "put lamp-door in drawer 4"
    pattern: ClassVar[str] = rf"(?P<part>{NAME}) in (?P<place>{PLACE})"
    verb: Literal["put"] = "put"
    part: str
    place: Text

    def words(self) -> str:
        return f"{self.part} in {self.place}"


class Fitted(Event):
    """A part was put in: from a unit, ``new``, ``used``, or ``back`` (the one that came out)."""

    form: ClassVar[str] = "fitted PART from UNIT|new|used|back [for MONEY]"
    example: ClassVar[str] = "fitted lamp-door from D1 for EUR 8"
    pattern: ClassVar[str] = rf"(?P<part>{NAME}) from (?P<origin>[A-Za-z0-9-]+)(?: for (?P<price>{MONEY}))?"
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
    pattern: ClassVar[str] = rf"(?P<part>{NAME}) (?P<remedy>[a-z0-9-]+)(?: for (?P<price>{MONEY}))?"
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
    pattern: ClassVar[str] = rf"(?P<count>\d+) of (?P<lot>S\d+)(?: on (?P<part>{NAME}))?"
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
    pattern: ClassVar[str] = rf"(?P<part>{NAME}) (?P<reading>[\d.,]+ ?[a-zA-Z]*)"
    verb: Literal["discharged"] = "discharged"
    part: str
    reading: Text

    def words(self) -> str:
        return f"{self.part} {self.reading}"


class Began(Event):
    """The unit was washed and dries from now on, for a day if the line does not say how long; no power until then."""

    form: ClassVar[str] = "began drying [for TIME]"
    example: ClassVar[str] = "began drying for 24 h"
    pattern: ClassVar[str] = rf"drying(?: for (?P<wait>{TIME}))?"
    verb: Literal["began"] = "began"
    wait: Tenths | None = None

    def words(self) -> str:
        return "drying" + (f" for {time(self.wait)}" if self.wait is not None else "")


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
    pattern: ClassVar[str] = rf"(?P<function>{NAME})"
    verb: Literal["declared"] = "declared"
    function: str

    def words(self) -> str:
        return self.function


class Waited(Event):
    """Time passed with no hands on the unit."""

    form: ClassVar[str] = "waited TIME"
    example: ClassVar[str] = "waited 12 h"
    pattern: ClassVar[str] = rf"(?P<wait>{TIME})"
    verb: Literal["waited"] = "waited"
    wait: Tenths

    def words(self) -> str:
        return time(self.wait)


class Worked(Event):
    """Hands-on time that no other line holds."""

    form: ClassVar[str] = "worked TIME"
    example: ClassVar[str] = "worked 15 min -- photos and listing"
    pattern: ClassVar[str] = rf"(?P<work>{TIME})"
    verb: Literal["worked"] = "worked"
    work: Tenths

    def words(self) -> str:
        return time(self.work)
