"""The way in to what a person names: steps in order, what comes out and off with each, and what to look at on the way.

Looks and tests without power that the way leaves in reach cost no more access; those are named whose answer is worth
more than their own minutes, one for each part, by the belief as it is once it is open so far.
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass

import numpy as np

from knowngood.belief.believe import Belief, believe
from knowngood.belief.sensing import BY_THE_MAP, Measuring
from knowngood.belief.story import Donors
from knowngood.errors import LineError
from knowngood.log import events as ev
from knowngood.log.state import Replay, considered
from knowngood.maps.access import elapsed, in_order
from knowngood.maps.device import Device, PartModes
from knowngood.maps.shape import nearest, similar
from knowngood.plan.access import after_access, closing_minutes
from knowngood.plan.constraints import constraint, stand_ins
from knowngood.plan.joints import Pull, Undone, before_pulling, drivers, undone
from knowngood.plan.judge import Judge
from knowngood.plan.lifting import allowed, held_back
from knowngood.plan.moves import Move, look_move, test_move, tests_here
from knowngood.plan.opening import open_move
from knowngood.plan.terms import Terms
from knowngood.plan.value import bits_told


@dataclass(frozen=True)
class Opening:
    """One step of the way in."""

    step: str
    do: str
    minutes: float
    wait: float
    """Minutes from the start before it may be opened."""
    fasteners: tuple[Undone, ...]
    pulls: tuple[Pull, ...]
    takes_off: tuple[str, ...]
    cautions: tuple[str, ...]
    """The risk of what is glued, sealed or opens one way only stands among them."""
    holds: str | None
    held: str
    """Why a hard rule forbids it as the unit is; "" if none does."""
    first: str
    """The line that lifts this rule, if one does."""


@dataclass(frozen=True)
class Look:
    """A look or test that the way leaves in reach."""

    move: Move
    after: str | None
    """The step after which it can be made; None if it can be made now."""
    bits: float
    worth: float
    """Money that its answer is worth beyond its own minutes."""


@dataclass(frozen=True)
class WayIn:
    """The way to some targets."""

    targets: dict[str, str | None]
    """What was named, and the step that has to be open for it; None if nothing has."""
    steps: tuple[Opening, ...]
    minutes: float
    closing: float
    """Minutes to close again what is open then."""
    elapsed: float
    """Minutes until all is open, cooling included."""
    drivers: dict[str, int]
    looks: tuple[Look, ...]
    log_seq: int


def behind(device: Device, names: Sequence[str]) -> dict[str, str | None]:
    """The step that has to be open for each of some steps, parts or tests. Raises LineError for an unknown name."""
    found: dict[str, str | None] = {}
    for name in names:
        if name in device.steps:
            found[name] = name
        elif name in device.parts:
            found[name] = device.parts[name].behind
        elif name in device.tests:
            found[name] = device.tests[name].behind
        else:
            known = [*device.steps, *device.parts, *device.tests]
            raise LineError(
                f"There is no access step, part or test '{name}' on this map. {similar(name, known)}",
                nearest(name, known),
            )
    return found


def way_to(
    device: Device,
    told: Replay,
    terms: Terms,
    names: Sequence[str],
    *,
    donors: Donors | None = None,
    measuring: Measuring = BY_THE_MAP,
) -> WayIn:
    """The cheapest way to targets from the unit as it is. Raises LineError, and what ``believe`` raises."""
    targets = behind(device, names)
    opened = told.state.open_steps
    steps = dict.fromkeys(step for step in targets.values() if step is not None)
    order = in_order(device.steps, opened, device.way_in(opened, *steps))
    ones = [device.steps[step] for step in order]
    after = considered(device, told, [ev.Opened(step=step) for step in order])
    belief = believe(device, after, donors=donors, measuring=measuring)
    return WayIn(
        targets,
        _openings(device, told, terms, order),
        sum(one.open_minutes for one in ones),
        closing_minutes(device, after.state),
        elapsed(device.steps, order),
        drivers(ones),
        tuple(_looks(device, told, after, terms, belief, order)),
        told.seq,
    )


def _openings(device: Device, told: Replay, terms: Terms, order: Sequence[str]) -> tuple[Opening, ...]:
    state, others = told.state, stand_ins(device, told.state, terms)
    out = undone([device.steps[step] for step in (*sorted(state.open_steps), *order)])
    found = []
    for name in order:
        step, move = device.steps[name], open_move(device, state, name)
        held, first = held_back(device, state, terms, move, others)
        found.append(
            Opening(
                name,
                step.do,
                step.open_minutes,
                step.wait,
                out[name],
                tuple(before_pulling(device, one, step.unplugs) for one in step.unplugs),
                step.removes,
                move.cautions,
                step.holds,
                held,
                first,
            )
        )
        state = after_access(state, (name,))
    return tuple(found)


def _looks(
    device: Device, told: Replay, after: Replay, terms: Terms, belief: Belief, order: Sequence[str]
) -> list[Look]:
    """The looks and tests in reach that are worth their minutes, one for each part, the best first."""
    state, judge = after.state, Judge(device, after.state, terms, belief)
    moves = [
        look_move(device, state, part)
        for part in belief.parts
        if judge.matters(part.id) and part.id not in state.removed and not belief.looked_at(part.id)
    ]
    moves += [
        test_move(device, state, test, judge.stand_ins)
        for test in tests_here(device, state)
        if test.power == "off"
        and (not isinstance(test.senses, PartModes) or judge.matters(test.senses.part))
        and belief.outcome_in_this_state(test) is None
    ]
    here = [one for one in moves if not (one.opens or one.closes) and constraint(device, state, terms, one) is None]
    here = allowed(device, state, here, judge.stand_ins)[0]
    told_bits = [float(bits_told(one, np.array(judge.p_blocks[0]))) for one in judge.answers(here)]
    best: dict[Hashable, Look] = {}
    for move, bits, worth in zip(here, told_bits, judge.shared_gains(here, told_bits), strict=True):
        look = Look(move, _reached_by(device, told, move, order), bits, worth)
        about = _about(move)
        if worth > 0.0 and (about not in best or worth > best[about].worth):
            best[about] = look
    return sorted(best.values(), key=lambda one: (-one.worth, one.move.name))


def _about(move: Move) -> Hashable:
    """What a look or test asks about: one part, or what it senses."""
    if move.test is None:
        return move.target
    return move.test.senses.part if isinstance(move.test.senses, PartModes) else move.test.senses


def _reached_by(device: Device, told: Replay, move: Move, order: Sequence[str]) -> str | None:
    step = move.test.behind if move.test else device.parts[move.target].behind
    return step if step in order and step not in told.state.open_steps else None
