"""What the person rules out: no such tool, no such part, not now. A move that meets one is not proposed.

A tool or a part that is not to be had is out of reach for the whole plan, and going on is worth less without it. What
was put off may still be done later: going on keeps its worth, it is only not proposed now.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from knowngood.log.state import State
from knowngood.maps.device import PartModes
from knowngood.plan.terms import Terms

if TYPE_CHECKING:
    from knowngood.plan.moves import Move


@dataclass(frozen=True)
class Constraint:
    """Why the person's own word holds a move back."""

    rule: str
    """no-tool, no-part or not-now."""
    name: str
    """The tool, or the part, test or step."""

    @property
    def passes(self) -> bool:
        """Whether the move can still be done later."""
        return self.rule == "not-now"

    @property
    def why(self) -> str:
        said = {"no-tool": "No such tool", "no-part": "No such part to be had", "not-now": "Not now"}
        return f"{said[self.rule]}: {self.name}."


def constraint(state: State, terms: Terms, move: Move) -> Constraint | None:
    """The first of the person's constraints that a move meets."""
    return out_of_reach(state, terms, move) or put_off(state, move)


def out_of_reach(state: State, terms: Terms, move: Move) -> Constraint | None:
    """The tool or part that a move would take and that is not to be had."""
    for tool in move.tools:
        if tool.lower() in terms.lacks | state.ruled_out.tools:
            return Constraint("no-tool", tool)
    if move.kind == "replace" and move.target in state.ruled_out.parts:
        return Constraint("no-part", move.target)
    return None


def put_off(state: State, move: Move) -> Constraint | None:
    """What of a move was put off: its test, its part, or a step that it would open."""
    sensed = move.test.senses if move.test else None
    names = (move.target, *((sensed.part,) if isinstance(sensed, PartModes) else ()), *move.opens)
    name = next((one for one in names if one in state.ruled_out.deferred), None)
    return Constraint("not-now", name) if name else None
