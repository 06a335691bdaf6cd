"""A line that is put together from a form: what a person picks and fills in, for everything that can be typed, too."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from knowngood.errors import LineError

LONGEST = 300
"""Characters of what is filled in."""


@dataclass(frozen=True)
class Choice:
    """One thing to pick: what the line has for it, and its words."""

    value: str
    says: str


@dataclass(frozen=True)
class Piece:
    """A gap in a line: picked from ``choices`` if there are any, else filled in."""

    label: str
    choices: tuple[Choice, ...] = ()
    before: str = ""
    """What the line has before it, if it is filled in."""
    after: str = ""
    value: str = ""
    hint: str = ""
    number: bool = False
    optional: bool = False


@dataclass(frozen=True)
class Saying:
    """A form for one line. What comes back names it by its key; the line is made here, never sent."""

    key: str
    title: str
    start: str
    pieces: tuple[Piece, ...] = ()
    button: str = "Log"
    caution: str = ""
    strong: bool = True
    error: str = field(default="", compare=False)


def line_of(saying: Saying, values: Mapping[str, str]) -> str:
    """The line that the filled-in form stands for. Raises LineError that names the gap."""
    words = [saying.start]
    for number, piece in enumerate(saying.pieces):
        given = " ".join(values.get(f"piece{number}", "")[: LONGEST + 1].split())
        if len(given) > LONGEST:
            raise LineError(f"{piece.label}: this is longer than {LONGEST} characters. Say it shorter.")
        if not given:
            if piece.optional:
                continue
            raise LineError(f"{piece.label}: nothing is filled in yet.")
        if piece.choices and given not in {one.value for one in piece.choices}:
            raise LineError(f"{piece.label}: '{given}' is not one of those to choose from. Open the page again.")
        words += [piece.before, given, piece.after]
    return " ".join(" ".join(words).split())


def refused(saying: Saying, values: Mapping[str, str], error: str) -> Saying:
    """The form with what was filled in and the sentence that says why it was not taken."""
    pieces = tuple(
        replace(piece, value=values.get(f"piece{number}", "")[:LONGEST]) for number, piece in enumerate(saying.pieces)
    )
    return replace(saying, pieces=pieces, error=error)
