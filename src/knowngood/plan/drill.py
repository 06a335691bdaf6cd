"""Drills: units made to be dangerous, worked on in any order that the hard rules allow, every proposal checked.

A rehearsal meets the hazards that chance brings; a drill brings them: a supply seen burnt, a swollen cell, a unit that
got wet, a shorted rail, a cover lost. Whoever works on it need not be wise: with ``any_allowed`` every move that the
program could propose is there to be taken, whatever it would be worth, so that the rules are met in states into which
no sensible plan would come.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np

from knowngood.belief.cases import Effort
from knowngood.errors import TooLargeError
from knowngood.log import events as ev
from knowngood.log.state import Replay
from knowngood.maps.device import Device, RailToGround
from knowngood.plan.choose import advise
from knowngood.plan.constraints import stand_ins
from knowngood.plan.hazards import Breach
from knowngood.plan.lifting import allowed, first_lift
from knowngood.plan.moves import Move, look_move, possible_tests, remedy_moves, test_move
from knowngood.plan.opening import close_move, open_move, plug_move
from knowngood.plan.rehearse import HiddenUnit
from knowngood.plan.safety import Checker
from knowngood.plan.terms import Terms

Proposed = tuple[Sequence[Move], Sequence[Breach]]
"""What may be done, and the rules that hold the rest back."""

Proposing = Callable[[Device, Replay, Terms], Proposed]

HURTS = {
    "mains": (0.2, ("dented", "cracked", "wet", "burnt")),
    "cell": (0.4, ("swollen", "punctured", "wet")),
    "stored-charge": (0.1, ("wet", "bulged")),
}
"""Chance that a drill has a part with this hazard seen hurt, and the conditions that it draws from."""

PASTS = ("dropped", "wet", "surged")


@dataclass
class Drilled:
    """What was proposed in drills, and what of it was a breach."""

    plans: int = 0
    proposals: int = 0
    meetings: Counter[str] = field(default_factory=Counter)
    """Decisions at which each rule held something back, by the rule's name."""
    breaches: list[tuple[str, str, tuple[str, ...]]] = field(default_factory=list)
    """Sentence, move and log of each breach."""

    def add(self, other: Drilled) -> None:
        self.plans += other.plans
        self.proposals += other.proposals
        self.meetings += other.meetings
        self.breaches += other.breaches


def advised(device: Device, told: Replay, terms: Terms) -> Proposed:
    """The program's own advice, best first."""
    advice = advise(device, told, terms, effort=Effort.ONE_PIECE)
    return [one.move for one in advice.ranked], [breach for _, breach in advice.held]


def any_allowed(device: Device, told: Replay, terms: Terms) -> Proposed:
    """All that the rules let the program propose, whatever it would be worth, and what lifts the rest."""
    state = told.state
    others = stand_ins(device, state, terms)
    there = [part for part in device.parts.values() if part.id not in state.removed]
    moves = [test_move(device, state, test, others) for test in possible_tests(device, state, terms)]
    moves += [look_move(device, state, part) for part in there]
    moves += [move for part in device.parts.values() for move in remedy_moves(device, state, terms, part)]
    moves += [open_move(device, state, step) for step in device.steps if step not in state.open_steps]
    moves += [close_move(device, state)] if state.open_steps else []
    plugs = [part.id for part in there if part.joins and part.id not in state.loose]
    moves += [plug_move(device, state, plug, back=plug in state.unplugged) for plug in plugs]
    free, held = allowed(device, state, moves, others)
    first = {(breach.rule.id, breach.part): (move, breach) for move, breach in held}
    lifts = [first_lift(device, state, terms, move, breach) for move, breach in first.values()]
    lifting = {move.name: move for move in lifts if move is not None}
    return [*lifting.values(), *free], [breach for _, breach in held]


def drill(
    unit: int, device: Device, terms: Terms, seed: int, *, moves: int = 8, proposing: Proposing = any_allowed
) -> Drilled:
    """One drawn unit, hurt before the first move, on which at most so many moves are made.

    Of what is proposed the first is made or, as often, one that is drawn: first its kind, then the move.
    """
    draw = np.random.default_rng([seed, unit])
    hidden = HiddenUnit(device, tuple(past for past in PASTS if draw.random() < 0.25), draw)
    _hurt(device, hidden, draw)
    found = Drilled(plans=1)
    for _ in range(moves):
        told = hidden.replayed
        try:
            proposed, held = proposing(device, told, terms)
        except TooLargeError:
            break  # the log outgrew exact inference: nothing is proposed
        found.proposals += len(proposed)
        found.meetings.update({breach.rule.id for breach in held})
        lines = tuple(ev.render(line.event) for line in told.lines)
        checker = Checker(device, told, stand_ins(device, told.state, terms))
        found.breaches += [(word, move.name, lines) for move in proposed for word in checker.broken(move)]
        move = proposed[0] if proposed and draw.random() < 0.5 else _drawn(proposed, draw)
        if move is None or move.act.ends:
            break
        hidden.carry_out(move)
    return found


def _drawn(proposed: Sequence[Move], draw: np.random.Generator) -> Move | None:
    kinds = sorted({move.kind for move in proposed})
    if not kinds:
        return None
    kind = kinds[int(draw.integers(len(kinds)))]
    ones = [move for move in proposed if move.kind == kind]
    return ones[int(draw.integers(len(ones)))]


def _hurt(device: Device, hidden: HiddenUnit, draw: np.random.Generator) -> None:
    """Logs what makes a unit dangerous: things seen hurt, parts off, a shorted rail, a charge not let off."""
    for hazard, (chance, conditions) in HURTS.items():
        for part in device.parts.values():
            if hazard in part.hazards and draw.random() < chance:
                hidden.log(ev.Saw(part=part.id, condition=conditions[int(draw.integers(len(conditions)))]))
    steps = list(device.steps)
    if steps and draw.random() < 0.4:
        for step in device.path_to[steps[int(draw.integers(len(steps)))]]:
            hidden.log(ev.Opened(step=step))
    covers = sorted({part for step in device.steps.values() for part in step.removes})
    if covers and draw.random() < 0.2:
        cover = covers[int(draw.integers(len(covers)))]
        hidden.log(ev.Saw(part=cover, condition="missing") if draw.random() < 0.5 else ev.Removed(part=cover))
    grounds = [test for test in device.tests.values() if isinstance(test.senses, RailToGround)]
    if grounds and draw.random() < 0.3:
        test = grounds[int(draw.integers(len(grounds)))]
        hidden.log(ev.Read(test=test.id, reading="0.01 V" if test.senses == _diode(test.senses) else "0.05 ohm"))
    for part in device.parts.values():
        if "stored-charge" in part.hazards and draw.random() < 0.3:
            hidden.log(ev.Discharged(part=part.id, reading=f"{draw.choice([3, 12, 48, 320])} V"))


def _diode(sensed: object) -> RailToGround | None:
    return sensed if isinstance(sensed, RailToGround) and sensed.diode else None
