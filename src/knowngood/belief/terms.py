"""What the level of a function in a configuration is made of: its terms, patterns over columns, and what limits it."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from knowngood.belief.configuration import Configuration
from knowngood.maps.words import Level

GOOD, WEAK, NONE = int(Level.GOOD), int(Level.WEAK), int(Level.NONE)
TOO_HIGH = 3
HIGHEST = 4
"""The highest row that anything sensed has: of a rail that can be too high, and can pulse."""
STEADY, CHANGED = "steady", "changed"
LAYERS = (CHANGED, STEADY)
"""The two layers of a function's level: what is the same in all configurations that matter, and what is not."""
UNSHORTED = "unshorted"
"""What a rail would be if no load shorted it: a level as any other, of the same two layers."""
Best = Callable[..., int]
"""The minimum or the maximum of two levels or of many, or what two things come to together."""
Pattern = tuple[int, ...]
Node = tuple[str, str]
"""A function or test, and which aspect of it: level, steady, changed, short, high, unshorted, voltage, any-mode."""
Variable = tuple[Node, int | None]
"""What one variable stands for: all columns of a node (None), or one column of a node in ``APART``."""


@dataclass(frozen=True)
class PartTerm:
    """What a part's variable allows: one level for each of its states."""

    variable: str
    allows: Pattern


@dataclass(frozen=True)
class NodeTerm:
    """What another node's column allows: its own level."""

    node: Node
    column: int


@dataclass(frozen=True)
class AnyTerm:
    """The best of its members."""

    members: tuple[PartTerm | NodeTerm | int, ...]


Term = PartTerm | NodeTerm | AnyTerm | int
"""A bare number is a level that holds for certain."""


@dataclass(frozen=True)
class Expression:
    """A pattern for each state of a variable; with no variable, one pattern that holds for certain."""

    variable: str | None
    patterns: tuple[Pattern, ...]


@dataclass(frozen=True)
class Handle:
    """Where a test's evidence goes: the variable, and for each of its states the row of the test's table."""

    variable: str | None
    rows: tuple[int, ...]


@dataclass
class Ceiling:
    """What a function's level cannot exceed: for each variable a level for each of its states, the best member of each
    group, and a level that holds for certain."""

    levels: dict[str, Pattern]
    groups: dict[tuple[Node, Configuration], None]
    most: int

    def join(self, other: Ceiling) -> None:
        for variable, levels in other.levels.items():
            known = self.levels.get(variable, levels)
            self.levels[variable] = levels if known is levels else each(min, known, levels)
        self.groups |= other.groups
        self.most = min(self.most, other.most)

    def cap(self, term: Term) -> None:
        if isinstance(term, PartTerm):
            known = self.levels.get(term.variable, term.allows)
            self.levels[term.variable] = term.allows if known is term.allows else each(min, known, term.allows)
        elif isinstance(term, int):
            self.most = min(self.most, term)
        else:
            raise AssertionError(term)


@dataclass(frozen=True)
class Demand:
    """What it takes that a function is at a level: states of parts, and groups of which one member is."""

    allows: tuple[tuple[str, tuple[bool, ...]], ...]
    """For each variable that could keep it lower, the states that leave it there."""
    groups: tuple[tuple[Node, Configuration], ...]
    possible: bool


def unknown_of(function: str) -> str:
    """Name of the variable of what this map does not know about a function."""
    return f"?{function}"


def tighter(bound: PartTerm | NodeTerm, term: PartTerm) -> bool:
    """Whether a bound of the same part never allows more than the term does."""
    return (
        isinstance(bound, PartTerm)
        and bound.variable == term.variable
        and all(one <= other for one, other in zip(bound.allows, term.allows, strict=True))
    )


def flat(terms: Iterable[Term]) -> Iterable[Term]:
    """The terms, with the members of any-of terms in their place."""
    for term in terms:
        yield from term.members if isinstance(term, AnyTerm) else (term,)


def each(best: Best, left: Pattern, right: Pattern) -> Pattern:
    """Two patterns as one, place by place."""
    return tuple(map(best, left, right))
