"""Courses: what is done about a part, step by step, until it works, and what that comes to.

A course is done in any case, or only if the part proves bad; then it has to be found out first, at a price for each
bit (``plan.value``). Its first step mends the part where it is or puts another in; after a mend that did not help, one
from elsewhere may follow. No step is a course as well: the part is kept, whatever it is.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from knowngood.money.choices.options import MEND, Decision, Once, Option
from knowngood.plan.value import CHECK_MINUTES, bits_of

Array = NDArray[np.float64]
CLOSE = 1e-9


@dataclass(frozen=True)
class Course:
    """What is done about a part or a married group."""

    steps: tuple[Option, ...] = ()
    anyway: bool = False
    """Whether its first step is done in any case."""

    def then(self, part: str, stops: NDArray[np.bool_]) -> Array:
        """What it makes of a part's states, shape (states before, states after). ``stops``: those that are bad."""
        made = np.eye(len(stops))
        for number, step in enumerate(self.steps):
            act = step.acts[part]
            made = made @ (act if self.anyway and number == 0 else np.where(stops[:, None], act, np.eye(len(stops))))
        return made

    @property
    def replaces(self) -> frozenset[str]:
        """Parts that it replaces for certain."""
        return self.steps[0].replaces if self.anyway else frozenset()

    @property
    def changes(self) -> frozenset[str]:
        """Parts that it works on for certain."""
        return frozenset(self.steps[0].acts) if self.anyway else frozenset()


KEEP = Course()


@dataclass(frozen=True)
class Taken:
    """What a course takes in the mean."""

    minutes: float
    """Hands-on, finding out and a check after each step among them; what is paid once is not."""
    money: float
    once: Mapping[str, float]
    """Chance that it needs each thing that is paid once."""
    disturbs: Mapping[str, float]
    """Chance that its steps disturb each connection, without what is paid once."""


def courses(decision: Decision) -> Iterator[Course]:
    """Every course that a decision has, the one that keeps the part first."""
    yield KEEP
    mends = [option for option in decision.options if option.kind == MEND]
    others = [option for option in decision.options if option.kind != MEND]
    runs = [(one,) for one in decision.options] + [(mend, other) for mend in mends for other in others]
    for steps in runs:
        yield Course(steps, anyway=True)
        yield Course(steps)


def taken(course: Course, bad: Array, bit_minutes: float) -> Taken:
    """What a course takes in the mean. ``bad``: the chance that the part is still bad before each step, (steps,)."""
    if not course.steps:
        return Taken(0.0, 0.0, {}, {})
    needed = np.array([1.0 if course.anyway and number == 0 else chance for number, chance in enumerate(bad)])
    finding = 0.0 if course.anyway else float(bits_of(bad[:1]).sum()) * bit_minutes
    minutes = finding + sum(u * (step.minutes + CHECK_MINUTES) for u, step in zip(needed, course.steps, strict=True))
    money = sum(u * step.money for u, step in zip(needed, course.steps, strict=True))
    once: dict[str, float] = {}
    disturbs: dict[str, float] = {}
    for chance, step in zip(needed.tolist(), course.steps, strict=True):
        for one in step.once:
            once[one.id] = max(once.get(one.id, 0.0), chance)
        for name in step.disturbs:
            disturbs[name] = max(disturbs.get(name, 0.0), chance)
    return Taken(float(minutes), float(money), once, disturbs)


def once_of(course: Course) -> dict[str, Once]:
    return {one.id: one for step in course.steps for one in step.once}
