"""How soon a large shelf is solved, how well that is proved, and what the optimum gains over the sensible rule.

On shelves drawn like the trade's (``tests/money/drawn_shelves.py``, all figures invented; 40 kinds of parts, 12
suppliers, married pairs). Run: ``python benchmarks/shelf.py [short|long] [PART ...]``, by itself short and all parts:

- ``solvers``: the same program in HiGHS and in CP-SAT (OR-Tools), each on two threads, 300 units, gap 0.5 %.
- ``middle``: 300 units, gap 0.5 %, 20 s. ``large``: 3,000 units, gap 2 %, 120 s.
- ``gain``: shelves of 40 units and of 300, the optimum's worth over that of the sensible rule on the same shelf.

Seconds are those of the clock, with the sensible rule's plan and the making of the program in them.
"""

from __future__ import annotations

import sys
from pathlib import Path
from statistics import mean, quantiles, stdev
from time import perf_counter, process_time

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "money"))

from drawn_shelves import trade_shelf

from knowngood.money.shelf.greedy import greedy
from knowngood.money.shelf.plan import tally
from knowngood.money.shelf.problem import Problem
from knowngood.money.shelf.program import Program
from knowngood.money.shelf.solve import gap, solve

MAJOR = 6000
"""Sixtieths of a minor unit in a whole unit of money."""


def drawn(seed: int, units: int) -> Problem:
    return trade_shelf(np.random.default_rng(seed), units)


def sensible(problem: Problem) -> int:
    plan = greedy(problem)
    assert plan is not None
    return tally(problem, plan).worth


def timed(units: int, goal: float, seconds: float, draws: int) -> None:
    print(f"\n{units} units, to be proved within {goal:.1%} in {seconds:.0f} s")
    print(f"{'seed':>6}{'seconds':>9}{'cpu s':>8}{'worth':>11}{'bound':>11}{'gap':>9}{'sensible':>11}  ended")
    for seed in range(draws):
        problem = drawn(seed, units)
        cpu = process_time()
        answer = solve(problem, gap=goal, seconds=seconds)
        figures = (
            f"{answer.seconds:9.1f}{process_time() - cpu:8.1f}{answer.worth / MAJOR:11.0f}{answer.bound / MAJOR:11.0f}"
        )
        print(f"{seed:6}{figures}{answer.gap:9.3%}{sensible(problem) / MAJOR:11.0f}  {answer.ended}", flush=True)


def gains(units: int, goal: float, draws: int) -> None:
    found = []
    for seed in range(1000, 1000 + draws):
        problem = drawn(seed, units)
        answer = solve(problem, gap=goal, seconds=60.0)
        least = sensible(problem)
        found.append((answer.worth - least) / least)
        assert found[-1] >= 0.0
    low, *_, high = quantiles(found, n=10)
    print(
        f"{units:5} units, {draws} shelves, solved within {goal:.2%}: gain over the sensible rule {mean(found):.2%} "
        f"in the mean, {stdev(found):.2%} its standard deviation, {low:.2%} to {high:.2%} for eight in ten, "
        f"{min(found):.2%} the least",
        flush=True,
    )


def solvers(goal: float, seconds: float, draws: int) -> None:
    from ortools.sat.python import cp_model

    print(f"\nThe same program in two solvers: 300 units, within {goal:.1%}, at most {seconds:.0f} s")
    for seed in range(draws):
        problem = drawn(seed, 300)
        answer = solve(problem, gap=goal, seconds=seconds)
        program, plan = Program(problem), greedy(problem)
        assert plan is not None
        model = cp_model.CpModel()
        columns = [model.new_int_var(0, most, "") for most in program.most]
        for row in program.rows:
            terms = cp_model.LinearExpr.weighted_sum(
                [columns[column] for column, _ in row.terms], [factor for _, factor in row.terms]
            )
            low, high = (
                cp_model.INT_MIN if row.low is None else row.low,
                cp_model.INT_MAX if row.high is None else row.high,
            )
            model.add_linear_constraint(terms, low, high)
        model.maximize(cp_model.LinearExpr.weighted_sum(columns, program.worth))
        for column, value in zip(columns, program.values(plan), strict=True):
            model.add_hint(column, value)
        other = cp_model.CpSolver()
        other.parameters.num_workers = 2
        other.parameters.relative_gap_limit = goal
        other.parameters.max_time_in_seconds = seconds
        begun = perf_counter()
        other.solve(model)
        reached = gap(round(other.objective_value), round(other.best_objective_bound))
        print(f"seed {seed}: HiGHS {answer.seconds:.1f} s, gap {answer.gap:.3%}; ", end="")
        print(f"CP-SAT {perf_counter() - begun:.1f} s, gap {reached:.3%}", flush=True)


def main() -> None:
    words = sys.argv[1:] or ["short"]
    long, parts = "long" in words, [word for word in words if word not in ("short", "long")]
    parts = parts or ["solvers", "middle", "large", "gain"]
    if "solvers" in parts:
        solvers(0.005, 20.0, 5 if long else 1)
    if "middle" in parts:
        timed(300, 0.005, 20.0, 10 if long else 3)
    if "large" in parts:
        timed(3000, 0.02, 120.0, 5 if long else 1)
    if "gain" in parts:
        print()
        gains(40, 0.0001, 60 if long else 15)
        gains(300, 0.005, 20 if long else 5)


if __name__ == "__main__":
    main()
