"""Draws hidden units given what a listing says, and has the planner work on them: many quickly, some to the end.

A unit is drawn from the belief itself, so what the listing says is in it exactly. The planner works on each for its
first moves; most units have left the bench by then, and the logs so far are few, so its decisions are remembered. For
the rest a stand-in takes over: as if each bit that is still open were found out at the planner's own price, and what is
wrong then mended at the least cost, or left. It is not a policy that could be followed, and its bias is measured: the
same units are worked to the end by the planner, one by one, for as long as there is time (see ``outcome``).

Source of stopping a job early at an estimate of the rest: G. Tesauro, G. Galperin, On-line policy improvement using
Monte-Carlo search, NIPS 9 (1996) [from memory].
"""

from __future__ import annotations

import pickle
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache, partial

import numpy as np
from numpy.typing import NDArray

from knowngood.belief.believe import Belief, believe
from knowngood.belief.cases import Effort
from knowngood.errors import TooLargeError
from knowngood.handbook.quantities import Money
from knowngood.log import events as ev
from knowngood.log.state import Line, Replay, replay
from knowngood.maps.device import Device
from knowngood.money.bid.outcome import Outcome
from knowngood.money.bid.question import Array
from knowngood.money.bid.seller import Question, answers_of
from knowngood.plan.compare import Remembering
from knowngood.plan.foreknown import worth_if_known
from knowngood.plan.judge import Judge
from knowngood.plan.rehearse import HiddenUnit, OnTheBench, Policy, planner
from knowngood.plan.spread import Spread, here
from knowngood.plan.terms import Terms
from knowngood.plan.value import bits_of

FIRST_MOVES = 4
"""Moves that the planner makes on each unit before the stand-in takes over."""

FIRST_BATCHES, BATCH = (4, 4, 8, 8, 16, 16), 40
"""Units that go to a worker at a time: few at first, so that there is an answer soon."""


@dataclass(frozen=True)
class Case:
    """A unit that is not bought yet, at the terms of a bench."""

    device: Device
    lines: tuple[ev.Event, ...]
    """What its listing says and shows, the offer first."""
    terms: Terms
    seed: int = 0
    questions: tuple[Question, ...] = ()
    policy: Policy = planner
    """Who works on the unit: a function that can be pickled."""
    remember: bool = True
    """Whether decisions met before are remembered; off only to measure what that saves."""

    @cached_property
    def told(self) -> Replay:
        """The log of the unit once it is here: what its seller says, before anything is done to it."""
        offered = self.lines[0]
        past = offered.past if isinstance(offered, (ev.Offered, ev.Bought)) else ()
        bought = ev.Bought(map=self.device.id, price=Money(self.terms.currency, 0), past=past)
        lines = [bought, *self.lines[1:], ev.Received()]
        return replay(self.device, [Line(seq, "", event) for seq, event in enumerate(lines, start=1)])


@dataclass(frozen=True)
class Quick:
    """One drawn unit after the planner's first moves."""

    unit: int
    net: float
    """What it brings before its price; where the job goes on, what the stand-in says."""
    unfinished: bool
    if_known: float
    """About the most that it could bring: its worth if what is wrong were known."""
    states: NDArray[np.int8]
    """The state of each part as drawn, in the map's order."""
    answers: tuple[NDArray[np.float64], ...]
    """For each question the chances of its answers."""


@dataclass(frozen=True)
class Progress:
    """What is known so far of a case."""

    drawn: tuple[Quick, ...]
    full: dict[int, float]
    """What the planner brought of unfinished units that it worked to the end, by unit."""

    @property
    def outcome(self) -> Outcome:
        """What the units came to."""
        return Outcome(
            quick=np.array([one.net for one in self.drawn]),
            unfinished=np.array([one.unfinished for one in self.drawn]),
            full=np.array([self.full.get(one.unit, np.nan) for one in self.drawn]),
        )

    def likelihood(self, question: int) -> Array:
        """Chances of a question's answers for each unit, shape (units, answers)."""
        return np.array([one.answers[question] for one in self.drawn])


def outcomes(case: Case, units: int, pairs: int, spread: Spread = here) -> Iterator[Progress]:
    """What is known after each batch: first more units, then more of them worked to the end, at most ``pairs``.

    Raises what ``believe`` raises for the listing's lines.
    """
    believe(case.device, case.told)  # what cannot be is said here, not by a worker
    job = pickle.dumps(case)
    drawn: list[Quick] = []
    full: dict[int, float] = {}
    for done in spread(partial(_quick, job=job), list(_batches(units))):
        drawn += done
        yield Progress(tuple(drawn), {})
    waiting = [one.unit for one in drawn if one.unfinished][:pairs]
    for unit, net in zip(waiting, spread(partial(_worked_out, job=job), waiting), strict=True):
        full[unit] = net
        yield Progress(tuple(drawn), dict(full))


def _batches(units: int) -> Iterator[range]:
    first = 0
    for size in (*FIRST_BATCHES, *[BATCH] * (1 + units // BATCH)):
        if first < units:
            yield range(first, min(first + size, units))
        first += size


def _quick(batch: range, job: bytes) -> list[Quick]:
    at = _at_work(job)
    return [at.quick(unit) for unit in batch]


def _worked_out(unit: int, job: bytes) -> float:
    return _at_work(job).worked_out(unit)


@lru_cache(maxsize=4)
def _at_work(job: bytes) -> Worker:
    """The case as this process has it: unpacked once, so that what was decided lasts from unit to unit."""
    case: Case = pickle.loads(job)
    return Worker(case)


class Worker:
    """A case being worked on in one process."""

    def __init__(self, case: Case) -> None:
        self.case = case
        self._policy: Policy = Remembering(case.policy) if case.remember else case.policy
        self._belief = believe(case.device, case.told)
        self._draw: Callable[[np.random.Generator], dict[str, int]] = self._belief.network.drawing(self._belief.base)
        self._open: dict[tuple[str, ...], float] = {}

    def quick(self, unit: int) -> Quick:
        """A unit after its first moves."""
        case, work = self.case, self._on_the_bench(unit)
        hidden = work.hidden
        device, terms, past = case.device, case.terms, hidden.replayed.state.past
        answers = answers_of(case.questions, device, hidden)
        states = np.array([hidden.values[hidden.story.now[part]] for part in device.parts], np.int8)
        if_known = worth_if_known(device, hidden.modes, hidden.unknown, past, terms)
        done = work.go_on(self._policy, FIRST_MOVES)
        if done is not None:
            return Quick(unit, done.net, False, if_known, states, answers)
        rest = worth_if_known(device, hidden.modes, hidden.unknown, past, terms) - self._price_of_what_is_open(hidden)
        return Quick(unit, rest - work.cost, True, if_known, states, answers)

    def worked_out(self, unit: int) -> float:
        """What the planner brings of a unit in the end."""
        done = self._on_the_bench(unit).go_on(self._policy)
        assert done is not None, "a job ends after LONGEST_JOB moves"
        return done.net

    def _on_the_bench(self, unit: int) -> OnTheBench:
        draw = np.random.default_rng([self.case.seed, unit])
        hidden = HiddenUnit.given(self.case.device, self.case.told.lines, self._draw(draw), draw)
        return OnTheBench(hidden, self.case.terms)

    def _price_of_what_is_open(self, hidden: HiddenUnit) -> float:
        """What it costs to find out all bits that a log leaves open, at the planner's usual price of one."""
        lines = tuple(ev.render(line.event) for line in hidden.lines)
        if lines not in self._open or not self.case.remember:
            try:
                judge = Judge(
                    self.case.device, hidden.replayed.state, self.case.terms, self._belief_of(hidden.replayed)
                )
                self._open[lines] = judge.price_of_a_bit * float(bits_of(judge.p_blocks).sum())
            except TooLargeError:
                self._open[lines] = 0.0
        return self._open[lines]

    def _belief_of(self, log: Replay) -> Belief:
        return believe(self.case.device, log, effort=Effort.ONE_PIECE)


def with_line(case: Case, *events: ev.Event) -> Case:
    """The case with more lines in its listing."""
    return replace(case, lines=(*case.lines, *events))
