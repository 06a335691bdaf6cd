"""What a seller could still tell or show before a bid: photos of what is in view, what they can try, what happened."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from knowngood.belief import sensing
from knowngood.belief.configuration import Configuration
from knowngood.belief.evaluate import Behaviour, behave
from knowngood.log.state import Replay
from knowngood.maps.device import ByContent, Device, FunctionLevel, Test, by_content
from knowngood.maps.words import PASTS
from knowngood.plan.lifting import allowed
from knowngood.plan.moves import lower, test_move
from knowngood.plan.rehearse import HiddenUnit

SOMETHING_ELSE = "something-else"
"""Answer of a photo: a condition that the part's kind does not list, or one that tells nothing."""


@dataclass(frozen=True)
class Question:
    """Something to ask a seller."""

    kind: Literal["photo", "try", "past"]
    name: str
    """The part, the test, or the past."""
    do: str
    answers: tuple[str, ...]


def questions(device: Device, told: Replay) -> tuple[Question, ...]:
    """All that a seller could still be asked: what lies open to view, what needs no opening, what is not said yet.

    Nobody without a bench is asked to try what takes a tool, what the map says is dangerous, what a hard rule holds
    back, or anything at all on a unit that was wet.
    """
    state = told.state
    photos = (
        Question("photo", part.id, f"a photo of the {lower(part.what)}", photo_answers(device, part.id))
        for part in device.parts.values()
        if part.behind is None and part.id not in state.seen
    )
    tried = {getattr(line.event, "test", None) for line in told.lines}
    new = [test_move(device, state, test) for test in asked_to_try(device) if test.id not in tried]
    may = [] if state.wet else [move.test for move in allowed(device, state, new)[0]]
    tries = (Question("try", test.id, test.do, test.outcomes) for test in may if test)
    pasts = (Question("past", past, says, ("yes", "no")) for past, says in PASTS.items() if past not in state.past)
    return (*photos, *tries, *pasts)


def asked_to_try(device: Device) -> tuple[Test, ...]:
    """The tries that a seller can make: closed, with no tool and no hazard of their own, in a few minutes."""
    return tuple(
        test
        for test in device.tests.values()
        if test.verb == "tried" and not test.behind and not test.tools and not test.hazards and not test.feeds
    )


def photo_answers(device: Device, part: str) -> tuple[str, ...]:
    """What a photo of a part can show: each condition that its kind's table lists, 'fine', and something else."""
    slot = device.parts[part]
    listed = {condition for looks in (slot.looks, *(mode.looks for mode in slot.modes)) for condition, _ in looks}
    return ("fine", *(one for one in sensing.LOOKS[1:] if one in listed), SOMETHING_ELSE)


def photo_table(device: Device, part: str) -> NDArray[np.float64]:
    """Chances of what a photo shows, by the part's state; a photo is as good as a glance. Shape (states, answers)."""
    return _photo_table(by_content(device), part)


@lru_cache(maxsize=256)
def _photo_table(key: ByContent, part: str) -> NDArray[np.float64]:
    table = sensing.look_table(key.device.parts[part], "glance")
    columns = table[:, [sensing.LOOKS.index(one) for one in photo_answers(key.device, part)[:-1]]]
    return np.hstack([columns, 1.0 - columns.sum(axis=1, keepdims=True)])


def answers_of(asked: Sequence[Question], device: Device, hidden: HiddenUnit) -> tuple[NDArray[np.float64], ...]:
    """For each question the chances of its answers on a unit whose faults are known; a past has none here."""
    does: dict[Configuration, Behaviour] = {}
    found: list[NDArray[np.float64]] = []
    for question in asked:
        if question.kind == "photo":
            state = hidden.values[hidden.story.now[question.name]]
            found.append(photo_table(device, question.name)[state])
        elif question.kind == "past":
            found.append(np.empty(0))
        else:
            test = device.tests[question.name]
            assert isinstance(test.senses, FunctionLevel), "what is tried is a function"
            tried_in = hidden.story.configuration_of(test)
            if tried_in not in does:
                does[tried_in] = behave(device, hidden.world(tried_in))
            level = does[tried_in].level[test.senses.function]
            found.append(sensing.outcome_table(device, test)[int(level)])
    return tuple(found)
