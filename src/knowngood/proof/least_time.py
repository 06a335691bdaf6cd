"""Which tests to make: the set of least hands-on time that shows all that is to be shown, exactly.

Variables, all 0 or 1: ``made`` for each test, ``open`` for each access step, ``stands`` for each test that has passed
already, ``acts`` once for the unit. Least: minutes of the tests made and of the steps opened (closing in it), so that

- *shown*: of the tests that show a demand at least one is made, or stands;
- *anew*: of the tests that show a demand which what passed before does not meet, at least one is made;
- *way*: a test is made only if each step on its way is open, a step opened once serves all tests behind it;
- *again*: a step that is opened brings demands of its own: what closing it makes anew has to be shown;
- *stands*: a test that passed before stands only if nothing is opened, for opening is an act on the unit.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

Demanded = frozenset[str]
"""The tests of which one at least has to pass."""


@dataclass(frozen=True)
class Choice:
    """A test that could be made: its own hands-on minutes, and the steps still closed on the way to it."""

    minutes: float
    steps: tuple[str, ...] = ()


@dataclass(frozen=True)
class Problem:
    """What is to be shown, by which tests, at what cost."""

    choices: Mapping[str, Choice]
    demands: tuple[Demanded, ...]
    anew: tuple[Demanded, ...] = ()
    """Demands that no test meets which passed before."""
    steps: Mapping[str, float] = field(default_factory=dict)
    """Minutes to open and close each step that is closed now."""
    again: Mapping[str, tuple[Demanded, ...]] = field(default_factory=dict)
    """By step the demands that opening it brings."""
    standing: frozenset[str] = frozenset()
    """Tests that have passed, as long as no step is opened."""

    def minutes(self, made: frozenset[str]) -> float:
        """Hands-on time of a set of tests."""
        opened = {step for test in made for step in self.choices[test].steps}
        return sum(self.choices[test].minutes for test in made) + sum(self.steps[step] for step in opened)


class NoSetError(ValueError):
    """No set of tests meets the demands."""


def least_time(problem: Problem) -> frozenset[str]:
    """The set of tests of least time that meets every demand, proved to be so. Raises NoSetError if there is none."""
    from scipy.optimize import Bounds, LinearConstraint, milp

    tests, steps, standing = list(problem.choices), list(problem.steps), sorted(problem.standing)
    names = [*(("made", one) for one in tests), *(("open", one) for one in steps)]
    names += [*(("stands", one) for one in standing), ("acts", "")]
    place = {name: column for column, name in enumerate(names)}
    rows: list[dict[int, float]] = []
    least: list[float] = []

    def at_least(bound: float, *terms: tuple[float, tuple[str, str]]) -> None:
        rows.append({place[name]: weight for weight, name in terms})
        least.append(bound)

    def showing(demand: Demanded, *, standing_too: bool) -> list[tuple[float, tuple[str, str]]]:
        kinds = ("made", "stands") if standing_too else ("made",)
        return [(1.0, (kind, one)) for one in sorted(demand) for kind in kinds if (kind, one) in place]

    for demand in problem.demands:
        at_least(1.0, *showing(demand, standing_too=True))
    for demand in problem.anew:
        at_least(1.0, *showing(demand, standing_too=False))
    for test, choice in problem.choices.items():
        for step in choice.steps:
            at_least(0.0, (1.0, ("open", step)), (-1.0, ("made", test)))
    for step in steps:
        at_least(0.0, (1.0, ("acts", "")), (-1.0, ("open", step)))
        for demand in problem.again.get(step, ()):
            at_least(0.0, *showing(demand, standing_too=False), (-1.0, ("open", step)))
    for one in standing:
        at_least(-1.0, (-1.0, ("stands", one)), (-1.0, ("acts", "")))
    cost = np.zeros(len(names))
    for test in tests:
        cost[place["made", test]] = problem.choices[test].minutes
    for step in steps:
        cost[place["open", step]] = problem.steps[step]
    if not rows:
        return frozenset()
    matrix = np.zeros((len(rows), len(names)))
    for row, terms in enumerate(rows):
        matrix[row, list(terms)] = list(terms.values())
    found = milp(
        cost,
        constraints=LinearConstraint(matrix, np.array(least), np.inf),
        integrality=np.ones(len(names)),
        bounds=Bounds(0.0, 1.0),
        options={"mip_rel_gap": 0.0},
    )
    if found.x is None:
        raise NoSetError("no set of tests meets the demands")
    return frozenset(test for test in tests if found.x[place["made", test]] > 0.5)
