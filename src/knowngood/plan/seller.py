"""Asking the seller what happened to the unit: worth what its answer would change in what is done.

A yes is a ``past`` of the log and moves the belief as that does; anything else leaves it as it is. What is believed
without an answer stands for a unit of which nothing is said, so before the answer the two are mixed by their chances,
and asking gains what deciding after it is worth over deciding on the mixture: by the plan that could be followed, or
by what is found out, there no more than the bits that the answer has. One message holds all questions and counts by
the one that gains most. It is only thought of at intake: once something was found, the unit tells more than its seller.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass, replace

import numpy as np

from knowngood.belief.believe import Belief, believe
from knowngood.belief.sensing import Measuring
from knowngood.belief.story import Donors
from knowngood.errors import ContradictionError, TooLargeError
from knowngood.handbook.quantities import percent
from knowngood.log import events as ev
from knowngood.log.state import Replay
from knowngood.maps.device import Device
from knowngood.maps.words import PASTS
from knowngood.plan.hazards import Act
from knowngood.plan.judge import Judge
from knowngood.plan.moves import Move
from knowngood.plan.ranked import Prospect, Ranked

HAPPENED = {"dropped": 0.15, "wet": 0.10, "surged": 0.08, "hot": 0.10, "aged": 0.10, "opened-before": 0.20}
"""Chance that a unit sold as broken has a past of which the seller said nothing (own judgement, no source)."""

ASK_MINUTES, ANSWER_MINUTES = 2.0, 12 * 60.0
"""Hands-on time of the message, and time until the answer (own judgement, no source)."""

BEGUN = (ev.Saw, ev.Read, ev.Tried, ev.Found, ev.Opened, ev.Mended, ev.Fitted, ev.Removed)
"""Events after which the unit itself tells more than its seller."""


@dataclass(frozen=True)
class Yes:
    """What a yes to one past would make of the belief."""

    past: str
    chance: float
    """That the answer is yes, as the log leaves it."""
    belief: Belief


def yeses(device: Device, told: Replay, belief: Belief, donors: Donors | None, measuring: Measuring) -> tuple[Yes, ...]:
    """The possible yeses; none once the seller was asked or something was found."""
    if told.state.asked_seller or any(isinstance(line.event, BEGUN) for line in told.lines):
        return ()
    return tuple(_yeses(device, told, belief, donors, measuring))


def _yeses(device: Device, told: Replay, belief: Belief, donors: Donors | None, measuring: Measuring) -> Iterator[Yes]:
    for past in PASTS:
        if past in told.state.past:
            continue
        state = replace(told.state, past=(*told.state.past, past))
        with suppress(ContradictionError, TooLargeError):
            then = believe(device, replace(told, state=state), donors=donors, measuring=measuring)
            odds = HAPPENED[past] / (1.0 - HAPPENED[past]) * float(np.exp(then.log_evidence - belief.log_evidence))
            yield Yes(past, odds / (1.0 + odds), then)


def asking(judge: Judge, asked: tuple[Yes, ...], best: Ranked) -> Ranked | None:
    """Asking the seller before the move that is best now, if that gains more than it costs."""
    gains = [_gain(judge, one) for one in asked]
    if not gains or max(gains) <= ASK_MINUTES * judge.terms.rate:
        return None
    yes = asked[int(np.argmax(gains))]
    questions = ", ".join(PASTS[one.past] for one in asked)
    move = Move(
        kind="ask",
        target="seller",
        do=f"Ask the seller what happened to it: {questions}",
        minutes=ASK_MINUTES,
        materials=0.0,
        act=Act(),
        log=ev.render(ev.Asked()),
        wait=ANSWER_MINUTES,
    )
    cost = move.cost(judge.terms)
    outcomes = (
        Prospect(f"past {yes.past}", yes.chance, yes.belief.known_good, _top(yes.belief)),
        Prospect("no, or no answer", 1.0 - yes.chance, judge.belief.known_good, _top(judge.belief)),
    )
    why = f"'{PASTS[yes.past]}' ({percent(yes.chance)}) would change most what is to be done. Log each yes as a past."
    return Ranked(move, cost, best.worth + max(gains) - cost, why, outcomes, finishes=best.finishes)


def _gain(judge: Judge, yes: Yes) -> float:
    """What deciding after the answer is worth over deciding on the mixture of both."""
    then = {one.part: one.p_blocks for one in yes.belief.suspects}
    if_yes, if_no = np.array([[then[part.id] for part in judge.belief.parts]]), judge.p_blocks
    blocks = np.concatenate([if_yes, if_no, yes.chance * if_yes + (1.0 - yes.chance) * if_no])
    good_yes, good_no = yes.belief.known_good, judge.belief.known_good
    good = np.array([good_yes, good_no, yes.chance * good_yes + (1.0 - yes.chance) * good_no])
    chances = np.array([yes.chance, 1.0 - yes.chance, -1.0])
    bits = float(-(chances[:2] @ np.log2(np.maximum(chances[:2], 1e-300))))
    by_plan, by_finding = (float(chances @ worth) for worth in judge.estimates(blocks, good))
    return max(by_plan, min(by_finding, bits * judge.price_of_a_bit))


def _top(belief: Belief) -> tuple[tuple[str, float], ...]:
    return tuple((one.part, one.p_blocks) for one in belief.suspects[:3])
