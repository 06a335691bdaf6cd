"""The set of tests of least time against every set, on drawn problems."""

from __future__ import annotations

from itertools import chain, combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from knowngood.proof.least_time import Choice, NoSetError, Problem, least_time

NAMES = "abcdef"


@st.composite
def problems(draw: st.DrawFn) -> Problem:
    """A few tests behind a few steps, some of which passed already."""
    steps = {step: float(draw(st.integers(0, 6))) for step in draw(st.sets(st.sampled_from("xyz")))}
    names = draw(st.lists(st.sampled_from(NAMES), unique=True, max_size=6))
    ways = st.sets(st.sampled_from(sorted(steps))) if steps else st.just(set())
    choices = {one: Choice(float(draw(st.integers(1, 9))), tuple(sorted(draw(ways)))) for one in names}
    demand = st.frozensets(st.sampled_from(NAMES), min_size=1, max_size=3)
    again = {step: tuple(draw(st.lists(demand, max_size=2))) for step in steps}
    standing = draw(st.frozensets(st.sampled_from(NAMES), max_size=3))
    demands, anew = (tuple(draw(st.lists(demand, max_size=most))) for most in (5, 1))
    return Problem(choices, demands, anew, steps, again, standing)


def meets(problem: Problem, made: frozenset[str]) -> bool:
    """Whether a set of tests shows everything, said without a program of inequalities."""
    opened = {step for test in made for step in problem.choices[test].steps}
    shown = made if opened else made | problem.standing
    news = [*problem.anew, *(demand for step in opened for demand in problem.again[step])]
    return all(demand & shown for demand in problem.demands) and all(demand & made for demand in news)


@given(problems())
@settings(max_examples=150)
def test_no_set_of_tests_takes_less_time(problem: Problem) -> None:
    names = list(problem.choices)
    every = (frozenset(one) for one in chain.from_iterable(combinations(names, n) for n in range(len(names) + 1)))
    minutes = [problem.minutes(made) for made in every if meets(problem, made)]
    if not minutes:
        with pytest.raises(NoSetError, match="no set of tests meets the demands"):
            least_time(problem)
        return
    found = least_time(problem)
    assert meets(problem, found)
    assert problem.minutes(found) == pytest.approx(min(minutes))
