"""What a course for every part makes of a unit, takes, and is worth.

    P x (sold working, less what is declared, proved in full and listed)
    + (1 - P) x (the best way out as it is)  -  minutes at the bench's rate  -  money

P is the chance that all that is promised works in the end: exact, from the joint of all faults, with what remedies do
not cure or spoil. The chance that each step of a part's course is needed is exact, too, and so is what its steps take
in the mean.

Estimates: what several parts need together (a step opened and closed, a charge let off, postage) is paid once, with
the chance that any of them needs it as if they were independent. Finding out is paid for each bit, as ``plan.value``
has it. A connection that was disturbed and is left open shows in the try: it costs its remedy and the way to it again.
When a married group is changed, its parts that were fine stay so. Proving shows for certain whether the unit works.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from knowngood.belief.believe import Belief
from knowngood.belief.cases import Effort
from knowngood.belief.menu import Considered
from knowngood.belief.priors import touched
from knowngood.belief.sensing import Measuring
from knowngood.belief.story import Donors
from knowngood.log import events as ev
from knowngood.log.connections import made_by_closing
from knowngood.log.state import Replay
from knowngood.maps.device import Device
from knowngood.maps.words import MISSING
from knowngood.money.choices.courses import CLOSE, KEEP, Course, Taken, courses, once_of, taken
from knowngood.money.choices.options import Decision, Once
from knowngood.money.choices.rules import asked
from knowngood.plan.access import closing_minutes
from knowngood.plan.judge import Judge, try_minutes
from knowngood.plan.terms import Terms
from knowngood.plan.value import CHECK_MINUTES

Array = NDArray[np.float64]
Picked = tuple[int, ...]
"""The course of each decision, in their order."""


@dataclass(frozen=True)
class Whole:
    """One choice for the whole unit. Minutes and money are what it takes in the mean."""

    what: str
    """work, sell, sell-as-is or part-out."""
    courses: tuple[tuple[tuple[str, ...], Course], ...]
    """Parts with what is done about them, but for those that are kept."""
    once: tuple[tuple[Once, float], ...]
    """What is paid once, each with the chance that it is needed."""
    declared: tuple[str, ...]
    works: float
    """Chance that all that is promised works in the end."""
    minutes: float
    """Hands-on until it is proved: finding out, steps, what is paid once, closing, checks."""
    money: float
    worth: float
    cautions: tuple[str, ...] = ()


class Visit:
    """A unit, its decisions, and the functions that are declared."""

    def __init__(
        self,
        device: Device,
        replay: Replay,
        belief: Belief,
        terms: Terms,
        decisions: Sequence[Decision],
        declared: tuple[str, ...] = (),
        *,
        donors: Donors | None = None,
        measuring: Measuring,
        effort: Effort = Effort.CASES,
    ) -> None:
        self.device, self.state, self.belief, self.terms = device, replay.state, belief, terms
        self.decisions, self.declared = tuple(decisions), declared
        self.promised = tuple(name for name in belief.wanted if name not in declared)
        self.asked = asked(device, self.state, terms)
        self.judge = Judge(device, replace(self.state, open_steps=frozenset()), terms, belief)
        self.courses = tuple(tuple(courses(decision)) for decision in decisions)
        self._own = {one.parts[0]: number for number, one in enumerate(decisions) if len(one.parts) == 1}
        self._group = {part: number for number, one in enumerate(decisions) if len(one.parts) > 1 for part in one.parts}
        self._taken: dict[tuple[int, int], Taken] = {}
        deciding = dict.fromkeys(part for decision in decisions for part in decision.parts)
        self._menus = {part: self._menu(part) for part in (*deciding, *(belief.story.empty - deciding.keys()))}
        self._considered = Considered(device, replay, self._menus, donors=donors, measuring=measuring, effort=effort)

    # ---- single parts -----------------------------------------------------------------------------------------------

    def stops(self, part: str) -> NDArray[np.bool_]:
        """Which of a part's states stop what is promised."""
        return self.belief.stopping(self.device.parts[part], self.declared)

    def left(self, part: str) -> Array:
        """What a part is if nothing is done about it: an empty slot stays empty."""
        states = self.device.parts[part].states
        if part not in self.belief.story.empty:
            return np.eye(len(states))
        gone = np.zeros((len(states), len(states)))
        gone[:, states.index(MISSING) if MISSING in states else -1] = 1.0
        return gone

    def bad(self, part: str, act: Array) -> float:
        """Chance that a part stops what is promised after an act on it (``left`` for none), exactly."""
        now = self.belief.slot(self.belief.posterior, self.device.parts[part])[0]
        return float((now @ act)[self.stops(part)].sum())

    def bad_now(self, number: int) -> float:
        """Chance that one of a decision's parts stops what is promised, as it is: their chances together."""
        return sum(self.bad(part, self.left(part)) for part in self.decisions[number].parts)

    def _courses_of(self, part: str, of: Mapping[str, int]) -> tuple[Course, ...]:
        return self.courses[of[part]] if part in of else (KEEP,)

    def _menu(self, part: str) -> Array:
        """What each course of a part makes of it, with each course of its married group after it."""
        stops, start = self.stops(part), self.left(part)
        own = [start @ one.then(part, stops) for one in self._courses_of(part, self._own)]
        group = [one.then(part, stops) for one in self._courses_of(part, self._group)]
        return np.stack([first @ then for first in own for then in group])

    def _rows(self, sets: Sequence[Picked]) -> NDArray[np.intp]:
        """Where in each menu the sets are, shape (sets, menus)."""
        chosen = np.array(sets, dtype=np.intp).reshape(len(sets), len(self.decisions))
        none = np.zeros(len(sets), dtype=np.intp)
        columns = []
        for part in self._menus:
            own = chosen[:, self._own[part]] if part in self._own else none
            group = chosen[:, self._group[part]] if part in self._group else none
            columns.append(own * len(self._courses_of(part, self._group)) + group)
        return np.stack(columns, axis=1) if columns else np.zeros((len(sets), 0), dtype=np.intp)

    # ---- what a set takes -------------------------------------------------------------------------------------------

    def taken(self, number: int, at: int, picked: Picked) -> Taken:
        """What a course of a decision takes; that of a group, after what the set does to its parts."""
        decision, course = self.decisions[number], self.courses[number][at]
        if len(decision.parts) > 1:
            fine = 1.0
            for part in decision.parts:
                own = picked[self._own[part]] if part in self._own else 0
                done = self._courses_of(part, self._own)[own].then(part, self.stops(part))
                fine *= 1.0 - self.bad(part, self.left(part) @ done)
            return taken(course, np.array([1.0 - fine]), self.judge.bit_minutes)
        if (number, at) not in self._taken:
            (part,) = decision.parts
            stops, start = self.stops(part), self.left(part)
            upto = (Course(course.steps[:count], anyway=course.anyway) for count in range(len(course.steps)))
            chances = np.array([self.bad(part, start @ one.then(part, stops)) for one in upto])
            self._taken[number, at] = taken(course, chances, self.judge.bit_minutes)
        return self._taken[number, at]

    @cached_property
    def _all_once(self) -> dict[str, Once]:
        """All that is paid once; drying is paid by every choice, and by no other."""
        found = {id_: one for each in self.courses for course in each for id_, one in once_of(course).items()}
        return {id_: one for id_, one in found.items() if id_ != self.asked.drying.id}

    @cached_property
    def _once_takes(self) -> Array:
        """Minutes and money of each, with what making its connections again takes in the mean, shape (once, 2)."""
        rows = [
            (one.minutes + self._again(dict.fromkeys(one.disturbs, 1.0), one.minutes), one.money)
            for one in self._all_once.values()
        ]
        return np.array(rows).reshape(len(rows), 2)

    def own_takes(self, number: int, at: int, picked: Picked) -> tuple[Array, Array]:
        """What a course takes by itself: minutes and money, (2,), and the chance of each thing that is paid once."""
        own = self.taken(number, at, picked)
        way = max((step.access for step in self.courses[number][at].steps), default=0.0)
        once = np.array([own.once.get(one, 0.0) for one in self._all_once])
        return np.array([own.minutes + self._again(own.disturbs, way), own.money]), once

    @cached_property
    def _tables(self) -> list[tuple[Array, Array]]:
        """By decision what each of its courses takes, (courses, 2) and (courses, once); for a group, if nothing is
        done to its parts."""
        nothing = tuple(0 for _ in self.decisions)
        rows = [[self.own_takes(n, at, nothing) for at in range(len(self.courses[n]))] for n in range(len(nothing))]
        return [(np.stack([own for own, _ in each]), np.stack([once for _, once in each])) for each in rows]

    def takes(self, sets: Sequence[Picked]) -> tuple[Array, Array]:
        """Minutes and money of sets in the mean, (sets, 2), and the chance that each thing paid once is needed,
        (sets, once)."""
        chosen = np.array(sets, dtype=np.intp).reshape(len(sets), len(self.decisions))
        always = closing_minutes(self.device, self.state) + CHECK_MINUTES + self.asked.drying.minutes
        total = np.tile([always + self._again(self._closing, 0.0), 0.0], (len(sets), 1))
        spared = np.ones((len(sets), len(self._all_once)))
        for number, (own, once) in enumerate(self._tables):
            if len(self.decisions[number].parts) == 1:
                total += own[chosen[:, number]]
                spared *= 1.0 - once[chosen[:, number]]
                continue
            for row, picked in enumerate(sets):
                if picked[number]:
                    took, needs = self.own_takes(number, picked[number], picked)
                    total[row] += took
                    spared[row] *= 1.0 - needs
        return total + (1.0 - spared) @ self._once_takes, 1.0 - spared

    @cached_property
    def _closing(self) -> dict[str, float]:
        """Connections that closing what is open makes again."""
        return dict.fromkeys(made_by_closing(self.device, self.state, ev.ALL), 1.0)

    def _again(self, disturbed: Mapping[str, float], way: float) -> float:
        """Minutes in the mean to make connections again that were left open, with the way to them."""
        return sum(chance * self._left_open[name] * (way + self._seating[name]) for name, chance in disturbed.items())

    @cached_property
    def _left_open(self) -> dict[str, float]:
        """For each connection the chance that it is bad once it was made again."""
        drawn = {part.id: touched(part) for part in self.belief.parts if part.is_connection}
        return {
            name: 0.0 if table is None else float(table[0, self.stops(name)].sum()) for name, table in drawn.items()
        }

    @cached_property
    def _seating(self) -> dict[str, float]:
        """Minutes to make a connection again: its shortest remedy that needs no part, and a check."""
        remedies = {
            part.id: [one.minutes for one in part.remedies if not one.part]
            for part in self.belief.parts
            if part.is_connection
        }
        return {name: min(minutes, default=0.0) + CHECK_MINUTES for name, minutes in remedies.items()}

    @cached_property
    def _after(self) -> bool:
        """Whether any step has to wait for a part to be replaced."""
        return any(step.after for each in self.courses for course in each for step in course.steps)

    def forbidden(self, picked: Picked) -> str:
        """The rule that a set breaks; empty if it may be done."""
        if self.asked.barred:
            return self.asked.barred
        chosen = [one[at] for one, at in zip(self.courses, picked, strict=True)]
        replaced = frozenset().union(*(one.replaces for one in chosen))
        first = sorted({part for one in chosen for step in one.steps for part in step.after} - replaced)
        if first:
            return f"{', '.join(first)} has to be replaced first."
        return next((must.why for must in self.asked.musts if not must.met(chosen)), "")

    # ---- what it is worth -------------------------------------------------------------------------------------------

    def worth(self, sets: Sequence[Picked]) -> tuple[Array, Array]:
        """Worth of sets of courses, minus infinity where a rule forbids one, and the chance that it works in the end,
        both (sets,)."""
        works = self._considered.works(self.promised, self._rows(sets))
        took, _ = self.takes(sets)
        brings = self.success + np.array([self._shown(one) for one in sets])
        found = works * brings + (1.0 - works) * self.failure - took[:, 0] * self.terms.rate - took[:, 1]
        free = not (self.asked.barred or self.asked.musts or self._after)
        allowed = np.array([free or not self.forbidden(one) for one in sets], dtype=bool)
        return np.where(allowed, found, -np.inf), works

    def missed(self, sets: Sequence[Picked]) -> float:
        """How far at most a chance to work in the end lies from the true one, of any of these sets."""
        return float(self._considered.missed(self._rows(sets)).max(initial=0.0))

    def worth_by_itself(self, number: int, at: int) -> float:
        """What a course of a decision is worth if all else were fine: against a unit that works."""
        decision, course = self.decisions[number], self.courses[number][at]
        bad = sum(self.bad(part, self.left(part) @ course.then(part, self.stops(part))) for part in decision.parts)
        own, once = (table[at] for table in self._tables[number])
        minutes, money = own + once @ self._once_takes
        return -bad * (self.success - self.failure) - float(minutes * self.terms.rate + money)

    @cached_property
    def success(self) -> float:
        """What a unit brings that works but for what is declared: proved in full, listed."""
        less = sum(one.major for name in self.declared if (one := self.device.functions[name].without))
        minutes = self.terms.list_minutes + sum(try_minutes(self.device, name) for name in self.promised)
        return self.terms.at_price(self.terms.price - less).working - minutes * self.terms.rate

    @cached_property
    def failure(self) -> float:
        """What a unit brings that still does not work, closed."""
        return self.judge.stop

    def _shown(self, picked: Picked) -> float:
        """Worth of what was shown already, where nothing is done to the unit any more."""
        if self.state.open_steps or any(picked):
            return 0.0
        proven = (name for name in self.promised if name in self.state.proven)
        return sum(try_minutes(self.device, name) for name in proven) * self.terms.rate

    def whole(self, picked: Picked, worth: float, works: float) -> Whole:
        ((minutes, money),), (needed,) = self.takes([picked])
        chosen = [(one.parts, each[at]) for one, each, at in zip(self.decisions, self.courses, picked, strict=True)]
        once = [(one, float(chance)) for one, chance in zip(self._all_once.values(), needed, strict=True) if chance]
        if self.asked.drying.id:
            once.append((self.asked.drying, 1.0))
        done = tuple((parts, course) for parts, course in chosen if course.steps)
        warned = [step.cautions for _, course in done for step in course.steps] + [one.cautions for one, _ in once]
        cautions = tuple(dict.fromkeys(caution for each in warned for caution in each))
        return Whole("work", done, tuple(once), self.declared, works, float(minutes), float(money), worth, cautions)

    # ---- which courses are rivals -----------------------------------------------------------------------------------

    def rivals(self, number: int) -> tuple[int, ...]:
        """The courses of a decision that no other one beats in every respect; to keep the part is always one."""
        kept = [0]
        nothing = tuple(0 for _ in self.decisions)
        found = [self.taken(number, at, nothing) for at in range(len(self.courses[number]))]
        for at in range(1, len(found)):
            others = (one for one in range(1, len(found)) if one != at)
            if not any(self._beats(number, one, at, found) for one in others):
                kept.append(at)
        return tuple(kept)

    def _beats(self, number: int, one: int, other: int, found: Sequence[Taken]) -> bool:
        """Whether a course takes no more than another and leaves each part at least as surely fine, whatever it was;
        of two that are alike, the first."""
        mine, theirs = self.courses[number][one], self.courses[number][other]
        if not (theirs.replaces <= mine.replaces and theirs.changes <= mine.changes):
            return False
        if not {part for step in mine.steps for part in step.after} <= {p for step in theirs.steps for p in step.after}:
            return False
        less, more = found[one], found[other]
        cost, limit = (each.minutes * self.terms.rate + each.money for each in (less, more))
        if cost > limit + CLOSE or any(chance > more.once.get(id_, 0.0) + CLOSE for id_, chance in less.once.items()):
            return False
        if any(chance > more.disturbs.get(name, 0.0) + CLOSE for name, chance in less.disturbs.items()):
            return False
        gains = []
        for part in self.decisions[number].parts:
            apart = mine.then(part, self.stops(part)) - theirs.then(part, self.stops(part))
            if (apart[:, 0] < -CLOSE).any() or (apart[:, 1:] > CLOSE).any():
                return False
            gains.append(bool((np.abs(apart) > CLOSE).any()))
        return one < other or any(gains) or cost < limit - CLOSE
