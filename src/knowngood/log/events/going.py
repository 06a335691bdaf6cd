"""How a unit or a part of it goes, and how a unit comes back."""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

from pydantic import Field, model_validator

from knowngood.handbook.quantities import Money
from knowngood.log.events.line import MONEY, NAME, PLACE, Event, Name, Reasoned, Text

TRANSPORT, USE, UNKNOWN = "transport", "use", "unknown"
"""Causes of a return that are no fault of a part: the way to the buyer; how it was set up or what was expected of it
while nothing is wrong; not found."""


class Dispatched(Event):
    """The sold unit was handed to a carrier."""

    form: ClassVar[str] = "dispatched with CARRIER [number NUMBER] [for MONEY]"
    example: ClassVar[str] = "dispatched with redpost number RP123 for EUR 7"
    pattern: ClassVar[str] = (
        rf"with (?P<carrier>{NAME})(?: number (?P<number>[A-Za-z0-9-]+))?(?: for (?P<price>{MONEY}))?"
    )
    verb: Literal["dispatched"] = "dispatched"
    carrier: Name
    number: Annotated[str, Field(pattern=r"^[A-Za-z0-9-]+$")] | None = None
    price: Money | None = None

    def words(self) -> str:
        number = f" number {self.number}" if self.number else ""
        return f"with {self.carrier}{number}" + (f" for {self.price}" if self.price else "")


class Disposed(Event):
    """A part that is out of the unit, or what is left of the ``unit``, was given to where it is taken back."""

    form: ClassVar[str] = "disposed unit|PART to PLACE"
    example: ClassVar[str] = "disposed battery-pack to cell take-back point"
    pattern: ClassVar[str] = rf"(?P<part>{NAME}) to (?P<place>{PLACE})"
    verb: Literal["disposed"] = "disposed"
    part: Name
    place: Text

    def words(self) -> str:
        return f"{self.part} to {self.place}"


class Returned(Reasoned):
    """The unit that was sold is back, and what its buyer says (the remark)."""

    form: ClassVar[str] = "returned -- WHAT THE BUYER SAYS"
    example: ClassVar[str] = "returned -- no picture after a week"
    reason: ClassVar[str] = "What does the buyer say? Write it after ' -- '."
    pattern: ClassVar[str] = r"(?= .*-- \S)"
    verb: Literal["returned"] = "returned"

    def words(self) -> str:
        return ""


class Refunded(Event):
    """Money went back to the buyer: for a unit that came back, or in part for one that they keep."""

    form: ClassVar[str] = "refunded MONEY"
    example: ClassVar[str] = "refunded EUR 215"
    pattern: ClassVar[str] = rf"(?P<amount>{MONEY})"
    verb: Literal["refunded"] = "refunded"
    amount: Money

    def words(self) -> str:
        return str(self.amount)


class Caused(Event):
    """Why the unit came back, once that is known: a fault of a part, the transport, how it was used, or not found."""

    form: ClassVar[str] = f"caused by PART MODE, caused by {TRANSPORT}|{USE}, or caused {UNKNOWN}"
    example: ClassVar[str] = "caused by exhaust-fan winding-dead"
    pattern: ClassVar[str] = rf"(?:by (?P<by>{NAME})(?: (?P<mode>{NAME}))?|(?P<unknown>{UNKNOWN}))"
    verb: Literal["caused"] = "caused"
    by: Name | None = None
    """A part, ``transport`` or ``use``; None if it was not found."""
    mode: Name | None = None
    unknown: Literal["unknown"] | None = None

    @model_validator(mode="after")
    def _whole(self) -> Caused:
        if (self.by is None) != (self.unknown is not None):
            raise ValueError("Either what caused it, or 'unknown'.")
        if self.by is not None and (self.by in (TRANSPORT, USE)) == (self.mode is not None):
            raise ValueError(
                f"A part has a fault mode, as 'exhaust-fan winding-dead'; '{TRANSPORT}' and '{USE}' stand alone."
            )
        return self

    def words(self) -> str:
        return self.unknown or f"by {self.by}" + (f" {self.mode}" if self.mode else "")

    @property
    def cause(self) -> str:
        """In words: "exhaust-fan winding-dead", "transport", "unknown"."""
        return self.unknown or f"{self.by} {self.mode or ''}".strip()
