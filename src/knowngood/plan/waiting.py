"""Doing nothing for a while: what was put off is worth more than any way out, so it is left lying until then."""

from __future__ import annotations

from knowngood.plan.constraints import Constraint
from knowngood.plan.hazards import Act
from knowngood.plan.moves import Move, lower


def waiting_move(later: Move, why: Constraint) -> Move:
    """Leaving the unit until what holds back a move has passed."""
    return Move(
        kind="wait",
        target=why.name,
        do=f"Leave it for now. Then: {lower(later.do)}",
        minutes=0.0,
        materials=0.0,
        act=Act(),
        log=f"resumed {why.name}",
        remark=why.why,
    )
