"""What comes back within the warranty, what that costs, and what ten more minutes of testing would buy.

Comes back: what the belief leaves as faulty once all tests passed; each such unit is taken to come back. A failure
that only begins with the buyer is left out: published rates of parts are ratios, and none gives a chance per day. A
unit that comes back costs two carriages, 0.5 to 1.5 h of work and the loss of price (common practice, no source), here
what it brings less sold as it is than working.

More testing: a test that was not made, or one that was, watched for longer. A fault that shows once per T goes unseen
for a time t with chance exp(-t / T). A repeat shares the errors of the test, so it only tells of such faults.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from knowngood.belief.believe import Belief
from knowngood.belief.evidence import Batch, Evidence
from knowngood.belief.sensing import outcome_table
from knowngood.belief.terms import GOOD, WEAK
from knowngood.belief.what_if import ask, query_test
from knowngood.handbook.reliability import Returns, returns_by_chance, soak_time, time_between_failures_shown
from knowngood.log.state import State
from knowngood.maps.device import Device, FunctionLevel, RailToGround, RailVoltage, Test
from knowngood.plan.lifting import allowed
from knowngood.plan.moves import possible_tests
from knowngood.plan.moves import test_move as move_of
from knowngood.plan.terms import Terms

RETURN_HOURS = 1.0
"""Work on a unit that comes back: the middle of 0.5 to 1.5 h (common practice, no source)."""

CHASE_MINUTES = 10.0
"""Looking for a fault that is not there, when a test fails on a good unit (common practice, no source)."""

TEN_MINUTES = 10.0

LOT = 100
"""Units of which it is said how many come back."""

LEFT_OUT = "Failures that begin with the buyer are left out: no published rate gives their chance per day."

CONFIDENCE = 0.95

WORTH_A_SOAK = 1e-4
"""A fault that comes and goes is named if it is at least so likely to be left."""


@dataclass(frozen=True)
class Warranty:
    """What the bench promises, and what a unit that comes back costs, in the terms' currency."""

    days: int
    carriage: float
    hour: float
    price_loss: float

    @property
    def per_return(self) -> float:
        return 2.0 * self.carriage + RETURN_HOURS * self.hour + self.price_loss


@dataclass(frozen=True)
class Reserve:
    """What to expect of units sold like this one."""

    chance: float
    per_return: float
    in_a_lot: Returns

    @property
    def money(self) -> float:
        """To be kept for each sale."""
        return self.chance * self.per_return


@dataclass(frozen=True)
class Extra:
    """What more testing would do."""

    test: Test
    soak: bool
    """The test has passed, and is now watched for ``runs`` minutes."""
    p_fails: float
    known_good: float
    """If it passes."""
    caught: float
    """Chance that a unit with a fault is caught that would have been sold."""
    false_alarm: float
    """Chance that it fails on a unit that is good."""
    saves: float
    """What is not lost by what is caught."""
    costs: float
    """Its hands-on minutes at the bench's rate, and those that a false alarm takes."""

    @property
    def buys(self) -> float:
        return self.saves - self.costs


@dataclass(frozen=True)
class Intermittent:
    """A fault that comes and goes, how likely it is left, and how long a clean soak would take."""

    part: str
    mode: str
    chance: float
    shows_every: float
    """Minutes."""
    soak: float
    """Minutes without it to be 95 % sure that it would have shown."""


def reserve(known_good: float, warranty: Warranty) -> Reserve:
    """The reserve for returns of a unit that is known good with some chance."""
    chance = 1.0 - known_good
    return Reserve(chance, warranty.per_return, returns_by_chance(LOT, chance))


def left_intermittent(later: Belief) -> tuple[Intermittent, ...]:
    """The faults that come and go and may be left, the likeliest first."""
    found = [
        Intermittent(
            suspect.part,
            mode.name,
            suspect.modes[mode.name],
            mode.shows,
            soak_time(shows_every=60.0 * mode.shows, cycle=60.0 * mode.shows, confidence=CONFIDENCE).time / 60.0,
        )
        for suspect in later.suspects
        for mode in later.device.parts[suspect.part].modes
        if mode.shows is not None and suspect.modes[mode.name] >= WORTH_A_SOAK
    ]
    return tuple(sorted(found, key=lambda one: -one.chance))


def shown_by_soak(minutes: float) -> float:
    """The least mean time between failures, in minutes, that a soak without failure shows."""
    return time_between_failures_shown(time=60.0 * minutes, confidence=CONFIDENCE) / 60.0


def soaks(device: Device, declared: frozenset[str] = frozenset()) -> tuple[Test, ...]:
    """The tests of promised functions, watched for ten minutes."""
    return tuple(
        replace(test, runs=TEN_MINUTES)
        for test in device.tests.values()
        if isinstance(test.senses, FunctionLevel)
        and test.senses.function in device.wanted
        and test.senses.function not in declared
        and test.behind is None
        and test.feeds is None
        and test.power != "off"
    )


def extras(later: Belief, state: State, terms: Terms, warranty: Warranty) -> tuple[Extra, ...]:
    """What each further test of ten minutes at most would buy once all passed, the best first.

    ``state`` is that of the unit then, closed. ``later`` must have been asked for ``soaks`` (see ``believe``).
    """
    found = [*_others(later, state, terms, warranty), *_soaked(later, state, terms, warranty)]
    return tuple(sorted(found, key=lambda one: (-one.buys, one.test.id)))


def _others(later: Belief, state: State, terms: Terms, warranty: Warranty) -> Iterator[Extra]:
    """Tests that were not made, without opening anything."""
    tests = [
        test
        for test in possible_tests(later.device, state, terms)
        if test.behind is None and not isinstance(test.senses, (RailVoltage, RailToGround))
        if max(test.minutes, test.runs) <= TEN_MINUTES and later.outcome_in_this_state(test) is None
    ]
    free, _ = allowed(later.device, state, [move_of(later.device, state, test) for test in tests])
    chosen = [move.test for move in free if move.test is not None]
    if not chosen:
        return
    for test, given in zip(chosen, ask(later, [query_test(later, test) for test in chosen]), strict=True):
        passes = float(given.probability[0])
        if passes > 0.0:
            yield _extra(later, test, passes, passes * float(given.known_good[0]), terms, warranty, soak=False)


def _soaked(later: Belief, state: State, terms: Terms, warranty: Warranty) -> Iterator[Extra]:
    """Tests that passed, watched for longer.

    Where the function is at the level at which the test passed, it passes again, the same errors and all; where it is
    not, for a fault that shows now and did not then, by the test's own rates.
    """
    made = [
        test
        for test in soaks(later.device, state.declared)
        if later.outcome_in_this_state(later.device.tests[test.id]) == test.outcomes[0]
    ]
    free, _ = allowed(later.device, state, [move_of(later.device, state, test) for test in made])
    made = [move.test for move in free if move.test is not None]
    if not made:
        return
    rows: list[Evidence] = []
    for test in made:
        assert isinstance(test.senses, FunctionLevel)
        passed, functions = later.last_made(test), [test.senses.function]
        assert passed is not None
        then, now = (
            [{}, *(later.within(functions, configuration, level) for level in (WEAK, GOOD))]
            for configuration in (passed.configuration, later.configuration_for(test))
        )
        rows += [_joint(one, other) for one in then for other in now]
    batch = Batch(later.base, len(rows), later.network.states)
    for row, evidence in enumerate(rows):
        for name, values in evidence.items():
            batch.multiply(row, name, values)
    chances = np.exp(later.network.log_evidence(batch.rows) - later.log_evidence).reshape(-1, 3, 3)
    for test, at_least in zip(made, chances, strict=True):
        # P(level then, level now), from the chances that both are at some level at least.
        levels = -np.diff(-np.diff(at_least, axis=0, append=0.0), axis=1, append=0.0)
        fails = 1.0 - outcome_table(later.device, test)[:, 0]
        changed = levels.sum(axis=0) - levels.diagonal()
        passes = 1.0 - max(0.0, float(changed @ fails))
        # What is known good works whenever it is watched, so nothing of it is lost.
        yield _extra(later, test, passes, later.known_good, terms, warranty, soak=True)


def _joint(one: Evidence, other: Evidence) -> Evidence:
    return one | {name: one.get(name, 1.0) * values for name, values in other.items()}


def _extra(
    later: Belief, test: Test, passes: float, good_and_passes: float, terms: Terms, warranty: Warranty, *, soak: bool
) -> Extra:
    caught = max(0.0, (1.0 - later.known_good) - (passes - good_and_passes))
    false_alarm = max(0.0, later.known_good - good_and_passes)
    minutes = test.minutes + false_alarm * CHASE_MINUTES
    return Extra(
        test,
        soak,
        1.0 - passes,
        good_and_passes / passes,
        caught,
        false_alarm,
        caught * warranty.per_return,
        minutes * terms.rate,
    )
