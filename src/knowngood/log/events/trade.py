"""Money, and what is to come: bought and sold, paid and got, ordered and reserved, planned."""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

from pydantic import Field

from knowngood.handbook.quantities import Money
from knowngood.log.events.line import MONEY, NAME, WORDS, Day, Event, Name, Text


class Bought(Event):
    """The unit came in: by which map, for how much, with what past, from where."""

    form: ClassVar[str] = "bought MAP for MONEY [past PAST,PAST] [from SOURCE]"
    example: ClassVar[str] = "bought ceiling-projector for EUR 45 past dropped from house-clearance"
    pattern: ClassVar[str] = (
        rf"(?P<map>\S+) for (?P<price>{MONEY})(?: past (?P<past>[a-z,-]+))?(?: from (?P<source>{NAME}))?"
    )
    verb: Literal["bought"] = "bought"
    map: Annotated[str, Field(pattern=r"^\S+$")]
    price: Money
    past: tuple[str, ...] = ()
    source: Name | None = None
    """Where such units come from, in the bench's own words; only counted by."""

    def words(self) -> str:
        past = f" past {','.join(self.past)}" if self.past else ""
        return f"{self.map} for {self.price}{past}" + (f" from {self.source}" if self.source else "")


class Paid(Event):
    """Money went out for this unit."""

    form: ClassVar[str] = "paid MONEY for WHAT"
    example: ClassVar[str] = "paid EUR 12 for collection"
    pattern: ClassVar[str] = rf"(?P<amount>{MONEY}) for (?P<what>{WORDS})"
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
    pattern: ClassVar[str] = rf"(?P<how>working|as-is) for (?P<price>{MONEY})"
    verb: Literal["sold"] = "sold"
    how: Literal["working", "as-is"]
    price: Money

    def words(self) -> str:
        return f"{self.how} for {self.price}"


class Parted(Event):
    """The unit was given up and becomes parts, thought to be worth so much."""

    form: ClassVar[str] = "parted worth MONEY"
    example: ClassVar[str] = "parted worth EUR 60"
    pattern: ClassVar[str] = rf"worth (?P<worth>{MONEY})"
    verb: Literal["parted"] = "parted"
    worth: Money

    def words(self) -> str:
        return f"worth {self.worth}"


class Vended(Event):
    """A part that this unit gave to the shelf was sold by itself."""

    form: ClassVar[str] = "vended PART for MONEY"
    example: ClassVar[str] = "vended projection-lens for EUR 18"
    pattern: ClassVar[str] = rf"(?P<part>{NAME}) for (?P<price>{MONEY})"
    verb: Literal["vended"] = "vended"
    part: str
    price: Money

    def words(self) -> str:
        return f"{self.part} for {self.price}"


class Scrapped(Event):
    """What is left of the ``unit`` was thrown away, or a part that it gave to the shelf."""

    form: ClassVar[str] = "scrapped unit|PART"
    example: ClassVar[str] = "scrapped unit"
    pattern: ClassVar[str] = rf"(?P<part>{NAME})"
    verb: Literal["scrapped"] = "scrapped"
    part: str

    def words(self) -> str:
        return self.part


class Priced(Event):
    """What a way out of this unit would bring, in place of the map's figure."""

    form: ClassVar[str] = "priced working|as-is|parts at MONEY"
    example: ClassVar[str] = "priced working at EUR 80"
    pattern: ClassVar[str] = rf"(?P<how>working|as-is|parts) at (?P<price>{MONEY})"
    verb: Literal["priced"] = "priced"
    how: Literal["working", "as-is", "parts"]
    price: Money

    def words(self) -> str:
        return f"{self.how} at {self.price}"


class Planned(Event):
    """What is to become of the unit by a plan of the shelf that the person accepted."""

    form: ClassVar[str] = "planned finish|as-is|parts|donor|wait"
    example: ClassVar[str] = "planned finish"
    pattern: ClassVar[str] = r"(?P<way>finish|as-is|parts|donor|wait)"
    verb: Literal["planned"] = "planned"
    way: Literal["finish", "as-is", "parts", "donor", "wait"]

    def words(self) -> str:
        return self.way


class Reserved(Event):
    """The unit is to get a part: from a unit that still holds it or gave it to the shelf, or ``new`` or ``used``."""

    form: ClassVar[str] = "reserved PART from UNIT|new|used"
    example: ClassVar[str] = "reserved lamp-door from D1"
    pattern: ClassVar[str] = rf"(?P<part>{NAME}) from (?P<origin>[A-Za-z0-9-]+)"
    verb: Literal["reserved"] = "reserved"
    part: str
    origin: str

    def words(self) -> str:
        return f"{self.part} from {self.origin}"


class Ordered(Event):
    """A part for the unit was ordered and paid; ``due`` is the day it ought to be here, as ISO 8601 writes it."""

    form: ClassVar[str] = "ordered PART new|used from SUPPLIER for MONEY [due YYYY-MM-DD]"
    example: ClassVar[str] = "ordered exhaust-fan new from northparts for EUR 8 due 2026-12-03"
    pattern: ClassVar[str] = (
        rf"(?P<part>{NAME}) (?P<condition>new|used) from (?P<supplier>{NAME}) for (?P<price>{MONEY})"
        r"(?: due (?P<due>\S+))?"
    )
    verb: Literal["ordered"] = "ordered"
    part: str
    condition: Literal["new", "used"]
    supplier: str
    price: Money
    due: Day | None = None

    def words(self) -> str:
        due = f" due {self.due}" if self.due else ""
        return f"{self.part} {self.condition} from {self.supplier} for {self.price}{due}"


class Arrived(Event):
    """A part that was ordered for the unit is here."""

    form: ClassVar[str] = "arrived PART"
    example: ClassVar[str] = "arrived exhaust-fan"
    pattern: ClassVar[str] = rf"(?P<part>{NAME})"
    verb: Literal["arrived"] = "arrived"
    part: str

    def words(self) -> str:
        return self.part


class Released(Event):
    """A part is no longer reserved or ordered for the unit; what comes back of its price is booked as ``got``."""

    form: ClassVar[str] = "released PART"
    example: ClassVar[str] = "released lamp-door"
    pattern: ClassVar[str] = rf"(?P<part>{NAME})"
    verb: Literal["released"] = "released"
    part: str

    def words(self) -> str:
        return self.part
