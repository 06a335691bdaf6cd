"""The search of the planner on published cases, posed as repair problems.

Chance over cost: J. Kalagnanam, M. Henrion, A comparison of decision analysis and expert rules for sequential
diagnosis, UAI 1988 (arXiv 1304.2362); D. Heckerman, J. Breese, K. Rommelse, Decision-theoretic troubleshooting, CACM
38(3) 1995. Stopping at the first failure: L. Mitten, J. Industrial Engineering 11 (1960); the inputs are a textbook
exercise (C. T. Ragsdale, from memory), its orders and costs computed from the formula. Case base: J. Balakrishnan, B.
Semmelbauer, Circuit diagnosis support system for electronics assembly operations, Decision Support Systems (1999),
Table 1; the least mean number of tests is computed and equals the bound of D. Huffman (1952).
"""

from __future__ import annotations

from itertools import permutations, product
from math import prod

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from knowngood.plan.order import by_ratio, expected_cost
from knowngood.plan.search import planner
from knowngood.plan.search.best_first import Search
from knowngood.plan.search.model import Model
from knowngood.plan.search.problem import OUTSIDE, Problem, Remedy, Situation, after, start
from knowngood.plan.search.problem import Test as Sensor

NEVER = 1e5
"""A loss from giving up that makes it the last thing to do."""


def problem(priors: tuple[float, ...], remedies: tuple[Remedy, ...], tests: tuple[Sensor, ...] = ()) -> Problem:
    """One fault, no compartments, a free check."""
    return Problem(priors, True, 1, tests, remedies, (), 0.0, True, NEVER)


def optimum(posed: Problem) -> float:
    found = Search(Model(posed)).find(start(posed), 100_000)
    assert found.proved
    return found.up


def order_of(posed: Problem) -> tuple[int, ...]:
    """The order in which the planner uses the remedies as long as no check succeeds."""
    now, used = start(posed), []
    while now.belief[0] < 1.0:
        move = planner.best_move(posed, now)
        if move != posed.check:
            used.append(move)
        elif now.works > 1.0 - 1e-12:
            break
        now = after(posed, now, move)
    return tuple(used)


def one_fault(chances: tuple[float, ...], costs: tuple[float, ...]) -> Problem:
    return problem(chances, tuple(Remedy(OUTSIDE, cost, ((one, 1.0),)) for one, cost in enumerate(costs)))


def test_the_four_actions_go_by_chance_over_cost() -> None:
    """p = .50 .30 .15 .05, C = 10 2 5 1: least 9.95, by A2 A1 A4 A3 or A2 A4 A1 A3 (computed from the formula)."""
    posed = one_fault((0.50, 0.30, 0.15, 0.05), (10.0, 2.0, 5.0, 1.0))
    assert optimum(posed) == pytest.approx(9.95, abs=1e-9)
    assert order_of(posed) in {(1, 0, 3, 2), (1, 3, 0, 2)}


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.integers(1, 50), min_size=2, max_size=6),
    st.lists(st.integers(1, 200), min_size=6, max_size=6),
)
def test_one_fault_costs_what_the_formula_says(weights: list[int], quarters: list[int]) -> None:
    chances = tuple(one / sum(weights) for one in weights)
    costs = tuple(one / 4 for one in quarters[: len(chances)])
    posed = one_fault(chances, costs)
    least = expected_cost(by_ratio(chances, costs), chances, costs)
    assert optimum(posed) == pytest.approx(least, abs=1e-6)
    assert expected_cost(order_of(posed), chances, costs) == pytest.approx(least, abs=1e-6)


@pytest.mark.parametrize(
    ("costs", "best", "least"),
    [((51.75, 2.00, 52.40), "YZX", 91.637125), ((1.75, 2.00, 2.40), "XZY", 5.355)],
    ids=["as printed", "misprints mended"],
)
def test_stopping_at_the_first_failure(costs: tuple[float, ...], best: str, least: float) -> None:
    """P(fail) = .125, .075, .140: each test is a remedy that ends the job with that chance, whatever came before."""
    chances = (0.125, 0.075, 0.140)
    posed = problem(
        (1.0,), tuple(Remedy(OUTSIDE, cost, ((0, chance),)) for cost, chance in zip(costs, chances, strict=True))
    )
    passed = prod(1.0 - chance for chance in chances)
    assert optimum(posed) - NEVER * passed == pytest.approx(least, abs=1e-6)
    now, order = start(posed), ""
    for _ in range(3):
        move = planner.best_move(posed, now)
        order += "XYZ"[move]
        now = after(posed, after(posed, now, move), posed.check)
    assert order == best
    orders = {one: expected_cost(one, chances, costs, one_fault=False) for one in permutations(range(3))}
    assert min(orders.values()) == pytest.approx(least, abs=1e-9)


def test_the_case_base_needs_2_4_tests_on_average() -> None:
    """Table 1: outcomes of tests 1 to 4 for defects 1 to 5; remedies so dear that a guess never pays."""
    outcomes = ("0000", "0001", "0011", "0111", "1111")
    tests = tuple(
        Sensor(OUTSIDE, 1.0, tuple((defect, 1.0) for defect, row in enumerate(outcomes) if row[test] == "1"), 0.0)
        for test in range(4)
    )
    posed = problem((0.2,) * 5, tuple(Remedy(OUTSIDE, 100.0, ((defect, 1.0),)) for defect in range(5)), tests)
    assert optimum(posed) == pytest.approx(102.4, abs=1e-6)
    assert planner.best_move(posed, start(posed)) in {1, 2}
    for defect, row in product(range(5), [outcomes]):
        now: Situation = start(posed)
        while now.belief[defect_set(posed, defect)] < 1.0:
            move = planner.best_move(posed, now)
            now = after(posed, now, move, row[defect][move] == "1")
        assert now.standing.made.bit_count() <= 3


def defect_set(posed: Problem, defect: int) -> int:
    return int((posed.sets.members[:, 0] == defect).nonzero()[0][0])
