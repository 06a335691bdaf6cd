"""An upper bound: remedies in a fixed order, no tests, checks where they pay, and giving up at the end.

The cost of a fixed plan is linear in the belief: one number for each set of causes. Each plan that was made for one
belief is kept for its bench and bounds every other belief there as well, exactly.
"""

from __future__ import annotations

import numpy as np

from knowngood.plan.search.model import Model
from knowngood.plan.search.problem import Array

KEPT = 12
"""Plans kept for a bench; more are made only until then."""

NOTHING = 1e-12
"""Chances below this are taken as none."""

PART = 0.25
"""What taking away one of several causes counts towards the order of remedies, where a cure counts 1."""

SURE = 0.999
"""Chance to work from which the order of remedies ends with a check."""


class Chains:
    def __init__(self, model: Model) -> None:
        self._model = model
        self._plans: dict[tuple[int, int, bool], list[Array]] = {}
        self._first: dict[tuple[int, int, bool], list[int]] = {}
        self._stacked: dict[tuple[int, int, bool], Array] = {}

    def cost(self, belief: Array, spent: int, opened: int, unchecked: bool) -> float:
        """What the best kept plan costs; never less than the optimum."""
        return float(self._costs(belief, spent, opened, unchecked).min())

    def first(self, belief: Array, spent: int, opened: int, unchecked: bool) -> int:
        """The first move of the plan with that cost."""
        best = int(self._costs(belief, spent, opened, unchecked).argmin())
        return self._first[spent, opened, unchecked][best]

    def _costs(self, belief: Array, spent: int, opened: int, unchecked: bool) -> Array:
        key = (spent, opened, unchecked)
        if len(self._plans.get(key, ())) < KEPT:
            self._plan(belief, spent, opened, unchecked)
        plans, stacked = self._plans[key], self._stacked.get(key)
        if stacked is None or len(stacked) < len(plans):
            stacked = self._stacked[key] = np.array(plans)
        found: Array = stacked @ belief
        return found

    def _plan(self, belief: Array, spent: int, opened: int, unchecked: bool) -> Array:
        """Cost by set of a plan that suits the belief, shape (sets,)."""
        key = (spent, opened, unchecked)
        plans = self._plans.setdefault(key, [])
        if len(plans) >= KEPT:
            return plans[int((np.array(plans) @ belief).argmin())]
        first, plan = self._made(belief, spent, opened, unchecked)
        plans.append(plan)
        self._first.setdefault(key, []).append(first)
        return plan

    def _made(self, belief: Array, spent: int, opened: int, unchecked: bool) -> tuple[int, Array]:
        model, problem = self._model, self._model.problem
        bench = model.bench(spent, opened)
        tests, check = len(problem.tests), problem.check
        stop = problem.giving_up, np.full(len(belief), problem.give_up)
        going_on = float(belief.sum())
        if going_on < NOTHING:
            return stop
        remedy, ratio = -1, 0.0
        broken = belief.copy()
        broken[0] = 0.0
        gains = model.cures @ broken + PART * (model.fewer @ broken)
        for number, gain in enumerate(gains.tolist()):
            if bench.usable[tests + number] and gain > NOTHING:
                way = bench.after[tests + number][1]
                price = bench.cost[tests + number] + model.bench(spent, way).cost[check]
                if gain > ratio * price or remedy < 0:
                    remedy, ratio = number, gain / price if price else 1 / NOTHING
        # A check is worth it if it saves more of the next remedy than it costs; opening again counts as its cost.
        again = bench.cost[check] + (0.0 if problem.check_open else problem.opening(opened))
        saved = float(belief[0]) / going_on * (bench.cost[tests + remedy] if remedy >= 0 else problem.give_up)
        if unchecked and (remedy < 0 or saved >= again or belief[0] > SURE * going_on):
            move, plan = check, bench.cost[check] + self._plan(broken, *bench.after[check], False)
            plan[0] = bench.cost[check] + bench.success
        elif remedy < 0:
            return stop
        else:
            move, moved = tests + remedy, model.moves[remedy]
            plan = bench.cost[move] + moved @ self._plan(belief @ moved, *bench.after[move], True)
        return (move, plan) if plan @ belief <= stop[1] @ belief else stop
