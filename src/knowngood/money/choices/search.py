"""The best choices for a whole unit, with the functions of one set declared.

Every combination of the rival courses of the decisions that matter is tried: those with most to gain by one change, as
many as have at most ``MOST_SETS`` combinations; small devices and units late in their job have no others. The rest are
where single changes have taken them, which is the best as long as they share little with each other.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import product
from math import prod

import numpy as np

from knowngood.money.choices.courses import CLOSE
from knowngood.money.choices.visit import Picked, Visit, Whole

MOST_SETS = 500
"""Combinations that are all tried."""


LIKELY = 0.1
"""From this chance on that a part is bad, something is done about it to begin with."""


class Search:
    """The choices of a visit as far as they were looked at."""

    def __init__(self, visit: Visit) -> None:
        self.visit = visit
        self.known: dict[Picked, tuple[float, float]] = {}
        """Worth, and chance to work in the end."""
        self.missed = 0.0
        """How far at most these chances lie from the true ones."""
        self.rivals = [visit.rivals(number) for number in range(len(visit.decisions))]
        self.matter: frozenset[str] = frozenset()
        """The parts over which every combination was tried."""
        if not visit.asked.barred:
            self._run()

    def look(self, sets: Iterable[Picked]) -> list[float]:
        """The worth of choices; minus infinity where a rule forbids one."""
        wanted = list(sets)
        new = [one for one in dict.fromkeys(wanted) if one not in self.known]
        if new:
            worth, works = self.visit.worth(new)
            self.missed = max(self.missed, self.visit.missed(new))
            self.known.update(zip(new, zip(worth.tolist(), works.tolist(), strict=True), strict=True))
        return [self.known[one][0] for one in wanted]

    def best(self) -> Picked | None:
        """The best that the rules allow."""
        found = max(self.known, key=lambda one: self.known[one][0], default=None)
        return found if found is not None and self.known[found][0] > -np.inf else None

    def wholes(self, most: int) -> list[Whole]:
        """The best, best first."""
        order = sorted(self.known.items(), key=lambda one: -one[1][0])[:most]
        return [self.visit.whole(picked, worth, works) for picked, (worth, works) in order if worth > -np.inf]

    def _run(self) -> None:
        # From keeping everything no single change may help: a unit with many faults needs them all mended.
        starts = [self._at_once(chance) for chance in (1.0, LIKELY, 0.0)]
        best = self._climb(max(starts, key=lambda one: self.look([one])[0]))
        while True:
            then = self._climb(self._every_combination(best))
            if self.look([then])[0] <= self.look([best])[0] + CLOSE:
                return
            best = then

    def _at_once(self, chance: float) -> Picked:
        """What is best by itself done about all that is bad with at least a chance, the rest kept."""
        return tuple(
            max(options, key=lambda at: self.visit.worth_by_itself(number, at))
            if self.visit.bad_now(number) >= chance
            else 0
            for number, options in enumerate(self.rivals)
        )

    def _changed(self, picked: Picked, number: int) -> list[Picked]:
        return [(*picked[:number], at, *picked[number + 1 :]) for at in self.rivals[number] if at != picked[number]]

    def _climb(self, start: Picked) -> Picked:
        """Where single changes lead to: all that help, if they help together, else the best of them."""
        now = start
        while True:
            worth, together, single = self.look([now])[0], list(now), now
            near = [self._changed(now, number) for number in range(len(self.rivals))]
            self.look(one for each in near for one in each)
            for number, each in enumerate(near):
                best = max(each, key=lambda one: self.known[one][0], default=now)
                together[number] = best[number] if self.known[best][0] > worth + CLOSE else now[number]
                single = max(single, best, key=lambda one: self.known[one][0])
            then = max(single, tuple(together), key=lambda one: self.look([one])[0])
            if self.look([then])[0] <= worth + CLOSE:
                return now
            now = then

    def _every_combination(self, best: Picked) -> Picked:
        """The best of all combinations of what matters, the rest as it is in ``best``."""
        chosen = self._that_matter(best)
        self.matter = frozenset(part for number in chosen for part in self.visit.decisions[number].parts)
        sets = list(
            product(*(options if number in chosen else (best[number],) for number, options in enumerate(self.rivals)))
        )
        worths = self.look(sets)
        return sets[int(np.argmax(worths))]

    def _that_matter(self, best: Picked) -> Sequence[int]:
        gains = [max(self.look(self._changed(best, number)), default=-np.inf) for number in range(len(self.rivals))]
        chosen: list[int] = []
        for number in sorted(range(len(gains)), key=lambda one: -gains[one]):
            if prod(len(self.rivals[one]) for one in (*chosen, number)) > MOST_SETS:
                break
            chosen.append(number)
        return chosen
