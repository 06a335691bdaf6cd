"""How a unit came in: serial, weight, the day to dispute by, quarantine, what was not tried, photos."""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

from pydantic import AfterValidator, Field

from knowngood.errors import QuantityError
from knowngood.handbook.quantities import parse_quantity
from knowngood.log.events.line import NAME, Day, Event, Name, Reasoned, Text

PHOTO = r"\d{4,}-[0-9a-f]{8}\.(?:jpg|png|webp|heic)"
"""Name of a stored photo: number, start of the SHA-256 of its bytes, what it is by its content."""

SERIAL = "serial"
"""In ``photographed serial as ...``: a picture that a buyer's report leaves out."""


def _a_weight(value: str) -> str:
    try:
        kilograms = parse_quantity(value, "kg")
    except QuantityError as error:
        raise ValueError(str(error)) from None
    if not 0.0 < kilograms <= 1000.0:
        raise ValueError(f"'{value}' is no weight of a unit: more than nothing, at most 1000 kg, as 4.1 kg.")
    return value


class Recorded(Event):
    """The serial number of the unit, or of a part of it, as it is read off."""

    form: ClassVar[str] = "recorded serial NUMBER [on PART]"
    example: ClassVar[str] = "recorded serial KX100-4711"
    pattern: ClassVar[str] = rf"serial (?P<serial>\S+)(?: on (?P<part>{NAME}))?"
    verb: Literal["recorded"] = "recorded"
    serial: Annotated[str, Field(pattern=r"^\S+$")]
    part: Name | None = None
    """None: on the outside of the unit."""

    def words(self) -> str:
        return f"serial {self.serial}" + (f" on {self.part}" if self.part else "")


class Weighed(Event):
    """What the unit weighs, as it was read off."""

    form: ClassVar[str] = "weighed WEIGHT"
    example: ClassVar[str] = "weighed 4.1 kg"
    pattern: ClassVar[str] = r"(?P<weight>\d+(?:[.,]\d+)? ?(?:kg|g))"
    verb: Literal["weighed"] = "weighed"
    weight: Annotated[str, AfterValidator(_a_weight)]

    def words(self) -> str:
        return self.weight

    @property
    def kilograms(self) -> float:
        return parse_quantity(self.weight, "kg")


class Disputable(Event):
    """Until which day, that day included, the purchase can be disputed with its seller."""

    form: ClassVar[str] = "disputable until YYYY-MM-DD"
    example: ClassVar[str] = "disputable until 2026-12-10"
    pattern: ClassVar[str] = r"until (?P<until>\S+)"
    verb: Literal["disputable"] = "disputable"
    until: Day

    def words(self) -> str:
        return f"until {self.until}"


class Quarantined(Reasoned):
    """The unit is kept apart, and why (the remark): damp, insects, a smell, a hurt cell."""

    form: ClassVar[str] = "quarantined unit -- WHY"
    example: ClassVar[str] = "quarantined unit -- damp"
    reason: ClassVar[str] = "Why is it kept apart? Say it after ' -- '."
    pattern: ClassVar[str] = r"unit"
    verb: Literal["quarantined"] = "quarantined"

    def words(self) -> str:
        return "unit"


class Cleared(Event):
    """The quarantine of the unit ends."""

    form: ClassVar[str] = "cleared unit"
    example: ClassVar[str] = "cleared unit"
    pattern: ClassVar[str] = r"unit"
    verb: Literal["cleared"] = "cleared"

    def words(self) -> str:
        return "unit"


class Left(Reasoned):
    """A function was not tried as the unit came in, and why (the remark)."""

    form: ClassVar[str] = "left FUNCTION untried -- WHY"
    example: ClassVar[str] = "left lamp-lights untried -- wet"
    reason: ClassVar[str] = "Why was it not tried? Say it after ' -- '."
    pattern: ClassVar[str] = rf"(?P<function>{NAME}) untried"
    verb: Literal["left"] = "left"
    function: Name

    def words(self) -> str:
        return f"{self.function} untried"


class Photographed(Event):
    """A photo was stored: of the ``unit``, its ``serial``, a part, a point, a connection or a step."""

    form: ClassVar[str] = "photographed TARGET as FILE [before|after]"
    example: ClassVar[str] = "photographed lamp-door as 0007-1f3c09ab.jpg before"
    pattern: ClassVar[str] = rf"(?P<target>{NAME}) as (?P<file>{PHOTO})(?: (?P<when>before|after))?"
    verb: Literal["photographed"] = "photographed"
    target: Name
    file: Annotated[Text, Field(pattern=rf"^{PHOTO}$")]
    when: Literal["before", "after"] | None = None
    """Before or after the work that it shows."""

    def words(self) -> str:
        return f"{self.target} as {self.file}" + (f" {self.when}" if self.when else "")


class Marked(Event):
    """Where on a photo a part, a point or a damage is, seen upright: percent from its left and from its top."""

    form: ClassVar[str] = "marked photo FILE at X % Y % as TARGET"
    example: ClassVar[str] = "marked photo 0007-1f3c09ab.jpg at 34 % 71 % as exhaust-fan"
    pattern: ClassVar[str] = (
        rf"photo (?P<file>{PHOTO}) at (?P<x>\d{{1,3}}) ?% (?P<y>\d{{1,3}}) ?% as (?P<target>{NAME})"
    )
    verb: Literal["marked"] = "marked"
    file: Annotated[Text, Field(pattern=rf"^{PHOTO}$")]
    x: Annotated[int, Field(ge=0, le=100)]
    y: Annotated[int, Field(ge=0, le=100)]
    target: Name

    def words(self) -> str:
        return f"photo {self.file} at {self.x} % {self.y} % as {self.target}"
