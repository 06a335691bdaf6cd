"""A move as it is ranked, with what each outcome would make of the belief."""

from __future__ import annotations

from dataclasses import dataclass

from knowngood.plan.moves import Move


@dataclass(frozen=True)
class Prospect:
    """One outcome of a move: how likely, and what it would make of the belief."""

    outcome: str
    probability: float
    known_good: float | None = None
    suspects: tuple[tuple[str, float], ...] = ()
    """The parts most likely to stop something then, with their p_blocks."""


@dataclass(frozen=True)
class Ranked:
    """A move with what it costs and what the job is worth if it comes first."""

    move: Move
    cost: float
    worth: float
    why: str
    outcomes: tuple[Prospect, ...] = ()
    spread: float = 0.0
    """How far single units lie from ``worth``: one standard deviation of what the job brings."""
