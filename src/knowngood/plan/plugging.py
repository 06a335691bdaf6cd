"""Unplugging a load that may drag its rail down, and plugging back: each counts as the best test that it makes way for.

A test of the rail with the load unplugged asks something else than the same test before, so the belief is asked as it
would be after the line: one more belief for each act that is considered.
"""

from __future__ import annotations

from dataclasses import dataclass

from knowngood.belief.believe import Belief, believe
from knowngood.belief.cases import Effort
from knowngood.belief.reach import reach
from knowngood.belief.sensing import Measuring
from knowngood.belief.story import Donors
from knowngood.belief.what_if import Answer
from knowngood.log import events as ev
from knowngood.log.state import Replay, considered
from knowngood.maps.device import PartModes
from knowngood.plan.constraints import constraint
from knowngood.plan.judge import Judge
from knowngood.plan.lifting import allowed
from knowngood.plan.moves import Move, lower, test_move, tests_here
from knowngood.plan.opening import plug_move
from knowngood.plan.ranked import Ranked
from knowngood.plan.shortlist import shortlist

MAY_DRAG = 0.02
"""A load is worth unplugging from this chance on that it drags its rail down (own judgement)."""

MOST_UNPLUGGED = 2
"""Loads whose unplugging is followed through: the likeliest to drag a rail down."""


@dataclass(frozen=True)
class Plugged:
    """A connection unplugged or made again, the belief after that line, and what could be asked then."""

    connection: str
    back: bool
    after: Replay
    judge: Judge
    """What judged what could be asked then."""
    informing: tuple[Move, ...]
    answers: tuple[Answer, ...]


def plugged(
    judge: Judge, told: Replay, donors: Donors | None, measuring: Measuring, *, effort: Effort
) -> tuple[Plugged, ...]:
    """The connections that are worth considering, each with what could be asked after it. Raises what ``believe``
    raises."""
    state = judge.state
    asked = [(name, True) for name in sorted(state.unplugged)] + [(name, False) for name in _dragging(judge)]
    found = []
    for name, back in asked:
        event: ev.Event = ev.Plugged(connection=name) if back else ev.Unplugged(connection=name)
        opening = [ev.Opened(step=step) for step in plug_move(judge.device, state, name, back=back).opens]
        after = considered(judge.device, told, [*opening, event])
        belief = believe(judge.device, after, donors=donors, measuring=measuring, effort=effort)
        then = Judge(judge.device, after.state, judge.terms, belief, judge.bit_minutes)
        informing = shortlist(then, _made_new(then, judge.belief))
        found.append(Plugged(name, back, after, then, tuple(informing), tuple(then.answers(informing))))
    return tuple(found)


def _dragging(judge: Judge) -> list[str]:
    """Connections behind which a load may drag its rail down, the likeliest first."""
    chances: dict[str, float] = {}
    for part in judge.belief.parts:
        taking = [mode.name for mode in part.modes if mode.takes is not None]
        plugs = judge.device.plugs_of[part.id]
        if not taking or not plugs or part.id in judge.state.removed:
            continue
        modes = judge.suspects[part.id].modes
        for plug in plugs:
            chances[plug] = chances.get(plug, 0.0) + sum(modes[name] for name in taking)
    free = {name: chance for name, chance in chances.items() if name not in judge.state.unplugged | judge.state.loose}
    likely = sorted((name for name, chance in free.items() if chance >= MAY_DRAG), key=lambda name: -free[name])
    return likely[:MOST_UNPLUGGED]


def _made_new(then: Judge, before: Belief) -> list[Move]:
    """Tests that ask something else than they would have asked before, and were not made in this state."""
    device, found = then.device, []
    for test in tests_here(device, then.state):
        if isinstance(test.senses, PartModes) or then.belief.outcome_in_this_state(test) is not None:
            continue
        reaching = reach(device, test)
        if reaching.of(then.belief.configuration_for(test)) != reaching.of(before.configuration_for(test)):
            move = test_move(device, then.state, test, then.stand_ins)
            if constraint(device, then.state, then.terms, move) is None:
                found.append(move)
    return found


def plugging(judge: Judge, acts: tuple[Plugged, ...]) -> list[Ranked]:
    """The considered acts as moves, each worth the best test after it that may be made, less its own cost."""
    found = []
    for one in acts:
        then = Judge(judge.device, one.after.state, judge.terms, one.judge.belief, judge.bit_minutes, one.judge)
        tests = then.informing(one.informing, one.answers)
        free = {id(move) for move in allowed(then.device, then.state, [each.move for each in tests], then.stand_ins)[0]}
        open_to = [each for each in tests if id(each.move) in free]
        if open_to:
            best = max(open_to, key=lambda each: (each.worth, each.move.name))
            move = plug_move(judge.device, judge.state, one.connection, back=one.back)
            cost = move.cost(judge.terms)
            why = f"Then: {lower(best.move.do)} ({best.move.name}). {best.why}"
            found.append(Ranked(move, cost, best.worth - cost, why, spread=best.spread, finishes=best.finishes))
    return found
