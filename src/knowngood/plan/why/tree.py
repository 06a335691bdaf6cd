"""What each outcome of the first move leads to: the advice after it, and what that one's outcomes would make of it.

Each branch is the log with the lines that would be typed then, and its advice is computed as it will be when they are.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from knowngood.belief.cases import Effort
from knowngood.belief.sensing import BY_THE_MAP, Measuring, reading_model
from knowngood.belief.story import Donors
from knowngood.log import events as ev
from knowngood.log.state import Replay, considered
from knowngood.maps.device import Device, RailToGround, RailVoltage, Test
from knowngood.maps.words import CONDITIONS
from knowngood.plan.choose import Advice, Ranked, advise
from knowngood.plan.moves import done_by, way_there
from knowngood.plan.terms import Terms

LIKELY = 0.02
"""Outcomes less likely than this are not followed."""


@dataclass(frozen=True)
class Branch:
    """One outcome of the first move, and the advice after it."""

    outcome: str
    probability: float
    line: str
    """What would be logged: of a reading, one in the middle of its state."""
    known_good: float
    then: Ranked


def tree(
    advice: Advice, terms: Terms, *, donors: Donors | None = None, measuring: Measuring = BY_THE_MAP
) -> tuple[Branch, ...]:
    """The branches of the first move, the likeliest first; none for a way out."""
    device, told = advice.asked.device, advice.asked.replay
    best = advice.best
    if best.move.act.ends:
        return ()
    found = []
    for outcome, probability, event in _ends(device, best, measuring):
        then = considered(device, told, [*way_there(best.move, told.state), event])
        after = advise(device, _at(then, told), terms, donors=donors, measuring=measuring, effort=Effort.BOUNDS)
        found.append(Branch(outcome, probability, ev.render(event), after.belief.known_good, after.best))
    return tuple(sorted(found, key=lambda one: -one.probability))


def _at(after: Replay, told: Replay) -> Replay:
    return replace(after, flags=told.flags, seq=told.seq)


def _ends(device: Device, best: Ranked, measuring: Measuring) -> list[tuple[str, float, ev.Event]]:
    """What could be seen to come of a move: its outcome, how likely, and the line that says so."""
    move = best.move
    if move.kind == "ask":
        said = best.outcomes[0]
        yes = ev.parse(said.outcome)
        return [
            (said.outcome, said.probability, yes),
            (best.outcomes[1].outcome, 1.0 - said.probability, ev.parse(move.log)),
        ]
    if move.test is None and move.kind != "look":
        return [("done", 1.0, done_by(move))]
    found: list[tuple[str, float, ev.Event]] = []
    for one in best.outcomes:
        if one.probability < LIKELY:
            continue
        if move.test is None:
            if one.outcome in CONDITIONS:
                found.append((one.outcome, one.probability, ev.Saw(part=move.target, condition=one.outcome)))
        elif move.test.verb == "read":
            reading = typical(device, move.test, one.outcome, measuring)
            found.append((one.outcome, one.probability, ev.Read(test=move.test.id, reading=reading)))
        else:
            found.append((one.outcome, one.probability, ev.parse(f"{move.log} {one.outcome}")))
    return found


def typical(device: Device, test: Test, state: str, measuring: Measuring = BY_THE_MAP) -> str:
    """A reading in the middle of a state, as it would be written."""
    assert isinstance(test.senses, (RailVoltage, RailToGround))
    model = reading_model(device, test, measuring=measuring)
    span = model.spans[state]
    middle = 0.5 * (span.low + span.high)
    return f"{10.0**middle if model.log else middle:.4g} {test.senses.unit}"
