"""What hard rules hold back, and the move that lifts the rule, where one does."""

from __future__ import annotations

from collections.abc import Sequence

from knowngood.log.state import DISCHARGE_MINUTES, DRY_MINUTES, TAKE_OUT_MINUTES, State
from knowngood.maps.device import METER, Device
from knowngood.plan.access import after_access, warnings, way
from knowngood.plan.hazards import Act, Breach, breaches, cautions
from knowngood.plan.moves import Move, lower, remedy_moves
from knowngood.plan.opening import close_move
from knowngood.plan.terms import Terms

DRY_WAIT = 24 * 60.0
"""Minutes that a washed unit dries before it may get power (common practice, no source)."""


def allowed(device: Device, state: State, moves: Sequence[Move]) -> tuple[list[Move], list[tuple[Move, Breach]]]:
    """The moves that break no hard rule, and the others with the first rule that each would break."""
    free, held = [], []
    for move in moves:
        broken = breaches(device, after_access(state, move.opens, move.closes), move.act)
        if broken:
            held.append((move, broken[0]))
        else:
            free.append(move)
    return free, held


def lifting_move(device: Device, state: State, terms: Terms, held: Move, breach: Breach) -> Move | None:
    """The move that lifts the rule which holds another back, or None where nothing but its own end does."""
    part = device.parts[breach.part] if breach.part else None
    facts = breach.rule.unless
    there = way(device, state, part.behind if part else None)
    if "discharged" in facts and part:
        return Move(
            kind="discharge",
            target=part.id,
            do=f"Unplug, let off the charge of the {lower(part.what)} through a resistor, measure what is left",
            minutes=there.minutes + DISCHARGE_MINUTES,
            materials=0.0,
            act=Act(),
            opens=there.opens,
            log=f"discharged {part.id}",
            cautions=warnings(device, state, Act(), ["stored-charge", "mains"], there),
            remark=breach.rule.why,
            wait=there.wait,
            tools=(*there.tools, METER),
            disturbs=there.disturbs,
        )
    if "dried" in facts:
        warned = cautions(device, state, Act(), [breach.hazard, "solvent"])
        do = "Pack out, wash what the liquid reached, and dry the unit through"
        return Move("dry", "unit", do, DRY_MINUTES, 0.0, Act(), log="dried unit", cautions=warned, wait=DRY_WAIT)
    if "removed" in facts and part:
        act = Act(touches=frozenset({part.id}), takes_out=part.id)
        return Move(
            kind="take-out",
            target=part.id,
            do=f"Take out the {lower(part.what)} before anything else",
            minutes=there.minutes + TAKE_OUT_MINUTES,
            materials=0.0,
            act=act,
            opens=there.opens,
            log=f"removed {part.id}",
            cautions=warnings(device, state, act, [breach.hazard], there),
            wait=there.wait,
            tools=there.tools,
            disturbs=(*there.disturbs, *device.plugs_of[part.id]),
        )
    if "closed" in facts and state.open_steps and not (held.test and held.test.behind):
        return close_move(device, state, breach.rule.why)
    if "replaced" in facts and part:
        swaps = [move for move in remedy_moves(device, state, terms, part) if move.kind == "replace"]
        return min(swaps, key=lambda move: move.cost(terms), default=None)
    return None
