"""The shapes of what to do with each part of a unit."""

from __future__ import annotations

from pydantic import Field

from knowngood.cli.partly import PartlyShape
from knowngood.cli.shape import Shape


class StepShape(Shape):
    """One thing to do about a part."""

    kind: str = Field(description="`mend`, `take` (from a unit or the shelf) or `buy`")
    do: str = Field(description="What to do, in words")
    origin: str = Field(description="Where another part comes from: a unit, `new` or `used`; empty for a mend")
    log: list[str] = Field(description="The lines to log once it is done")


class CourseShape(Shape):
    """What is done about a part, or a married group, in a choice for the whole unit."""

    parts: list[str] = Field(description="The part, or the parts of a married group")
    anyway: bool = Field(description="Whether it is done in any case, or only if the part proves bad")
    steps: list[StepShape] = Field(description="What is done, each if the one before did not help")


class OnceShape(Shape):
    """Something that is paid once however many parts need it."""

    what: str = Field(description="An access step, letting off a charge, drying, opening a donor, postage")
    chance: float = Field(description="Chance that it is needed at all")
    minutes: float = Field(description="Hands-on minutes, closing included")
    money: float = Field(description="What it costs beside")


class WholeShape(Shape):
    """One choice for the whole unit."""

    what: str = Field(description="`work`, `sell`, `sell-as-is` or `part-out`")
    worth: float = Field(description="What the unit is worth with it, hands-on time and money taken off")
    works: float = Field(description="Chance that all that is promised works in the end")
    minutes: float = Field(description="Hands-on minutes in the mean, finding out, opening and closing included")
    money: float = Field(description="Money for parts and materials in the mean")
    declared: list[str] = Field(description="Functions that are sold as not working, and declared")
    courses: list[CourseShape] = Field(description="What is done about parts; those not named are kept")
    once: list[OnceShape] = Field(description="What is paid once")
    cautions: list[str] = Field(description="To be read before hands go near")


class OptionShape(Shape):
    """One thing that can be done with a part."""

    kind: str = Field(description="`keep`, `mend`, `take` or `buy`")
    do: str = Field(description="What to do, in words")
    origin: str = Field(description="Where another part comes from; empty if none does")
    works: list[float] = Field(description="Chance that the part stops nothing then, for each of the parts")
    risk: float = Field(description="Chance that it makes the unit worse by itself")
    minutes: float = Field(description="Hands-on minutes without what is paid once")
    access: float = Field(description="Minutes of what is paid once: opening, closing, letting off a charge")
    money: float = Field(description="What it costs")
    postage: float = Field(description="What is paid once for the order")
    wait: float = Field(description="Minutes without hands after it (curing)")
    days: float = Field(description="Days until what is ordered is here")
    worth: float | None = Field(
        description="What the unit is worth if this is done first, all else as in the best choice; null where a rule "
        "forbids it"
    )
    chosen: bool = Field(description="Whether it is in the best choice for the whole unit")
    why_not: str = Field(description="The rule that forbids it")
    note: str = Field(description="What else is to be said of it")
    once: list[str] = Field(description="What it needs that is paid once")
    disturbs: list[str] = Field(description="Connections that it makes again, each of which may be left open")
    log: list[str] = Field(description="The lines to log once it is done")
    cautions: list[str] = Field(description="To be read before hands go near")


class PartShape(Shape):
    """A part that is a suspect, or a married group."""

    parts: list[str] = Field(description="The part, or the parts of a married group")
    p_blocks: float = Field(description="Chance that it stops a wanted function (of a group, of the likeliest part)")
    without: list[str] = Field(description="Functions to declare to do without it; empty where that may not be")
    options: list[OptionShape] = Field(description="What can be done with it, best for the unit first")


class PartsAnswer(Shape):
    """`knowngood parts`"""

    unit: str = Field(description="The unit's name")
    map: str = Field(description="Name of its map")
    log_seq: int = Field(description="The unit's last line, up to which this answer goes")
    currency: str = Field(description="ISO 4217 code of all money here")
    margin: float = Field(description="By how much the best choice is better than the next")
    wholes: list[WholeShape] = Field(description="Choices for the whole unit, best first")
    parts: list[PartShape] = Field(description="Parts that are suspects, the most suspect first")
    kept: list[str] = Field(description="Parts that are no suspects, and are kept")
    every_combination: list[str] = Field(
        description="Parts over which every combination was tried; over the others, single changes"
    )
    barred: str = Field(description="The rule by which the unit may not be tried, whatever is done; else empty")
    partly: PartlyShape | None = Field(None, description="Where exact tables do not fit: what this rests on")
