"""A unit that is not bought yet: offered, then refused or accepted, and received."""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

from pydantic import Field

from knowngood.handbook.quantities import Money
from knowngood.log.events.line import MONEY, Event


class Offered(Event):
    """A unit that could be bought: by which map, at what asking price, with what past by its listing."""

    form: ClassVar[str] = "offered MAP at MONEY [past PAST,PAST]"
    example: ClassVar[str] = "offered ceiling-projector at EUR 60 past dropped"
    pattern: ClassVar[str] = rf"(?P<map>\S+) at (?P<price>{MONEY})(?: past (?P<past>[a-z,-]+))?"
    verb: Literal["offered"] = "offered"
    map: Annotated[str, Field(pattern=r"^\S+$")]
    price: Money
    past: tuple[str, ...] = ()

    def words(self) -> str:
        return f"{self.map} at {self.price}" + (f" past {','.join(self.past)}" if self.past else "")


class Refused(Event):
    """The offer was let go."""

    form: ClassVar[str] = "refused offer"
    example: ClassVar[str] = "refused offer -- no answer from the seller"
    pattern: ClassVar[str] = "offer"
    verb: Literal["refused"] = "refused"

    def words(self) -> str:
        return "offer"


class Accepted(Event):
    """What was offered was bought; it is that unit now."""

    form: ClassVar[str] = "accepted offer as UNIT"
    example: ClassVar[str] = "accepted offer as U3"
    pattern: ClassVar[str] = r"offer as (?P<unit>[A-Z]\d+)"
    verb: Literal["accepted"] = "accepted"
    unit: str

    def words(self) -> str:
        return f"offer as {self.unit}"


class Received(Event):
    """The unit is here. What its seller said or showed has to be shown again before it counts as proven."""

    form: ClassVar[str] = "received unit"
    example: ClassVar[str] = "received unit"
    pattern: ClassVar[str] = "unit"
    verb: Literal["received"] = "received"

    def words(self) -> str:
        return "unit"
