"""What stands on the page of a unit."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from knowngood.cli.advice_shapes import MoveShape
from knowngood.cli.shapes import LineShape


@dataclass(frozen=True)
class Tap:
    """A button: what it says, and the lines that it logs."""

    label: str
    lines: tuple[str, ...]
    means: str = ""
    """What the label means, where it is a word of the handbook."""
    chance: float | None = None


@dataclass(frozen=True)
class Blank:
    """A line with a gap that a person fills in: what stands before it, what may stand in it, what comes after it."""

    label: str
    before: str
    after: str = ""
    value: str = ""
    way: tuple[str, ...] = ()
    """Lines to log first."""
    number: bool = True


@dataclass(frozen=True)
class Step:
    """The next move, with every way to log it."""

    move: MoveShape
    do: str
    """The move in few words, to be read from a metre away."""
    detail: str
    """The rest of its words: what to look for, what to ask."""
    ends: bool
    """Whether the unit leaves the bench by it."""
    opened: Tap | None
    """Logs that the way in is open; None where nothing is to be opened or closed first."""
    taps: tuple[Tap, ...]
    blank: Blank | None
    not_now: Tap | None


@dataclass(frozen=True)
class Mark:
    """One thing that is so at the bench: open, unplugged, charged, drying, on order."""

    kind: Literal["open", "unplugged", "out", "charged", "waiting", "ordered", "over", "wet"]
    word: str
    what: str


@dataclass(frozen=True)
class Sheet:
    """What the log alone says of a unit; made at once, whatever the advice takes."""

    unit: str
    what: str
    seq: int
    lines: tuple[LineShape, ...]
    """Oldest first."""
    undo: LineShape | None
    """The line that an undo would take back."""
    redo: bool
    last: LineShape
    """The last line that holds."""
    paused: bool
    """Nothing was logged for so long that a person has to find in again."""
    marks: tuple[Mark, ...]
    trays: tuple[Tap, ...]
    """Steps whose fasteners lie in trays; the label says which and how many."""
    minutes: float
    money: str
    """What it has cost so far, or brought, in words; empty if nothing was booked."""
    left: str
    """How it left the bench; empty while it is there."""
    names: tuple[str, ...]
    """What a typed line can begin with."""
