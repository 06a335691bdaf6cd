"""A repair problem in the abstract, and exact bookkeeping of what is believed while it is worked on.

What is hidden is the set of causes that are present; the unit works if and only if it is empty. Tests are noisy-OR
sensors of the set, remedies remove causes (and may introduce some), a check tells for certain whether the set is empty.
Everything is by number: causes, tests, remedies and compartments by their place in the problem's tuples, moves by one
count over tests, remedies, check and give up.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property
from math import comb

import numpy as np
from numpy.typing import NDArray

from knowngood.errors import TooLargeError

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

OUTSIDE = -1
"""The place of what can be reached with nothing open."""

MOST_SETS = 2_000_000
"""Sets of causes held at once; a belief is one number for each."""


@dataclass(frozen=True)
class Compartment:
    parent: int
    """Number of the compartment it lies in, or ``OUTSIDE``."""
    open_cost: float
    close_cost: float


@dataclass(frozen=True)
class Test:
    """Bad with chance 1 - (1 - false_alarm) prod over the causes present of (1 - p); each can be made once."""

    place: int
    cost: float
    bad_if_present: tuple[tuple[int, float], ...]
    false_alarm: float


@dataclass(frozen=True)
class Remedy:
    """Removes each cause, if present, with its chance; then each it introduces appears, if absent, with its chance.

    Spent once used, until a later remedy may have introduced a cause that it removes.
    """

    place: int
    cost: float
    removes: tuple[tuple[int, float], ...]
    introduces: tuple[tuple[int, float], ...] = ()


@dataclass(frozen=True, eq=False)
class Problem:
    """One cause is present (``single``, priors sum to one), or each with its prior, given that 1 to ``most`` are."""

    priors: tuple[float, ...]
    single: bool
    most: int
    tests: tuple[Test, ...]
    remedies: tuple[Remedy, ...]
    compartments: tuple[Compartment, ...]
    check_cost: float
    check_open: bool
    """Whether the check is made with everything open; else all is closed for it, and closed after it."""
    give_up: float

    @property
    def check(self) -> int:
        """The move that checks; tests come first, then remedies."""
        return len(self.tests) + len(self.remedies)

    @property
    def giving_up(self) -> int:
        return self.check + 1

    @cached_property
    def sets(self) -> Sets:
        return Sets(self)

    @cached_property
    def ways(self) -> tuple[int, ...]:
        """For each compartment the bits of itself and all it lies in."""
        ways: list[int] = []
        for number in range(len(self.compartments)):
            way, at = 0, number
            while at != OUTSIDE:
                way |= 1 << at
                at = self.compartments[at].parent
            ways.append(way)
        return tuple(ways)

    def way(self, move: int) -> int:
        """The bits of the compartments that a test or remedy needs open."""
        place = self.tests[move].place if move < len(self.tests) else self.remedies[move - len(self.tests)].place
        return 0 if place == OUTSIDE else self.ways[place]

    @cached_property
    def _access(self) -> dict[int, tuple[float, float]]:
        """What opening and closing cost, by the bits of compartments asked about so far."""
        return {}

    def _access_to(self, opened: int) -> tuple[float, float]:
        if opened not in self._access:
            through = [one for number, one in enumerate(self.compartments) if opened >> number & 1]
            self._access[opened] = sum(one.open_cost for one in through), sum(one.close_cost for one in through)
        return self._access[opened]

    def opening(self, opened: int) -> float:
        """Cost of opening the compartments with these bits."""
        return self._access_to(opened)[0]

    def closing(self, opened: int) -> float:
        """Cost of closing the compartments with these bits."""
        return self._access_to(opened)[1]

    @cached_property
    def renews(self) -> tuple[int, ...]:
        """For each remedy the bits of the remedies that are usable again after it."""
        return tuple(
            sum(
                1 << number
                for number, other in enumerate(self.remedies)
                if {cause for cause, _ in other.removes} & {cause for cause, _ in remedy.introduces}
            )
            for remedy in self.remedies
        )


def _combinations(count: int, size: int) -> Ints:
    """All choices of ``size`` out of ``count`` numbers, each in rising order; shape (choices, size)."""
    found = np.arange(count, dtype=np.int64)[:, None]
    for _ in range(size - 1):
        more = count - 1 - found[:, -1]
        found = np.repeat(found, more, axis=0)
        first = np.repeat(np.cumsum(more) - more, more)
        found = np.column_stack([found, found[:, -1] + 1 + np.arange(len(found)) - first])
    return found


class Sets:
    """The sets of causes that can be present, and how moves act on a weight for each. Number 0 is the empty set."""

    members: Ints
    """The causes of each set in rising order, filled up with the number of causes; shape (sets, most)."""
    start: Array
    """Chance of each set at the start, shape (sets,)."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.causes = len(problem.priors)
        introduced = {cause for remedy in problem.remedies for cause, _ in remedy.introduces}
        base = 1 if problem.single else min(problem.most, self.causes)
        largest = min(base + len(introduced), self.causes)
        expected = sum(comb(self.causes, size) for size in range(largest + 1))
        if expected > MOST_SETS:
            raise TooLargeError(
                f"Up to {largest} of {self.causes} causes at once make {expected} sets; at most {MOST_SETS} are"
                " followed. State a smaller max_present.",
                expected,
            )
        rows = [np.full((1, largest), self.causes, dtype=np.int64)]
        for size in range(1, largest + 1):
            found = _combinations(self.causes, size)
            if size > base:  # at most `base` of them were there from the start
                found = found[(~np.isin(found, list(introduced))).sum(axis=1) <= base]
            rows.append(np.pad(found, ((0, 0), (0, largest - size)), constant_values=self.causes))
        members = np.concatenate(rows)
        self._radix = (self.causes + 1) ** np.arange(largest - 1, -1, -1, dtype=np.int64)
        keys = members @ self._radix
        order = np.argsort(keys)
        order = np.concatenate([order[-1:], order[:-1]])  # the empty set has the largest key
        self.members = members[order]
        self._keys = keys[order][1:]
        self._moved: dict[int, tuple[Ints, Ints]] = {}
        self.start = self._start()

    def __len__(self) -> int:
        return len(self.members)

    def _start(self) -> Array:
        priors = np.array(self.problem.priors, dtype=np.float64)
        sizes = (self.members < self.causes).sum(axis=1)
        if self.problem.single:
            weight = np.where(sizes == 1, np.append(priors, 0.0)[self.members[:, 0]], 0.0)
        else:
            certain = priors >= 1.0
            odds = np.append(np.where(certain, 1.0, priors / np.where(certain, 1.0, 1.0 - priors)), 1.0)
            weight = odds[self.members].prod(axis=1)
            if certain.any():
                weight[np.append(certain, False)[self.members].sum(axis=1) < certain.sum()] = 0.0
            weight[(sizes == 0) | (sizes > self.problem.most)] = 0.0
        total = float(weight.sum())
        return weight / total

    def ok(self, test: int) -> Array:
        """Chance that the test is ok with each set present, shape (sets,)."""
        sensor = self.problem.tests[test]
        miss = np.ones(self.causes + 1)
        for cause, chance in sensor.bad_if_present:
            miss[cause] -= chance
        found: Array = np.full(len(self), 1.0 - sensor.false_alarm)
        for column in self.members.T:
            found *= miss[column]
        return found

    def holding(self, cause: int) -> tuple[Ints, Ints]:
        """The sets that hold the cause, and for each the set that differs from it only in lacking the cause."""
        if cause not in self._moved:
            inside = np.flatnonzero((self.members == cause).any(axis=1))
            rest = self.members[inside]
            rest[rest == cause] = self.causes
            rest.sort(axis=1)
            target = self.numbers(rest)
            self._moved[cause] = inside, target
        return self._moved[cause]

    def numbers(self, members: Ints) -> Ints:
        """The numbers of sets given by their causes in rising order, filled up; shape (rows, most)."""
        keys = members @ self._radix
        found = np.searchsorted(self._keys, keys) + 1
        return np.where(members[:, 0] == self.causes, 0, found) if members.size else np.zeros(len(members), np.int64)

    def remedied(self, weight: Array, remedy: int) -> Array:
        """The weights (..., sets) after the remedy."""
        weight = taken_out(weight, self.problem.remedies[remedy], self.holding)
        for cause, chance in self.problem.remedies[remedy].introduces:
            inside, without = self.holding(cause)
            came = weight[..., without] * chance
            weight[..., inside] += came
            weight[..., without] -= came
        return weight


def taken_out(weight: Array, remedy: Remedy, holding: Callable[[int], tuple[Ints, Ints]]) -> Array:
    """The weights (..., sets) after the remedy has removed what it can; ``holding`` is ``Sets.holding``, or the same
    of other sets. What the remedy introduces is left out."""
    weight = weight.copy()
    for cause, chance in remedy.removes:
        inside, without = holding(cause)
        went = weight[..., inside] * chance
        weight[..., without] += went
        weight[..., inside] -= went
    return weight


@dataclass(frozen=True)
class Standing:
    """What the moves so far have left behind that everybody can see."""

    made: int = 0
    """Bits of the tests made."""
    spent: int = 0
    """Bits of the remedies spent."""
    opened: int = 0
    """Bits of the compartments that are open."""
    unchecked: bool = False
    """Whether a remedy was used since the last check."""


def usable(problem: Problem, now: Standing, move: int) -> bool:
    """Whether the rules allow the move."""
    if move < len(problem.tests):
        return not now.made >> move & 1
    if move < problem.check:
        return not now.spent >> (move - len(problem.tests)) & 1
    return now.unchecked or move == problem.giving_up


def move_cost(problem: Problem, now: Standing, move: int) -> float:
    """Cost of the move whatever its outcome; a check that succeeds costs ``success_cost`` on top."""
    if move == problem.giving_up:
        return problem.give_up
    if move == problem.check:
        return problem.check_cost + (0.0 if problem.check_open else problem.closing(now.opened))
    own = problem.tests[move].cost if move < len(problem.tests) else problem.remedies[move - len(problem.tests)].cost
    return own + problem.opening(problem.way(move) & ~now.opened)


def success_cost(problem: Problem, now: Standing) -> float:
    """What closing up costs once a check has succeeded."""
    return problem.closing(now.opened) if problem.check_open else 0.0


def moved(problem: Problem, now: Standing, move: int) -> Standing:
    """The standing after a test, a remedy or a check that failed."""
    if move == problem.check:
        return replace(now, opened=now.opened if problem.check_open else 0, unchecked=False)
    opened = now.opened | problem.way(move)
    if move < len(problem.tests):
        return replace(now, made=now.made | 1 << move, opened=opened)
    remedy = move - len(problem.tests)
    return replace(now, spent=now.spent & ~problem.renews[remedy] | 1 << remedy, opened=opened, unchecked=True)


@dataclass(frozen=True, eq=False)
class Situation:
    """How the job stands: the exact belief, and what can be seen."""

    belief: Array
    """Chance of each set of causes, shape (sets,)."""
    standing: Standing = Standing()

    @property
    def works(self) -> float:
        """Chance that the unit works."""
        return float(self.belief[0])


def start(problem: Problem) -> Situation:
    return Situation(problem.sets.start)


def chance_bad(problem: Problem, now: Situation, test: int) -> float:
    return float(now.belief @ (1.0 - problem.sets.ok(test)))


def after(problem: Problem, now: Situation, move: int, bad: bool = True) -> Situation:
    """The situation after a test (``bad`` or not), a remedy, or a check that failed."""
    if move == problem.check:
        belief = now.belief.copy()
        belief[0] = 0.0
    elif move < len(problem.tests):
        ok = problem.sets.ok(move)
        belief = now.belief * (1.0 - ok if bad else ok)
    else:
        belief = problem.sets.remedied(now.belief, move - len(problem.tests))
    return Situation(belief / belief.sum(), moved(problem, now.standing, move))
