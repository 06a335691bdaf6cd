"""A device-size problem cut down to the sets of causes that are likely now, and what they would cost if known.

The belief itself is kept exactly over all sets (``problem``); only looking ahead works on the likely ones.
"""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from knowngood.plan.search.problem import Array, Ints, Problem, Situation, start, taken_out

NEGLIGIBLE = 1e-7
"""Chance of a set below which it is left out of looking ahead."""

COVERED = 0.995
"""Chance that the likely sets cover, if their number allows."""

TYPICAL_SETS = 1000
"""Sets that the typical cost is taken over."""

REMEMBERED = 4096
"""Benches whose fixes are kept."""

Bools = NDArray[np.bool_]


class Device:
    """What does not depend on the belief."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.tests, self.remedies, self.causes = len(problem.tests), len(problem.remedies), len(problem.priors)
        self.miss: Array = np.ones((self.tests, self.causes + 1))
        """Chance that a present cause leaves the test ok, shape (tests, causes + 1); the last is no cause."""
        for number, test in enumerate(problem.tests):
            for cause, chance in test.bad_if_present:
                self.miss[number, cause] -= chance
        self.quiet: Array = 1.0 - np.array([test.false_alarm for test in problem.tests])
        self.removes: Array = np.zeros((self.remedies, self.causes + 1))
        """Chance that a remedy removes a cause, shape (remedies, causes + 1)."""
        for number, remedy in enumerate(problem.remedies):
            for cause, chance in remedy.removes:
                self.removes[number, cause] = chance
        self.ways: list[int] = [problem.way(move) for move in range(problem.check)]
        self.cost: list[float] = [test.cost for test in problem.tests] + [one.cost for one in problem.remedies]
        self._remedy_costs: dict[int, Array] = {}
        self._fixes: OrderedDict[tuple[int, int], tuple[Array, Ints, Ints]] = OrderedDict()

    @cached_property
    def typical(self) -> float:
        """What the job costs on average if the causes are known from the start, over the likely sets."""
        likely = Likely(self, start(self.problem), TYPICAL_SETS)
        return float(likely.belief @ likely.known(0, 0))

    def move_cost(self, move: int, opened: int) -> float:
        """Cost of a test or remedy, opening included."""
        return self.cost[move] + self.problem.opening(self.ways[move] & ~opened)

    def remedy_costs(self, opened: int) -> Array:
        """Cost of every remedy, opening included; shape (remedies,)."""
        if opened not in self._remedy_costs:
            self._remedy_costs[opened] = np.array(
                [self.move_cost(self.tests + remedy, opened) for remedy in range(self.remedies)]
            )
        return self._remedy_costs[opened]

    def check_cost(self, opened: int) -> float:
        """Cost of a check that fails."""
        return self.problem.check_cost + (0.0 if self.problem.check_open else self.problem.closing(opened))

    def success(self, opened: int) -> float:
        """What a check that succeeds costs on top."""
        return self.problem.closing(opened) if self.problem.check_open else 0.0

    def left_open(self, opened: int) -> int:
        """What is open after a check."""
        return opened if self.problem.check_open else 0

    def fixes(self, spent: int, opened: int) -> tuple[Array, Ints, Ints]:
        """How each cause is best met if it is known to be the only one: cost without access, way, first remedy.

        Each of shape (causes + 1,); the remedy is -1 where giving up is best. A remedy that may fail is followed by a
        check and the best of what is left.
        """
        found = self._fixes.get((spent, opened))
        if found is None:
            found = self._fixes[spent, opened] = self._fixed(spent, opened)
            if len(self._fixes) > REMEMBERED:
                self._fixes.popitem(last=False)
        return found

    def _fixed(self, spent: int, opened: int) -> tuple[Array, Ints, Ints]:
        give_up = self.problem.give_up
        cost, way = np.zeros(self.causes + 1), np.zeros(self.causes + 1, dtype=np.int64)
        first = np.full(self.causes + 1, -1, dtype=np.int64)

        def later(left: list[tuple[int, float]], at: int) -> float:
            best = give_up
            for remedy, chance in left:
                best = min(
                    best, tried(remedy, chance, left, at) + self.problem.opening(self.ways[self.tests + remedy] & ~at)
                )
            return best

        def tried(remedy: int, chance: float, left: list[tuple[int, float]], at: int) -> float:
            """Cost of the remedy without access, and of what follows if it fails."""
            then = at | self.ways[self.tests + remedy]
            own = self.cost[self.tests + remedy]
            if chance >= 1.0:
                return own
            rest = [one for one in left if one[0] != remedy]
            return own + (1.0 - chance) * (self.check_cost(then) + later(rest, self.left_open(then)))

        for cause in range(self.causes):
            left = [
                (remedy, float(self.removes[remedy, cause]))
                for remedy in np.flatnonzero(self.removes[:, cause]).tolist()
                if not spent >> remedy & 1
            ]
            least, cost[cause] = give_up, give_up
            for remedy, chance in left:
                own, needed = tried(remedy, chance, left, opened), self.ways[self.tests + remedy] & ~opened
                total = own + self.problem.opening(needed) + self.problem.closing(needed)
                if total < least:
                    least, cost[cause] = total, own
                    way[cause], first[cause] = self.ways[self.tests + remedy], remedy
        return cost, way, first


@dataclass(frozen=True)
class Groups:
    """The sets in groups that begin with the same remedy."""

    order: Ints
    """The sets, group by group, shape (sets,)."""
    remedy: Ints
    """The remedy that each of these begins with."""
    more: Array
    """1 where that remedy alone is not enough, in this order."""

    @cached_property
    def starts(self) -> Ints:
        """Where each group begins in ``order``."""
        return np.flatnonzero(np.diff(self.remedy, prepend=-2))

    def among(self, on: Bools) -> Groups:
        """The same of the sets that are on alone, numbered anew."""
        here = on[self.order]
        number = np.cumsum(on) - 1
        return Groups(number[self.order[here]], self.remedy[here], self.more[here])


class Likely:
    """The likely sets of a situation with all their subsets, numbered anew; number 0 is the empty set."""

    def __init__(self, device: Device, now: Situation, most: int) -> None:
        self.device = device
        sets, belief = device.problem.sets, now.belief
        top = np.argpartition(belief, -most)[-most:] if len(belief) > most else np.arange(len(belief))
        top = top[np.argsort(-belief[top], kind="stable")]
        most_of_it = int(np.searchsorted(np.cumsum(belief[top]), COVERED)) + 1
        top = top[:most_of_it][belief[top[:most_of_it]] > NEGLIGIBLE]
        rows = members = sets.members[top]
        for _ in range(members.shape[1]):
            fewer = []
            for column in range(members.shape[1]):
                without = members.copy()
                without[:, column] = device.causes
                without.sort(axis=1)
                fewer.append(without)
            members = np.unique(np.concatenate(fewer), axis=0)
            rows = np.concatenate([rows, members])
        self._numbers = np.unique(sets.numbers(rows))
        self.members: Ints = sets.members[self._numbers]
        self.size = len(self._numbers)
        weight = np.zeros(self.size)
        weight[np.searchsorted(self._numbers, top)] = belief[top]
        self.belief: Array = weight / weight.sum()
        ok = np.ones((device.tests, self.size))
        for column in self.members.T:
            ok *= device.miss[:, column]
        ok *= device.quiet[:, None]
        self.bad: Array = (1.0 - ok).T.copy()
        """Chance of bad, shape (sets, tests)."""
        self.inside: Array = np.zeros((self.size, device.causes + 1))
        """1 where a set holds a cause, shape (sets, causes + 1)."""
        for column in self.members.T:
            self.inside[np.arange(self.size), column] = 1.0
        self.inside[:, -1] = 0.0
        chance = self.belief @ self.inside
        self.leader: Ints = self.members[np.arange(self.size), chance[self.members].argmax(axis=1)]
        """The likeliest cause of each set."""
        self._moved: dict[int, tuple[Ints, Ints]] = {}
        self._known: dict[tuple[int, int], Array] = {}
        self._groups: dict[tuple[int, int], Groups] = {}

    def known(self, spent: int, opened: int) -> Array:
        """About what each set would cost if it were known: its causes met one by one, closed up and checked once."""
        found = self._known.get((spent, opened))
        if found is None:
            device = self.device
            cost, way, _ = device.fixes(spent, opened)
            ways = np.full(self.size, opened)
            for column in self.members.T:
                ways |= way[column]
            distinct, back = np.unique(ways, return_inverse=True)
            access = np.array(
                [device.problem.opening(one & ~opened) + device.problem.closing(one) for one in distinct.tolist()]
            )
            found = cost[self.members].sum(axis=1) + access[back] + device.problem.check_cost
            found = np.minimum(found, device.problem.give_up)
            found[0] = 0.0
            self._known[spent, opened] = found
        return found

    def groups(self, spent: int, opened: int) -> Groups:
        """Which sets begin with the same remedy."""
        found = self._groups.get((spent, opened))
        if found is None:
            _, _, first = self.device.fixes(spent, opened)
            remedy = first[self.leader]
            enough = (self.device.removes[remedy[:, None], self.members] > 0.0) | (self.members == self.device.causes)
            order = np.argsort(remedy, kind="stable")
            more = (~enough.all(axis=1)).astype(np.float64)
            found = self._groups[spent, opened] = Groups(order, remedy[order], more[order])
        return found

    def _holding(self, cause: int) -> tuple[Ints, Ints]:
        """``Sets.holding`` by the new numbers."""
        if cause not in self._moved:
            inside = np.flatnonzero(self.inside[:, cause])
            rest = self.members[inside]
            rest[rest == cause] = self.device.causes
            rest.sort(axis=1)
            target = np.searchsorted(self._numbers, self.device.problem.sets.numbers(rest))
            self._moved[cause] = inside, target
        return self._moved[cause]

    def remedied(self, weights: Array, remedy: int) -> Array:
        """Weights (..., sets) after the remedy; what it introduces is left out."""
        return taken_out(weights, self.device.problem.remedies[remedy], self._holding)
