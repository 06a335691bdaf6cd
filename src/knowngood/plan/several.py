"""Several units on the bench: which one the next hour of hands is best spent on."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from knowngood.plan.choose import Advice, ranked_under
from knowngood.plan.terms import Terms

NUDGE = 1e-3
"""Share by which the price of a minute is raised to see how many minutes a plan takes."""


@dataclass(frozen=True)
class Turn:
    """One unit's next move, and what going on with the unit brings for the hands that it takes."""

    unit: str
    advice: Advice
    currency: str
    gain: float
    """Worth of the first move over that of stopping."""
    minutes: float
    """Hands-on minutes that the job still takes in the mean, selling included."""

    @property
    def per_hour(self) -> float | None:
        """Gain for an hour of hands, beyond what the hour costs; None where hands can do nothing now."""
        return None if self.advice.best.move.kind == "wait" else self.gain / (self.minutes / 60.0)


def turn_of(unit: str, advice: Advice, terms: Terms) -> Turn:
    """A unit's turn under the terms that its advice was given under."""
    gain = max(0.0, advice.best.worth - advice.stop_worth)
    return Turn(unit, advice, terms.currency, gain, max(hands(advice, terms), advice.best.move.minutes, 0.1))


def hands(advice: Advice, terms: Terms) -> float:
    """Hands-on minutes that the plan behind the first move takes in the mean.

    They are what its worth loses when a minute costs a little more (envelope theorem: that the best plan itself shifts
    adds nothing at first order).
    """
    more = NUDGE * max(terms.rate, 0.01)
    dearer = ranked_under(advice.asked, replace(terms, rate=terms.rate + more))
    same = next((one for one in dearer if one.move.log == advice.best.move.log), advice.best)
    return (advice.best.worth - same.worth) / more


def in_order(turns: Iterable[Turn]) -> list[Turn]:
    """The best gain for an hour first; what has to wait last."""
    return sorted(turns, key=lambda one: (one.per_hour is None, -(one.per_hour or 0.0), one.unit))
