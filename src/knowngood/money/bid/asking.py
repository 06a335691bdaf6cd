"""Which one question or photo is worth most before a bid, over drawn units or all possible ones.

The decision is to buy at a price or to leave it. What an answer would also save at the bench later is not in it: the
bench finds out the same for a minute or two of its own time. So the worth is at least what is said here.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass, replace

import numpy as np

from knowngood.belief.believe import Belief, believe
from knowngood.errors import ContradictionError, TooLargeError
from knowngood.log import events as ev
from knowngood.money.bid.drawing import Case, Progress, with_line
from knowngood.money.bid.question import Array, Information, pooled, value_of
from knowngood.money.bid.seller import Question
from knowngood.plan.seller import HAPPENED

LEAST = 20.0
"""Drawn units that must speak for an answer, as equals, for it to count by itself."""

OTHERS = "anything else"
"""Answers that too few drawn units speak for."""


@dataclass(frozen=True)
class Reply:
    """One possible answer."""

    words: str
    chance: float
    gain: float
    """What buying at the price would leave on average after it."""


@dataclass(frozen=True)
class Asking:
    """A question with what it is worth before the bid."""

    question: Question
    worth: float
    replies: tuple[Reply, ...]
    """Those that turn the decision first."""


def askings(case: Case, progress: Progress, keeps: float, cost: float) -> tuple[Asking, ...]:
    """Every question with its worth, the best first. Buying leaves ``keeps`` of what a unit brings, less ``cost``."""
    gains = keeps * progress.outcome.each() - cost
    alike = progress.outcome.weights
    found = []
    for number, question in enumerate(case.questions):
        if question.kind == "past":
            continue
        likelihood = pooled(alike, progress.likelihood(number), LEAST)
        found.append(asking(question, question.answers, likelihood, alike, gains))
    found += _about_the_past(case, progress, gains)
    return best_first(found)


def best_first(found: Iterable[Asking]) -> tuple[Asking, ...]:
    """Questions in the order in which to ask them."""
    return tuple(sorted(found, key=lambda one: (-one.worth, one.question.kind, one.question.name)))


def asking(question: Question, names: tuple[str, ...], likelihood: Array, weights: Array, gains: Array) -> Asking:
    """The worth of a question whose answers, but for those put together last, are in the order of their names."""
    told = value_of(weights, np.vstack([np.zeros_like(gains), gains]), likelihood)
    return Asking(question, max(0.0, told.worth), _replies(names, told))


def _replies(names: tuple[str, ...], told: Information) -> tuple[Reply, ...]:
    """The answers that can be, those first that turn the decision to buy (the last row of acts against nothing)."""
    buys = bool(np.nansum(told.chances * np.nan_to_num(told.acts[-1])) > 0.0)
    found = [
        Reply(name, float(chance), float(gain))
        for name, chance, gain in zip((*names, OTHERS), told.chances, told.acts[-1], strict=False)
        if chance > 1e-9
    ]
    return tuple(sorted(found, key=lambda one: ((one.gain > 0.0) is buys, -one.chance)))


def _about_the_past(case: Case, progress: Progress, gains: Array) -> Iterator[Asking]:
    """What happened: a yes weighs the drawn units anew. What is believed without an answer stands for a no, as in
    ``plan.seller``, so before the answer both are mixed by their chances."""
    now = believe(case.device, case.told)
    states = np.array([one.states for one in progress.drawn])
    as_now = _log_chances(now, states)
    for question in case.questions:
        if question.kind != "past":
            continue
        with suppress(ContradictionError, TooLargeError):
            yes, with_it = past_chance(case, now, question.name)
            ratio = np.exp(_log_chances(believe(case.device, with_it.told), states) - as_now)
            if_yes = yes * ratio / ratio.sum()
            mixed = if_yes + (1.0 - yes) * progress.outcome.weights
            likelihood = np.column_stack([if_yes / mixed, 1.0 - if_yes / mixed])
            if float(if_yes.sum() ** 2 / (if_yes**2).sum()) < LEAST:
                likelihood = np.ones((len(gains), 1))  # too few drawn units are like one that it happened to
                question = replace(question, answers=(OTHERS,))
            yield asking(question, question.answers, likelihood, mixed, gains)


def past_chance(case: Case, now: Belief, past: str) -> tuple[float, Case]:
    """Chance that something happened of which the listing says nothing, and the case with it said."""
    then = with_line(case, ev.Past(what=past))
    odds = HAPPENED[past] / (1.0 - HAPPENED[past])
    odds *= float(np.exp(believe(case.device, then.told).log_evidence - now.log_evidence))
    return odds / (1.0 + odds), then


def _log_chances(belief: Belief, states: Array) -> Array:
    """Log of the chance of each row of parts' states given a belief's log, shape (units,)."""
    evidence = {
        name: np.broadcast_to(values, (len(states), len(values))).copy() for name, values in belief.base.items()
    }
    for column, part in enumerate(belief.parts):
        variable = belief.story.now[part.id]
        is_so = np.eye(len(part.states))[states[:, column]]
        evidence[variable] = evidence.get(variable, 1.0) * is_so
    found: Array = belief.network.log_evidence(evidence) - belief.log_evidence
    return found
