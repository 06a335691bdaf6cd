"""A move as it is ranked, with what each outcome would make of the belief."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from knowngood.belief.believe import Belief
from knowngood.belief.what_if import Answer
from knowngood.plan.moves import Move


@dataclass(frozen=True)
class Prospect:
    """One outcome of a move: how likely, and what it would make of the belief."""

    outcome: str
    probability: float
    known_good: float | None = None
    suspects: tuple[tuple[str, float], ...] = ()
    """The parts most likely to stop something then, with their p_blocks."""
    missed: float = 0.0
    """How far these chances, given the outcome, may lie from the true ones, where the belief is only a part."""


def prospects(belief: Belief, answer: Answer) -> tuple[Prospect, ...]:
    """The outcomes of a look or test that are possible, in the order of its words."""
    found = []
    for row in np.flatnonzero(answer.probability > 0.0):
        blocks = answer.p_blocks[row]
        likeliest = [one for one in np.argsort(-blocks, kind="stable")[:3] if blocks[one] >= 0.005]
        suspects = tuple((belief.parts[one].id, float(blocks[one])) for one in likeliest)
        chance, good = float(answer.probability[row]), float(answer.known_good[row])
        missed = float(belief.missed(chance))
        found.append(Prospect(answer.query.outcomes[row], chance, good, suspects, missed))
    return tuple(found)


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
    finishes: float = 0.0
    """Chance that the job ends in a unit that works, by the estimate that ``worth`` is by."""
