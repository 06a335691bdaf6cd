"""Orders of jobs for one pair of hands against published rules."""

from __future__ import annotations

from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from knowngood.plan.timetable.bound import least_cost
from knowngood.plan.timetable.jobs import Job, Phase, Problem
from knowngood.plan.timetable.solve import searched, timetable

EXAMPLE = ((1, 2), (5, 4), (8, 3))
"""Minutes and weight of three jobs (made up). By the rule: 1/2 < 5/4 < 8/3, so as they stand: 2*1 + 4*6 + 3*14 = 68."""


def jobs(*of: tuple[int, int]) -> Problem:
    return Problem(tuple(Job(f"U{number}", weight, (Phase(minutes),)) for number, (minutes, weight) in enumerate(of)))


def by_the_rule(of: list[tuple[int, int]]) -> int:
    """W. E. Smith, "Various optimizers for single-stage production", Naval Research Logistics Quarterly 3 (1956), 59 to
    66: the sum of weighted ends is least in the order of minutes over weight."""
    now = total = 0
    for minutes, weight in sorted(of, key=lambda one: Fraction(one[0], one[1])):
        now += minutes
        total += weight * now
    return total


def test_the_rule_on_three_jobs_worked_by_hand() -> None:
    assert by_the_rule(list(EXAMPLE)) == 68
    backwards = jobs(*reversed(EXAMPLE))
    assert [slot.job for slot in timetable(backwards).slots] == [2, 1, 0]
    assert searched(backwards, [0, 1, 2], 1.0) == ([2, 1, 0], 68)


@given(st.lists(st.tuples(st.integers(1, 50), st.integers(1, 50)), min_size=1, max_size=12))
def test_without_waits_and_tools_the_order_is_smiths_and_the_bound_proves_it(of: list[tuple[int, int]]) -> None:
    found = timetable(jobs(*of))
    assert found.cost == by_the_rule(of) == least_cost(jobs(*of))
    assert found.proved
