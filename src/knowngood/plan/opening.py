"""Opening further, closing up, unplugging and plugging as moves of their own; the first two count as what they make way
for."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from knowngood.log.state import State
from knowngood.log.takes import PLUG_MINUTES
from knowngood.maps.device import Device
from knowngood.plan.access import warnings, way
from knowngood.plan.hazards import Act, hands_near
from knowngood.plan.moves import Move, lower
from knowngood.plan.ranked import Ranked
from knowngood.plan.terms import Terms


def ways_made(
    device: Device, state: State, terms: Terms, ranked: Sequence[Ranked], stop: float, to_prove: float | None
) -> list[Ranked]:
    """Opening the outermost step that moves wait behind, and closing up, where what comes after is worth going on for.

    Each is worth what the best of these is: its cost is part of that one's. Closing up is worth ``to_prove`` where all
    that is left is to show that it works.
    """
    paying = [one for one in ranked if one.worth > stop and not one.move.act.ends]
    found = []
    for step in dict.fromkeys(one.move.opens[0] for one in paying if one.move.opens):
        behind = [one for one in paying if one.move.opens[:1] == (step,)]
        found.append(_counting_as(open_move(device, state, step), behind, terms, "Behind it"))
    closed = [one for one in paying if one.move.closes]
    if to_prove is not None and to_prove > max([stop, *(one.worth for one in closed)]):
        move = close_move(device, state)
        found.append(Ranked(move, move.cost(terms), to_prove, "What it does counts as shown only once it is closed."))
    elif closed:
        found.append(_counting_as(close_move(device, state), closed, terms, "It has to be closed for"))
    return found


def _counting_as(move: Move, then: Iterable[Ranked], terms: Terms, said: str) -> Ranked:
    best, *others = sorted(then, key=lambda one: (-one.worth, one.cost))
    more = f", and {len(others)} more that pay" if others else ""
    why = f"{said}: {best.move.do} ({best.move.name}){more}."
    return Ranked(move, move.cost(terms), best.worth, why, spread=best.spread, finishes=best.finishes)


def open_move(device: Device, state: State, step: str) -> Move:
    """Opening one step, and what it takes to come to it."""
    there = way(device, state, step)
    act = Act(near=hands_near(device, (), (), there.opens, ()))
    return Move(
        kind="open",
        target=step,
        do=device.steps[step].do,
        minutes=there.minutes,
        materials=0.0,
        act=act,
        log=f"opened {step}",
        cautions=warnings(device, state, act, (), there),
        wait=there.wait,
        tools=there.tools,
        disturbs=there.disturbs,
    )


def close_move(device: Device, state: State, why: str = "") -> Move:
    """Closing all that is open."""
    there = way(device, state, None, closed=True)
    return Move(
        kind="close",
        target="unit",
        do="Close it up",
        minutes=there.minutes,
        materials=0.0,
        act=Act(near=hands_near(device, (), (), (), there.closes)),
        log="closed all",
        remark=why,
        disturbs=there.disturbs,
    )


def plug_move(device: Device, state: State, connection: str, *, back: bool) -> Move:
    """Unplugging a connection, or making it again."""
    part = device.parts[connection]
    there = way(device, state, part.behind)
    act = Act(touches=frozenset({connection}), near=hands_near(device, (connection,), (), there.opens, ()))
    return Move(
        kind="plug" if back else "unplug",
        target=connection,
        do=f"{'Plug back' if back else 'Unplug'} the {lower(part.what)}",
        minutes=there.minutes + PLUG_MINUTES,
        materials=0.0,
        act=act,
        opens=there.opens,
        log=f"{'plugged' if back else 'unplugged'} {connection}",
        cautions=warnings(device, state, act, (), there),
        wait=there.wait,
        tools=there.tools,
        disturbs=(*there.disturbs, connection),
    )
