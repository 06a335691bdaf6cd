"""How a unit is shown to buyers: the grade a person gives it, and the line that says it was listed."""

from __future__ import annotations

from typing import ClassVar, Literal, get_args

from knowngood.handbook.quantities import Money
from knowngood.log.events.line import MONEY, Event, Reasoned

Grade = Literal["unmarked", "marked", "scarred", "faulty", "unproved"]
"""The best first. What each means stands in ``proof.grade.MEANS``."""

_GRADES = "|".join(get_args(Grade))


class Graded(Reasoned):
    """A person gave the unit a grade, and why (the remark). It goes before the one that the facts give."""

    form: ClassVar[str] = f"graded {_GRADES} -- WHY"
    example: ClassVar[str] = "graded scarred -- a crack in the front bezel, shown in the photos"
    reason: ClassVar[str] = "A grade needs its reason, after ' -- '."
    pattern: ClassVar[str] = rf"(?P<grade>{_GRADES})"
    verb: Literal["graded"] = "graded"
    grade: Grade

    def words(self) -> str:
        return self.grade


class Listed(Event):
    """The unit was offered to buyers; what is declared as not working by then stands in the listing."""

    form: ClassVar[str] = "listed at MONEY, or listed unit"
    example: ClassVar[str] = "listed at EUR 215"
    pattern: ClassVar[str] = rf"(?:unit|at (?P<price>{MONEY}))"
    verb: Literal["listed"] = "listed"
    price: Money | None = None
    """What is asked for it; no money moved."""

    def words(self) -> str:
        return f"at {self.price}" if self.price else "unit"
