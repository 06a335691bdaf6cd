"""What hard rules hold back, and the move that lifts the rule, where one does."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from knowngood.log import events as ev
from knowngood.log.effect import DRY_WAIT, one_node
from knowngood.log.state import State
from knowngood.log.takes import DISCHARGE_MINUTES, DRY_CHECK_MINUTES, DRY_MINUTES, TAKE_OUT_MINUTES
from knowngood.maps.device import METER, Device, Part
from knowngood.plan.access import after_access, warnings, way
from knowngood.plan.constraints import stand_ins
from knowngood.plan.hazards import EVERYTHING, Act, Breach, StandIns, breaches, cautions, hands_near
from knowngood.plan.moves import Move, lower, remedy_moves
from knowngood.plan.opening import close_move, open_move, plug_move
from knowngood.plan.terms import Terms


def allowed(
    device: Device, state: State, moves: Sequence[Move], others: StandIns = None
) -> tuple[list[Move], list[tuple[Move, Breach]]]:
    """The moves that break no hard rule, and the others with the first rule that each would break.

    ``others`` are the parts in whose place another can be put (``constraints.stand_ins``).
    """
    free, held = [], []
    for move in moves:
        broken = breaches(device, after_access(state, move.opens, move.closes), move.act, others)
        if broken:
            held.append((move, broken[0]))
        else:
            free.append(move)
    return free, held


def lifting_move(device: Device, state: State, terms: Terms, held: Move, breach: Breach) -> Move | None:
    """The move that lifts the rule which holds another back, or None where nothing but its own end does."""
    part = device.parts[breach.part] if breach.part else None
    facts = breach.rule.unless
    if "unplugged" in facts and part:
        return _unplug_move(device, state, part) or _take_out_move(device, state, part, breach)
    if "discharged" in facts and part:
        node = [device.parts[one] for one in sorted(one_node(device, state, part.id) - {part.id})]
        at = (part, *(one for one in node if breach.hazard in one.hazards))
        ways = [_discharge_move(device, state, one, breach) for one in at]
        return next((way for way in ways if not allowed(device, state, [way])[1]), ways[0])
    if "dried" in facts and state.drying is not None:
        return _drying(state, breach)
    if "dried" in facts:
        act = Act(near=frozenset(device.parts))  # nobody knows where the liquid went
        warned = cautions(device, state, act, [breach.hazard, "solvent"])
        do = "Pack out, wash what the liquid reached, and dry the unit through"
        return Move(
            "dry",
            "unit",
            do,
            DRY_MINUTES,
            0.0,
            act,
            log="dried unit",
            cautions=warned,
            remark="Log 'began drying' once it is washed.",
            wait=DRY_WAIT,
        )
    if breach.rule.forbids == EVERYTHING and part:
        return _take_out_move(device, state, part, breach)
    if "covered" in facts and state.open_steps and not (held.test and held.test.behind):
        return close_move(device, state, breach.rule.why)
    if "replaced" in facts and part:
        swaps = [move for move in remedy_moves(device, state, terms, part) if move.kind == "replace"]
        return min(swaps, key=lambda move: move.cost(terms), default=None)
    return None


def _drying(state: State, breach: Breach) -> Move:
    """What is left to do about a unit that was washed: wait, then look."""
    look = "Look that it is dry through, under the shields and plugs too"
    dried = Move("dry", "unit", look, DRY_CHECK_MINUTES, 0.0, Act(), log="dried unit", remark=breach.rule.why)
    if not state.drying:
        return dried
    left = float(math.ceil(state.drying))
    do, log = f"Let it dry. Then: {lower(look)}", ev.render(ev.Waited(wait=left))
    return Move("wait", "unit", do, 0.0, 0.0, Act(), log=log, remark=breach.rule.why, wait=left, then=dried)


def first_lift(device: Device, state: State, terms: Terms, held: Move, breach: Breach) -> Move | None:
    """What to do first so that a move is held back no more."""
    return next(iter(lifts_in_a_row(device, state, terms, held, breach)), None)


def held_back(device: Device, state: State, terms: Terms, move: Move, others: StandIns) -> tuple[str, str]:
    """Why a hard rule forbids a move, and the line that lifts this rule, if one does; both empty where none does."""
    held = allowed(device, state, [move], others)[1]
    if not held:
        return "", ""
    lifts = first_lift(device, state, terms, move, held[0][1])
    return str(held[0][1]), lifts.log if lifts else ""


def lifts_in_a_row(device: Device, state: State, terms: Terms, held: Move, breach: Breach) -> tuple[Move, ...]:
    """What to do so that a move is held back no more, the first first: the move that lifts its rule and, if a rule
    holds that one back too, what lifts that before it, and so on; nothing if that never ends."""
    row: list[Move] = []
    while True:
        lifts = lifting_move(device, state, terms, held, breach)
        if lifts is None or lifts.name in {one.name for one in row}:
            return ()
        row.insert(0, lifts)
        still = allowed(device, state, [lifts], stand_ins(device, state, terms))[1]
        if not still:
            return tuple(row)
        ((held, breach),) = still


def _take_out_move(device: Device, state: State, part: Part, breach: Breach) -> Move:
    there = way(device, state, part.behind)
    near = hands_near(device, (part.id,), (), there.opens, ())
    act = Act(touches=frozenset({part.id}), near=near, takes_out=part.id)
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
        hurries=True,
    )


def _unplug_move(device: Device, state: State, part: Part) -> Move | None:
    """Taking apart what a part hangs on: the step that does it on the way, or a plug by itself; None if it has none."""
    left = [one for one in device.plugs_of[part.id] if one not in state.apart]
    if not left:
        return None
    plug = device.parts[left[0]]
    step = next((one for one in way(device, state, plug.behind).opens if plug.id in device.steps[one].unplugs), None)
    move = open_move(device, state, step) if step else plug_move(device, state, plug.id, back=False)
    return replace(move, do=f"Unplug the {lower(part.what)} before anything else: {lower(move.do)}", hurries=True)


def _discharge_move(device: Device, state: State, part: Part, breach: Breach) -> Move:
    there = way(device, state, part.behind)
    act = Act(near=hands_near(device, (), (), there.opens, ()), discharges=part.id)
    return Move(
        kind="discharge",
        target=part.id,
        do=f"Unplug, let off the charge of the {lower(part.what)} through a resistor, measure what is left",
        minutes=there.minutes + DISCHARGE_MINUTES,
        materials=0.0,
        act=act,
        opens=there.opens,
        log=f"discharged {part.id}",
        cautions=warnings(device, state, act, [breach.hazard, "mains"], there),
        remark=breach.rule.why,
        wait=there.wait,
        tools=(*there.tools, METER),
        disturbs=there.disturbs,
    )
