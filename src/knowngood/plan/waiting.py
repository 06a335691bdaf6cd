"""Doing nothing for a while: what has to wait is worth more than any way out, so the unit is left lying until then."""

from __future__ import annotations

from knowngood.log import events as ev
from knowngood.plan.constraints import Constraint
from knowngood.plan.hazards import Act
from knowngood.plan.moves import Move, lower


def waiting_move(later: Move, why: Constraint) -> Move:
    """Leaving the unit until what holds back a move has passed."""
    event: ev.Event
    match why.rule:
        case "curing":
            do, event = "Let it cure", ev.Waited(wait=why.left)
        case "on-order":
            do, event = f"Wait for the {why.name} that is on order", ev.Arrived(part=why.name)
        case "quarantine":
            do, event = "Keep it apart until the reason is gone", ev.Cleared()
        case _:
            do, event = "Leave it for now", ev.Resumed(name=why.name)
    return Move(
        kind="wait",
        target=why.name,
        do=f"{do}. Then: {lower(later.do)}",
        minutes=0.0,
        materials=0.0,
        act=Act(),
        log=ev.render(event),
        remark=why.why,
        wait=why.left,
        then=later,
    )
