"""What the planner is compared with: simple policies of the bench and of the textbook.

Each makes a check after every remedy (the textbook's assumption), and gives up where no remedy is left that could help.
Tests are weighed over the likeliest sets of causes. Sources: J. Kalagnanam, M. Henrion, A comparison of decision
analysis and expert rules for sequential diagnosis, UAI 1988 (arXiv 1304.2362); D. Heckerman, J. Breese, K. Rommelse,
Decision-theoretic troubleshooting, CACM 38(3) 1995.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from knowngood.plan.search.likely import Likely
from knowngood.plan.search.planner import device
from knowngood.plan.search.problem import Array, Situation
from knowngood.plan.yardstick import Instance, Move, Policy, Step

SETS = 400
"""Likeliest sets of causes that tests are weighed over."""

LEAST_GAIN = 0.02
"""Bits that a test must tell to be made for information alone."""

LONGEST = 25
"""Remedies in a row that the one-step policy costs; after them it gives up."""

TESTS = 40
"""Tests that the one-step policy costs, those of most information for their cost."""

Rule = Callable[[Likely, Situation], int | None]


def _policy(rule: Rule) -> Policy:
    """A policy that checks after each remedy and else follows the rule; None gives up."""

    def choose(instance: Instance, history: Sequence[Step]) -> Move:
        now = instance.situation(history)
        if now.standing.unchecked:
            return "check", None
        likely = Likely(device(instance.problem), now, SETS)
        move = rule(likely, now)
        return instance.move(instance.problem.giving_up if move is None else move)

    return choose


def _ratios(likely: Likely, now: Situation, belief: Array | None = None, opened: int | None = None) -> Array:
    """Chance to take away a cause over cost with its check, 0 where spent; shape (remedies,)."""
    known = likely.device
    at = now.standing.opened if opened is None else opened
    gain = known.removes @ ((likely.belief if belief is None else belief) @ likely.inside)
    spent = np.array([now.standing.spent >> remedy & 1 for remedy in range(known.remedies)], dtype=bool)
    found: Array = np.where(spent, 0.0, gain) / (known.remedy_costs(at) + known.problem.check_cost + 1e-9)
    return found


def _most_probable(likely: Likely, now: Situation) -> int | None:
    """The cheapest remedy of the likeliest cause that one is left for."""
    known = likely.device
    costs = known.remedy_costs(now.standing.opened)
    for cause in np.argsort(-(likely.belief @ likely.inside), kind="stable").tolist():
        able = [one for one in np.flatnonzero(known.removes[:, cause]).tolist() if not now.standing.spent >> one & 1]
        if able:
            return known.tests + min(able, key=lambda remedy: float(costs[remedy]))
    return None


def _cheapest(likely: Likely, now: Situation) -> int | None:
    known = likely.device
    able = np.flatnonzero(_ratios(likely, now) > 0.0).tolist()
    costs = known.remedy_costs(now.standing.opened)
    return known.tests + min(able, key=lambda remedy: float(costs[remedy])) if able else None


def _chance_over_cost(likely: Likely, now: Situation) -> int | None:
    ratios = _ratios(likely, now)
    return likely.device.tests + int(ratios.argmax()) if ratios.max(initial=0.0) > 0.0 else None


def _entropy(chance: Array) -> Array:
    with np.errstate(divide="ignore", invalid="ignore"):
        found: Array = -np.nan_to_num(chance * np.log2(chance) + (1.0 - chance) * np.log2(1.0 - chance))
    return found


def _gains(likely: Likely, now: Situation) -> Array:
    """Bits that each test tells of the set of causes, 0 where made; shape (tests,)."""
    told = _entropy(likely.belief @ likely.bad) - likely.belief @ _entropy(likely.bad)
    made = np.array([now.standing.made >> test & 1 for test in range(likely.device.tests)], dtype=bool)
    found: Array = np.where(made, 0.0, told)
    return found


def _test_costs(likely: Likely, now: Situation) -> Array:
    known = likely.device
    return np.array([known.move_cost(test, now.standing.opened) for test in range(known.tests)])


def _information_over_cost(likely: Likely, now: Situation) -> int | None:
    """The test of most information for its cost while one tells something, then chance over cost."""
    gains = _gains(likely, now)
    if gains.max(initial=0.0) > LEAST_GAIN:
        return int((np.where(gains > LEAST_GAIN, gains, 0.0) / (_test_costs(likely, now) + 1e-9)).argmax())
    return _chance_over_cost(likely, now)


def _in_a_row(likely: Likely, now: Situation, belief: Array, opened: int) -> float:
    """Expected cost of remedies by chance over cost, a check after each, giving up where that is cheaper."""
    known, problem = likely.device, likely.device.problem
    steps: list[tuple[float, float]] = []
    weights, spent = belief, now.standing.spent
    for _ in range(LONGEST):
        ratios = _ratios(likely, now, weights, opened)
        for remedy in range(known.remedies):
            if spent >> remedy & 1:
                ratios[remedy] = 0.0
        if ratios.max(initial=0.0) <= 0.0:
            break
        remedy = int(ratios.argmax())
        before = float(weights.sum())
        cost = before * known.move_cost(known.tests + remedy, opened)
        weights, spent = likely.remedied(weights, remedy), spent | 1 << remedy
        opened |= known.ways[known.tests + remedy]
        cost += before * known.check_cost(opened) + float(weights[0]) * known.success(opened)
        opened = known.left_open(opened)
        weights[0] = 0.0
        steps.append((before, cost))
        if weights.sum() < 1e-4:
            break
    worth = float(weights.sum()) * problem.give_up
    for before, cost in reversed(steps):
        worth = min(cost + worth, before * problem.give_up)
    return worth


def _one_step(likely: Likely, now: Situation) -> int | None:
    """The test that lowers the cost of the remedies in a row by most, if one does; else the first of the row."""
    known = likely.device
    row = _in_a_row(likely, now, likely.belief, now.standing.opened)
    best, least = _chance_over_cost(likely, now), row
    if row >= known.problem.give_up:
        best = None
    ratios = _gains(likely, now) / (_test_costs(likely, now) + 1e-9)
    for test in np.argsort(-ratios, kind="stable")[:TESTS].tolist():
        if ratios[test] <= 0.0:
            break
        opened = now.standing.opened | known.ways[test]
        bad = likely.belief * likely.bad[:, test]
        cost = known.move_cost(test, now.standing.opened)
        cost += _in_a_row(likely, now, bad, opened) + _in_a_row(likely, now, likely.belief - bad, opened)
        if cost < least:
            best, least = test, cost
    return best


POLICIES: dict[str, Policy] = {
    "most probable cause first": _policy(_most_probable),
    "cheapest first": _policy(_cheapest),
    "probability over cost": _policy(_chance_over_cost),
    "information gain per cost": _policy(_information_over_cost),
    "one-step value of information": _policy(_one_step),
}
