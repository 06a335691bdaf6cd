"""What holds a move back beside the hard rules: quarantine, no such tool, no such part, not now, curing, on order.

A tool or a part that is not to be had is out of reach for the whole plan, and going on is worth less without it. What
was put off may still be done later: going on keeps its worth, it is only not proposed now. The same holds for what
uses a part that was just worked on, and for putting in a part that is on order. In quarantine all is put off but what
cannot wait there: a hurt cell goes out, a charge is let off on the way to it, a wet unit is dried.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from knowngood.belief.evaluate import effects
from knowngood.handbook.quantities import format_minutes
from knowngood.log.connections import brought_along
from knowngood.log.incoming import Order
from knowngood.log.state import State
from knowngood.maps.device import Device, FunctionLevel, PartModes
from knowngood.plan.terms import Terms

if TYPE_CHECKING:
    from knowngood.plan.moves import Move


EMERGENCIES = ("take-out", "discharge", "dry", "wait")
"""Kinds of move that a quarantine does not put off."""


@dataclass(frozen=True)
class Constraint:
    """Why a move is held back."""

    rule: str
    """quarantine, no-tool, no-part, married, not-now, curing or on-order."""
    name: str
    """The tool, the part, test or step, the parts that it is married to, or why it is in quarantine."""
    left: float = 0.0
    """Minutes that it still cures."""
    order: Order | None = None
    """The order that is to bring it."""

    @property
    def passes(self) -> bool:
        """Whether the move can still be done later."""
        return self.rule in ("quarantine", "not-now", "curing", "on-order")

    @property
    def why(self) -> str:
        if self.rule == "curing":
            return f"Still curing: {self.name}, {format_minutes(self.left)} left."
        if self.order is not None:
            due = f", due {self.order.due}" if self.order.due else ""
            return f"On order: {self.name} from {self.order.supplier}{due}."
        said = {
            "quarantine": "In quarantine",
            "no-tool": "No such tool",
            "no-part": "No such part to be had",
            "married": "Works only with its own",
            "not-now": "Not now",
        }
        return f"{said[self.rule]}: {self.name}."


def constraint(device: Device, state: State, terms: Terms, move: Move) -> Constraint | None:
    """The first of the constraints that a move meets."""
    return (
        in_quarantine(state, move)
        or out_of_reach(state, terms, move)
        or moved_alone(device, state, move)
        or put_off(state, move)
        or still_curing(device, state, move)
        or on_order(state, move)
    )


def in_quarantine(state: State, move: Move) -> Constraint | None:
    """Why the unit is kept apart, unless the move is one that cannot wait."""
    if state.intake.quarantine is None or move.hurries or move.kind in EMERGENCIES:
        return None
    return Constraint("quarantine", state.intake.quarantine[1])


def out_of_reach(state: State, terms: Terms, move: Move) -> Constraint | None:
    """The tool or part that a move would take and that is not to be had."""
    for tool in move.tools:
        if tool.lower() in terms.lacks | state.ruled_out.tools:
            return Constraint("no-tool", tool)
    if move.kind == "replace" and move.target in state.ruled_out.parts:
        return Constraint("no-part", move.target)
    return None


def moved_alone(device: Device, state: State, move: Move) -> Constraint | None:
    """What a replacement would be parted from: the rest of a married group of which it, or what sits on it, is one, and
    which does not come from the same unit."""
    if move.kind != "replace" or move.source is None:
        return None
    moved = {move.target, *brought_along(device, state, move.target, move.source.origin)}
    for group in device.married:
        others = [one for one in group.parts if one not in moved]
        if len(others) < len(group.parts) and any(state.origin.get(one) != move.source.origin for one in others):
            return Constraint("married", ", ".join(others))
    return None


def stand_ins(device: Device, state: State, terms: Terms) -> frozenset[str]:
    """Parts in whose place the bench can put another: their kind has one, and it and its tools are to be had."""
    lacks = terms.lacks | state.ruled_out.tools
    return frozenset(
        part.id
        for part in device.parts.values()
        if part.swap is not None
        and part.id not in state.ruled_out.parts
        and not any(tool.lower() in lacks for tool in part.swap.tools)
    )


def put_off(state: State, move: Move) -> Constraint | None:
    """What of a move was put off: its test, its part, or a step that it would open."""
    sensed = move.test.senses if move.test else None
    names = (move.target, *((sensed.part,) if isinstance(sensed, PartModes) else ()), *move.opens)
    name = next((one for one in names if one in state.ruled_out.deferred), None)
    return Constraint("not-now", name) if name else None


def still_curing(device: Device, state: State, move: Move) -> Constraint | None:
    """The part that a move works on, tests or needs in working order, and that may not be used yet."""
    sensed = move.test.senses if move.test else None
    for part, left in state.curing.items():
        tested = isinstance(sensed, PartModes) and sensed.part == part
        needed = isinstance(sensed, FunctionLevel) and any(
            sensed.function in effects(device).alone[part, mode.name] for mode in device.parts[part].modes
        )
        if move.target == part or tested or needed:
            return Constraint("curing", part, left)
    return None


def on_order(state: State, move: Move) -> Constraint | None:
    """The part that a move would put in and that is paid for and not here yet."""
    order = state.incoming.ordered.get(move.target) if move.kind == "replace" else None
    return Constraint("on-order", move.target, order=order) if order else None
