"""The arrays of a problem that a search works on: what each move does to a weight for each set of causes.

For every *bench* (which remedies are spent, which compartments are open) one row for each move gives, set by set, the
least that the job can still cost if the move comes first and the set becomes known right after it. As the set does not
become known for nothing, a belief's mean of a row is a lower bound on the cost of that move (R. Parr, M. Littman: the
fully observed bound of partially observed problems), and one product of matrix and vector bounds all moves at once.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from knowngood.plan.search.problem import Array, Ints, Problem

INFINITE = float("inf")


@dataclass(eq=False)
class Bench:
    """What does not depend on the belief. Moves are rows; give up is not among them."""

    spent: int
    opened: int
    rank: int
    """Rises with every remedy; remedies that introduce causes count more than all they may make usable again."""
    cost: list[float]
    """Of each move, opening included; of a check whatever it shows."""
    success: float
    """What closing up costs once a check succeeds."""
    usable: list[bool]
    """Whether the rules allow the move, tests made and checks apart."""
    after: list[tuple[int, int]]
    """Spent and opened after each move."""
    bound: Array
    """Least cost of each move by set, its own cost included, shape (moves, sets)."""


class Model:
    """Arrays over all sets of a problem that has few of them."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        sets, tests, remedies = problem.sets, len(problem.tests), len(problem.remedies)
        self.bad: Array = np.array([1.0 - sets.ok(test) for test in range(tests)]).reshape(tests, len(sets))
        """Chance of bad, shape (tests, sets)."""
        whole = np.eye(len(sets))
        self.moves: Array = np.array([sets.remedied(whole, remedy) for remedy in range(remedies)])
        """Chance of each set after each remedy, shape (remedies, sets before, sets after)."""
        self.moves = self.moves.reshape(remedies, len(sets), len(sets))
        stays = np.array([np.diagonal(one) for one in self.moves]).reshape(remedies, len(sets))
        self.told: Array = np.concatenate([self.bad, 1.0 - stays])
        """Chance that a test is bad, or that a remedy changes something; shape (tests + remedies, sets)."""
        self.sizes: Array = (sets.members < sets.causes).sum(axis=1).astype(np.float64)
        self.fewer: Array = self.sizes - self.moves @ self.sizes
        """Mean number of causes that a remedy takes away from each set, shape (remedies, sets)."""
        self.cures: Array = self.moves[:, :, 0].copy()
        """Chance that nothing is left after each remedy, shape (remedies, sets)."""
        weights = [remedies + 1 if remedy.introduces else 1 for remedy in problem.remedies]
        self._weights = weights
        self._known: dict[tuple[int, int], Array] = {}
        self._benches: dict[tuple[int, int], Bench] = {}

    def known(self, spent: int, opened: int) -> Array:
        """Least cost by set if the set were known now and ever after, shape (sets,)."""
        found = self._known.get((spent, opened))
        if found is None:
            problem = self.problem
            found = np.full(len(self.sizes), problem.give_up)
            for number, remedy in enumerate(problem.remedies):
                if spent >> number & 1:
                    continue
                way = problem.way(len(problem.tests) + number)
                then = self.known(self.used(spent, number), opened | way)
                cost = self.moves[number] @ then + (remedy.cost + problem.opening(way & ~opened))
                np.minimum(found, cost, out=found)
            found[0] = min(problem.give_up, problem.check_cost + problem.closing(opened))
            self._known[spent, opened] = found
        return found

    def used(self, spent: int, remedy: int) -> int:
        """What is spent after the remedy."""
        return spent & ~self.problem.renews[remedy] | 1 << remedy

    def bench(self, spent: int, opened: int) -> Bench:
        found = self._benches.get((spent, opened))
        if found is None:
            found = self._benches[spent, opened] = self._bench(spent, opened)
        return found

    def _bench(self, spent: int, opened: int) -> Bench:
        problem = self.problem
        cost, usable, after, rows = [], [], [], []
        for number, test in enumerate(problem.tests):
            way = problem.way(number)
            cost.append(test.cost + problem.opening(way & ~opened))
            usable.append(True)
            after.append((spent, opened | way))
            rows.append(cost[-1] + self.known(spent, opened | way))
        for number, remedy in enumerate(problem.remedies):
            way = problem.way(len(problem.tests) + number)
            cost.append(remedy.cost + problem.opening(way & ~opened))
            usable.append(not spent >> number & 1)
            after.append((self.used(spent, number), opened | way))
            rows.append(cost[-1] + self.moves[number] @ self.known(*after[-1]) if usable[-1] else self.sizes)
        cost.append(problem.check_cost + (0.0 if problem.check_open else problem.closing(opened)))
        success = problem.closing(opened) if problem.check_open else 0.0
        usable.append(True)
        after.append((spent, opened if problem.check_open else 0))
        failed = cost[-1] + self.known(*after[-1])
        failed[0] = cost[-1] + success
        rows.append(failed)
        rank = sum(weight for number, weight in enumerate(self._weights) if spent >> number & 1)
        return Bench(spent, opened, rank, cost, success, usable, after, np.array(rows))


__all__ = ["INFINITE", "Bench", "Ints", "Model"]
