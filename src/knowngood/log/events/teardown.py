"""What a teardown came upon and how it hangs together: of a device whose map does not know that yet."""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

from pydantic import Field

from knowngood.log.events.line import NAME, Event

NAMES = rf"{NAME}(?: and {NAME})*"
Names = Annotated[tuple[str, ...], Field(min_length=1)]
Pair = Annotated[tuple[str, ...], Field(min_length=1, max_length=2)]


class Met(Event):
    """A part, an access step that was opened, or a plug, come upon on the way in; a map can be grown from it."""

    form: ClassVar[str] = (
        "met part|step|plug NAME [as KIND] [behind STEP [and STEP]] [with STEP] [joins PART [and PART]] [latch WORD] "
        "[reversible]"
    )
    example: ClassVar[str] = "met plug fan-plug behind lid-off with board-up joins exhaust-fan and main-board"
    pattern: ClassVar[str] = (
        rf"(?P<sort>part|step|plug) (?P<name>{NAME})(?: as (?P<kind>{NAME}))?(?: behind (?P<behind>{NAMES}))?"
        rf"(?: with (?P<step>{NAME}))?(?: joins (?P<joins>{NAMES}))?(?: latch (?P<latch>{NAME}))?"
        r"(?: (?P<reversible>reversible))?"
    )
    verb: Literal["met"] = "met"
    sort: Literal["part", "step", "plug"]
    name: str
    kind: str | None = None
    behind: Names | None = None
    """Steps that were open when it was come upon."""
    step: str | None = None
    """The step with which it comes off, or apart."""
    joins: Pair | None = None
    """What hangs on it, then what it hangs on."""
    latch: str | None = None
    reversible: bool = False

    def words(self) -> str:
        said = {
            "as": self.kind,
            "behind": " and ".join(self.behind or ()),
            "with": self.step,
            "joins": " and ".join(self.joins or ()),
            "latch": self.latch,
        }
        words = [self.sort, self.name, *(f"{word} {what}" for word, what in said.items() if what)]
        return " ".join([*words, *(["reversible"] if self.reversible else [])])
