"""What to do with each part of a unit, and what is best for the whole of it.

What is exact and what is estimated of a choice says ``visit``; over which choices the best is found, ``search``. A part
that stops something with less than ``WORTH_A_LOOK`` is no suspect: it is kept, and its chance counts. Selling the unit
as it is, or its parts, are choices for the whole unit as well, worth what ``plan.exits`` says.

A bought part is as likely to be bad as its kind's base odds say, for the belief says so too once it is fitted. A
donor's part is independent of the others from there.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from knowngood.belief.believe import Belief
from knowngood.belief.cases import Effort
from knowngood.belief.sensing import BY_THE_MAP, Measuring
from knowngood.belief.story import Donors
from knowngood.log.state import Replay
from knowngood.maps.device import Device
from knowngood.money.choices.courses import KEEP, Course
from knowngood.money.choices.options import Offers, Option, Supply, spoiling
from knowngood.money.choices.rules import to_decide
from knowngood.money.choices.search import Search
from knowngood.money.choices.visit import Visit, Whole
from knowngood.plan.exits import exits
from knowngood.plan.terms import Terms

MOST_DECLARED = 8
"""Sets of functions of which it is asked whether to declare them; the smallest first."""


@dataclass(frozen=True)
class Judged:
    """One option of a part or married group; keeping it is an option, too (``option`` is None)."""

    option: Option | None
    works: tuple[float, ...]
    """Chance that each of the parts stops nothing once it was done, exactly."""
    risk: float
    """Chance that it makes the unit worse by itself."""
    course: Course
    """The best course that begins with it."""
    worth: float | None
    """What the unit is worth with that course, all else as in the best choice; None if a hard rule forbids it."""
    chosen: bool
    why_not: str = ""


@dataclass(frozen=True)
class PartChoices:
    """What can be done with a part, or a married group, best first."""

    parts: tuple[str, ...]
    p_blocks: float
    options: tuple[Judged, ...]
    without: tuple[str, ...] = ()
    """Functions to declare to do without it: all that it may stop. Empty where one of them may not be declared."""


@dataclass(frozen=True)
class Choices:
    """Choices for the whole unit, best first, and each part that is a suspect, the most suspect first."""

    wholes: tuple[Whole, ...]
    parts: tuple[PartChoices, ...]
    kept: tuple[str, ...]
    """Parts that are no suspects."""
    matter: tuple[str, ...]
    """The parts over which every combination was tried; over the other suspects, single changes."""
    belief: Belief
    """What the unit is believed to be before anything is done."""
    missed: float
    """How far at most a chance here lies from the true one; 0 where exact tables fit."""
    barred: str = ""
    """The rule by which the unit may not be tried, whatever is done to its parts."""

    @property
    def best(self) -> Whole:
        return self.wholes[0]

    @property
    def margin(self) -> float:
        """By how much the best is better than the next."""
        return self.wholes[0].worth - self.wholes[1].worth


def choices(
    device: Device,
    replay: Replay,
    belief: Belief,
    terms: Terms,
    supply: Supply | None = None,
    *,
    donors: Donors | None = None,
    measuring: Measuring = BY_THE_MAP,
    effort: Effort = Effort.CASES,
    most: int = 3,
) -> Choices:
    """What to do with each part of a unit, and the ``most`` best choices for the whole of it (at least two).

    ``donors``, ``measuring`` and ``effort`` are those of ``belief``. Raises what ``believe`` raises.
    """
    offers = Offers(device, replay.state, terms, belief, supply or Supply())
    decisions = offers.decisions(to_decide(belief, replay.state, terms))
    searches = [
        Search(
            Visit(device, replay, belief, terms, decisions, declared, donors=donors, measuring=measuring, effort=effort)
        )
        for declared in _declarable(belief, terms)
    ]
    first = max(searches, key=lambda one: one.look([best])[0] if (best := one.best()) is not None else -np.inf)
    most = max(2, most)
    found = [*(whole for one in searches for whole in one.wholes(most)), *_ways_out(first.visit)]
    wholes = sorted(found, key=lambda one: -one.worth)[:most]
    known = {part for decision in decisions for part in decision.parts}
    judged = tuple(_judged(first, number, wholes[0]) for number in range(len(decisions)))
    return Choices(
        tuple(wholes),
        judged,
        tuple(part for part in device.parts if part not in known),
        tuple(part for part in device.parts if all(part in one.matter for one in searches)),
        belief,
        max(float(belief.missed()), *(one.missed for one in searches)),
        first.visit.asked.barred,
    )


def _declarable(belief: Belief, terms: Terms) -> list[tuple[str, ...]]:
    """The sets of functions that might be declared: none, and those by which more could be gained than is lost for
    certain. No more can be gained than the chance that something stops only what is declared."""
    prices = {name: one.major for name in belief.wanted if (one := belief.device.functions[name].without)}
    stopped = [each for part in belief.parts for each in belief.stopped_by(part).items()]
    most = terms.working - max(terms.as_is, terms.parts)
    found: list[tuple[str, ...]] = [()]
    for count in range(1, len(prices) + 1):
        for names in combinations(prices, count):
            chance = sum(chance for functions, chance in stopped if functions <= set(names))
            chance += sum(belief.unknown.get(name, 0.0) for name in names)
            if min(1.0, chance) * most > terms.kept * sum(prices[name] for name in names):
                found.append(names)
    return found[:MOST_DECLARED]


def _ways_out(visit: Visit) -> list[Whole]:
    """The ways out as the unit is now, as choices for the whole of it."""
    good = visit.belief.known_good
    return [
        Whole(one.move.kind, (), (), (), good, one.move.minutes, 0.0, one.worth, one.move.cautions)
        for one in exits(visit.device, visit.state, visit.terms, visit.belief)
    ]


def _judged(search: Search, number: int, first: Whole) -> PartChoices:
    """A decision with its options, all else as in the best choice that works on the unit."""
    visit, best = search.visit, search.best()
    decision, courses = visit.decisions[number], visit.courses[number]
    found = []
    for option in (None, *decision.options):
        starting = [at for at, one in enumerate(courses) if (one.steps[0] if one.steps else None) is option]
        starting = [at for at in starting if at in search.rivals[number]] or starting[:2]
        course, worth, why = courses[starting[0]], None, visit.asked.barred
        if best is not None:
            sets = [(*best[:number], at, *best[number + 1 :]) for at in starting]
            worths = search.look(sets)
            at = int(np.argmax(worths))
            course, why = courses[starting[at]], visit.forbidden(sets[at])
            worth = worths[at] if worths[at] > -np.inf else None
        chosen = best is not None and best[number] in starting and first.what == "work"
        found.append(_one(visit, decision.parts, option, course, worth, chosen=chosen, why_not=why))
    found.sort(key=lambda one: (one.worth is None, -(one.worth or 0.0)))
    found += [
        _one(visit, decision.parts, option, KEEP, None, chosen=False, why_not=why) for option, why in decision.held
    ]
    blocks = max(visit.judge.suspects[part].p_blocks for part in decision.parts)
    return PartChoices(decision.parts, blocks, tuple(found), _without(visit, decision.parts))


def _one(
    visit: Visit,
    parts: Sequence[str],
    option: Option | None,
    course: Course,
    worth: float | None,
    *,
    chosen: bool,
    why_not: str,
) -> Judged:
    works = tuple(1.0 - visit.bad(part, option.acts[part] if option else visit.left(part)) for part in parts)
    risk = spoiling(visit.belief, option) if option else 0.0
    return Judged(option, works, risk, course, worth, chosen, why_not)


def _without(visit: Visit, parts: Sequence[str]) -> tuple[str, ...]:
    """The functions to declare to do without these parts."""
    sets = (each for part in parts for each in visit.belief.stopped_by(visit.device.parts[part]))
    stopped = frozenset().union(*sets)
    may = all(visit.device.functions[name].without for name in stopped)
    return tuple(name for name in visit.belief.wanted if name in stopped) if may else ()
