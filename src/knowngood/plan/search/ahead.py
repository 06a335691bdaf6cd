"""Looking ahead where exact search is out of reach: tests and remedies by what the rest of the job may cost.

What is left is estimated as somewhat more than the causes would cost if known, plus a price for each bit that must
still be found out: which remedy comes first, and, cheaper, which other causes there are where that one is not enough.
Whether it was enough is not counted, as the check that tells it has to be made anyway. An estimate that promises more
than can be had makes every remedy look dear beside one more test; so lines of moves are compared only where a remedy
and its check end them.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import log

import numpy as np
from scipy.special import entr

from knowngood.plan.search.likely import Device, Groups, Likely
from knowngood.plan.search.problem import Array, Situation

TINY = 1e-300

LN_2 = log(2.0)

SMALL = 1e-9
"""Chances below this are not looked into."""

RARE = 0.005
"""Mean number of causes a remedy must take away to be looked at."""


@dataclass(frozen=True)
class Effort:
    """How far to look, and at what price."""

    sets: int = 400
    """Likeliest sets of causes looked at."""
    tests: int = 8
    """Tests looked at from here."""
    next_tests: int = 3
    """Tests looked at after each outcome of those."""
    remedies: int = 5
    """Remedies looked at as the next one."""
    known_share: float = 1.2
    """What the rest costs for each unit of what it would cost if the causes were known, bits apart."""
    bit_share: float = 0.14
    """Price of a bit, as a share of what the job costs on average if the causes are known from the start."""
    others: float = 0.6
    """Price of a bit about other causes, for each of the price of a bit about the remedy that comes first."""
    dearer: float = 0.25
    """What each remedy spent adds to the price of a bit, as a share of it: the cheap tests are made by then.

    These four are set by judgement near what 600 jobs of an earlier planner still cost after each of 11,500 decisions,
    on six drawn instances that are none of the yardstick's. Least squares over all gives 1.05, 0.15 and 0.9 for the
    first three, single instances 0.75 to 1.4, 0.05 to 0.21 and 0 to 4; with three or four remedies spent a job cost 1.3
    times the estimate, with more 1.4 times.
    """


def surprise(weights: Array) -> Array:
    """Sum of -w log2 w over each row."""
    total: Array = entr(weights).sum(axis=1) / LN_2
    return total


class Ahead:
    """What to do next in one situation. Beliefs here are rows of weights over the likely sets."""

    def __init__(self, device: Device, now: Situation, effort: Effort) -> None:
        self.device, self.effort = device, effort
        self.likely = Likely(device, now, effort.sets)
        self._at = now.standing
        self._bit = effort.bit_share * device.typical * (1.0 + effort.dearer * self._at.spent.bit_count())

    def best(self) -> int:
        """The move to make now."""
        at, device, problem = self._at, self.device, self.device.problem
        belief = self.likely.belief
        left = [test for test in range(device.tests) if not at.made >> test & 1]
        order = self._promising(belief, left, at.spent, at.opened, at.unchecked)
        near = order[: 2 * self.effort.tests]
        worth = {problem.giving_up: problem.give_up}
        # Lines are compared with one remedy and its check at their end: the estimate behind it promises too much, and
        # a line with two of them would look dear beside one more useless test.
        if at.unchecked:
            worth[problem.check] = float(self._estimated(belief[None], at.spent, at.opened)[0])
        for remedy in self._helpful(belief, at.spent, at.opened):
            move, opened = device.tests + remedy, at.opened | device.ways[device.tests + remedy]
            after = self.likely.remedied(belief[None], remedy)
            cost = float(self._estimated(after, at.spent | 1 << remedy, opened)[0])
            worth[move] = device.move_cost(move, at.opened) + cost
        for test in order[: self.effort.tests]:
            worth[test] = self._test(belief, test, near, at.spent, at.opened, at.unchecked)
        return min(worth, key=lambda move: (worth[move], -move))

    def _test(self, belief: Array, test: int, near: list[int], spent: int, opened: int, unchecked: bool) -> float:
        """Cost of the test and of what follows it."""
        total = self.device.move_cost(test, opened)
        bad = belief * self.likely.bad[:, test]
        after, left = opened | self.device.ways[test], [one for one in near if one != test]
        for weights in (bad, belief - bad):
            chance = float(weights.sum())
            if chance > SMALL:
                total += chance * self._value(weights / chance, left, spent, after, unchecked)
        return total

    def _value(self, belief: Array, near: list[int], spent: int, opened: int, unchecked: bool) -> float:
        """Cost from here if a remedy comes next, or one more test before it."""
        device = self.device
        helpful = self._helpful(belief, spent, opened)
        best = float(self._ended(belief[None], helpful, spent, opened, unchecked)[0])
        tests = self._promising(belief, near, spent, opened, unchecked)[: self.effort.next_tests]
        by_access: dict[int, list[int]] = {}
        for test in tests:
            by_access.setdefault(opened | device.ways[test], []).append(test)
        for after, among in by_access.items():
            bad = belief * self.likely.bad[:, among].T
            rows = np.concatenate([bad, belief - bad])
            chance = rows.sum(axis=1)
            worth = chance * self._ended(rows / np.maximum(chance, TINY)[:, None], helpful, spent, after, unchecked)
            for place, test in enumerate(among):
                best = min(best, device.move_cost(test, opened) + float(worth[place] + worth[place + len(among)]))
        return best

    def _ended(self, beliefs: Array, remedies: list[int], spent: int, opened: int, unchecked: bool) -> Array:
        """Cost if one of the remedies, or a check, or giving up comes next; beliefs (rows, sets), result (rows,)."""
        device = self.device
        best = np.full(len(beliefs), device.problem.give_up)
        if unchecked:
            best = np.minimum(best, self._estimated(beliefs, spent, opened))
        for remedy in remedies:
            move = device.tests + remedy
            after = self.likely.remedied(beliefs, remedy)
            cost = self._estimated(after, spent | 1 << remedy, opened | device.ways[move])
            best = np.minimum(best, device.move_cost(move, opened) + cost)
        return best

    def _estimated(self, beliefs: Array, spent: int, opened: int) -> Array:
        """Cost of a check and, estimated, of what follows if it fails."""
        device, works = self.device, beliefs[:, 0]
        broken = beliefs.copy()
        broken[:, 0] = 0.0
        rest = np.minimum(
            self.estimate(broken, spent, device.left_open(opened)), (1.0 - works) * device.problem.give_up
        )
        total: Array = device.check_cost(opened) + works * device.success(opened) + rest
        return total

    def estimate(self, weights: Array, spent: int, opened: int) -> Array:
        """What the rest may cost, times the weight of each row; the empty set must have none."""
        total: Array = weights @ self.likely.known(spent, opened)
        return self.effort.known_share * total + self._to_find_out(weights, self.likely.groups(spent, opened))

    def _to_find_out(self, weights: Array, groups: Groups) -> Array:
        """Price of the bits that are open in each row of weights."""
        grouped = weights[:, groups.order]
        first = surprise(np.add.reduceat(grouped, groups.starts, axis=1)) - entr(weights.sum(axis=1)) / LN_2
        grouped *= groups.more
        others = surprise(grouped) - surprise(np.add.reduceat(grouped, groups.starts, axis=1))
        total: Array = self._bit * (first + self.effort.others * others)
        return total

    def _helpful(self, belief: Array, spent: int, opened: int) -> list[int]:
        """Remedies by the chance to remove a cause over cost."""
        device = self.device
        gain = device.removes @ (belief @ self.likely.inside)
        ratio = gain / (device.remedy_costs(opened) + device.problem.check_cost + SMALL)
        order = [one for one in np.argsort(-ratio, kind="stable").tolist() if not spent >> one & 1 and gain[one] > RARE]
        return order[: self.effort.remedies]

    def _promising(self, belief: Array, left: list[int], spent: int, opened: int, unchecked: bool) -> list[int]:
        """The tests by the estimate of all that follows, the least first."""
        if not left:
            return []
        device, likely = self.device, self.likely
        on = belief > SMALL
        on[0] = False
        weights = belief[on]
        bad = likely.bad[on][:, left] * weights[:, None]
        both = np.concatenate([bad, weights[:, None] - bad], axis=1).T
        price = self._to_find_out(both, likely.groups(spent, opened).among(on))
        then: dict[int, float] = {}
        cost = []
        for test in left:
            after = opened | device.ways[test]
            if after not in then:
                checked = device.left_open(after) if unchecked else after
                then[after] = float(weights @ likely.known(spent, checked)[on])
                then[after] += device.check_cost(after) if unchecked else 0.0
            cost.append(device.move_cost(test, opened) + then[after])
        total = np.array(cost) + price[: len(left)] + price[len(left) :]
        return [left[place] for place in np.argsort(total, kind="stable").tolist()]
