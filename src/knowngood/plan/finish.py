"""The chance that following the plan ends in a unit that works and was proved to.

It is the chance that the estimate holds by which the first move is ranked (``plan.value``), so worth and chance are of
one plan. It is exact where nothing is left but to sell. Else what later tests and looks would change is in it only as
far as the estimate knows of them, several faults count as independent, and a later decision to stop is not foreseen: it
is the chance if the job is seen through, and its words say "at best". Rehearsed on drawn units of a small map it lay
within about a tenth of what came (``tests/plan/test_finish.py``), so it is said in tenths; of eight projectors that
fell, 0.6 was said at first and two came to their end as working, as the plan stopped early with the others.
"""

from __future__ import annotations

from dataclasses import dataclass

from knowngood.handbook.quantities import percent
from knowngood.plan.choose import Advice

SURE = 0.95
"""Chances nearer to 0 or 1 than this are not said in tenths."""


@dataclass(frozen=True)
class Finish:
    """How probably a unit comes to its end as working, by the plan behind the first move."""

    chance: float
    exact: bool
    """Whether it is as exact as the belief; else an estimate."""
    stops: bool
    """The plan is to stop now; ``chance`` is then what going on would have, by its best move."""
    possible: bool = True
    """Whether there is anything to go on with."""

    @property
    def words(self) -> str:
        """It in words."""
        if not self.possible:
            return "none: nothing is left to do"
        if self.exact:
            return percent(self.chance)
        at_best = f"{about(self.chance)} at best"
        return f"none by stopping; {at_best}" if self.stops else at_best


def about(chance: float) -> str:
    """A chance that is estimated, in tenths."""
    if chance > SURE:
        return "more than 19 in 20"
    if chance < 1.0 - SURE:
        return "less than 1 in 20"
    return f"about {max(1, min(9, round(10.0 * chance)))} in 10"


def finish(advice: Advice, *, going_on: bool = False) -> Finish:
    """The chance to finish, of what is proposed; ``going_on`` where the person goes on though stopping came first."""
    best = advice.best
    if best.move.kind == "sell":
        return Finish(best.finishes, exact=advice.belief.part is None, stops=False)
    if not best.move.act.ends:
        return Finish(best.finishes, exact=False, stops=False)
    on = next((one for one in advice.ranked if not one.move.act.ends), None)
    return Finish(on.finishes if on else 0.0, exact=False, stops=not (going_on and on), possible=on is not None)
