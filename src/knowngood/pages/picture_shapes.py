"""What stands in the picture of a map, and on the page of a part."""

from __future__ import annotations

from dataclasses import dataclass

from knowngood.pages.unit_shapes import Blank, Tap


@dataclass(frozen=True)
class Drawn:
    """A part or rail in the picture."""

    name: str
    x: float
    y: float
    width: float
    height: float
    words: tuple[tuple[float, str], ...]
    """Its name in one or two lines, each with its height on the page."""
    says: str
    """All that the drawing says of it, in words."""
    rail: bool = False
    level: int = 0
    """How likely it stops something: 0 to 3, drawn as outline and hatching."""
    chance: str = ""
    note: str = ""
    """What is so with it: out, unplugged, what was seen on it."""
    away: bool = False
    aim: bool = False
    """Whether the next move is about it."""

    @property
    def right(self) -> float:
        return self.x + self.width - 6

    @property
    def middle(self) -> float:
        return self.x + self.width / 2

    @property
    def foot(self) -> float:
        return self.y + self.height - 7


@dataclass(frozen=True)
class Group:
    """An assembly in the picture."""

    name: str
    x: float
    y: float
    width: float
    height: float


@dataclass(frozen=True)
class Picture:
    """The map of a unit as it stands."""

    width: float
    height: float
    left: float
    top: float
    shown_width: int
    """Pixels on the page at the chosen size."""
    shown_height: int
    parts: tuple[Drawn, ...]
    groups: tuple[Group, ...]
    arrows: tuple[str, ...]
    apart: float | None
    """Where the words stand above what is fed by nothing; None where there is no such thing."""
    likely: tuple[Drawn, ...]
    """What most probably stops something, and what the next move is about."""


@dataclass(frozen=True)
class Deed:
    """A test, a remedy or another act at a part, with its buttons."""

    do: str
    takes: str
    """Minutes, tools and money, in words."""
    cautions: tuple[str, ...] = ()
    held: str = ""
    """Why it may not be done now."""
    first: str = ""
    """What has to be opened or closed first."""
    taps: tuple[Tap, ...] = ()
    blank: Blank | None = None


@dataclass(frozen=True)
class Deeds:
    """What can be done of one sort."""

    cautions: tuple[str, ...] = ()
    """Those that hold for each of them."""
    each: tuple[Deed, ...] = ()


@dataclass(frozen=True)
class PartSheet:
    """The page of a part."""

    name: str
    what: str
    level: int
    chance: str
    where: tuple[tuple[str, str], ...]
    """What is so with it and where it belongs: a word, and what it says."""
    looks: Deed | None
    """None for a unit that has left the bench."""
    tests: Deeds
    remedies: Deeds
    others: tuple[Tap, ...]
    """Conditions that its kind does not name."""
    hands: Deed | None
    """Taking it out or apart, and putting it back."""
