"""What stands on the pages of photos."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Mark:
    """A numbered mark on a photo: percent from the left and from the top."""

    number: int
    x: int
    y: int
    target: str
    note: str
    is_part: bool


@dataclass(frozen=True)
class Shot:
    """A photo of the unit."""

    file: str
    target: str
    when: str
    seq: int
    time: str
    note: str
    marks: tuple[Mark, ...]
    is_part: bool

    @property
    def says(self) -> str:
        """The photo in words, for who cannot see it."""
        what = f"Photo of {self.target.replace('-', ' ')}"
        return what + (f", {self.when} the work" if self.when else "")


@dataclass(frozen=True)
class Pair:
    """The last photos of one thing before and after the work."""

    target: str
    before: Shot
    after: Shot


@dataclass(frozen=True)
class Album:
    """All photos of a unit."""

    unit: str
    what: str
    left: bool
    """Whether the unit has left the bench."""
    seq: int
    shots: tuple[Shot, ...]
    """The newest first."""
    pairs: tuple[Pair, ...]
    shown: tuple[tuple[str, int], ...]
    """Parts that are on photos, each with how many, those on most first."""
    unseen: tuple[str, ...]
    """The other parts."""
    targets: tuple[str, ...]
    """What a photo or a mark can be of."""


@dataclass(frozen=True)
class Cell:
    """A field of the grid over a photo, by the middle of it in percent."""

    x: int
    y: int
