"""One candidate's bid, better with every batch: what it brings, the most to pay, and at the end what to ask."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from knowngood.errors import TooLargeError
from knowngood.handbook.intervals import Interval
from knowngood.handbook.quantities import Money
from knowngood.money.bid.asking import Asking, askings
from knowngood.money.bid.drawing import Case, Progress, outcomes
from knowngood.money.bid.exact import Courses, exact_askings
from knowngood.money.bid.most import Most, Wish, chance_of_loss, gain, most_to_pay
from knowngood.money.bid.outcome import Outcome
from knowngood.money.expectation import Expectation
from knowngood.plan.spread import Spread, here


@dataclass(frozen=True)
class Priced:
    """What is known so far of a candidate."""

    outcome: Outcome
    most: Most
    wish: Wish
    asking: Money
    progress: Progress | None = None
    """The draws; None where every course was listed."""
    asked: tuple[Asking, ...] | None = None
    """What each question to the seller is worth, where every course after each of its answers was listed, too."""

    @property
    def gain(self) -> Expectation:
        """What it leaves on average at the asking price."""
        return gain(self.outcome, self.wish, self.asking)

    @property
    def loss(self) -> Interval:
        """Chance that it brings less than it costs at the asking price."""
        return chance_of_loss(self.outcome, self.wish, self.asking)

    @property
    def worth_it(self) -> bool:
        """Whether the asking price is no more than the most to pay."""
        return self.asking.minor <= self.most.pay.minor

    def askings(self, case: Case) -> tuple[Asking, ...]:
        """Every question to the seller with its worth for the decision to buy at the asking price, the best first."""
        if self.asked is not None:
            return self.asked
        return askings(case, self.progress, *self.scale) if self.progress else ()

    @property
    def scale(self) -> tuple[float, float]:
        """Buying leaves the first times what a unit brings, less the second."""
        keeps = 1.0 - self.wish.shade if self.outcome.net.mean > 0.0 else 1.0
        return keeps, self.asking.major + self.wish.inward.major + self.wish.margin.major


def priced(case: Case, wish: Wish, asking: Money, *, units: int, pairs: int, spread: Spread = here) -> Iterator[Priced]:
    """The bid after each batch of drawn units; at once and exact where every course of the job can be listed."""
    courses = Courses(case)
    try:
        found = courses.outcome(case.told)
    except TooLargeError:
        for progress in outcomes(case, units, pairs, spread):
            drawn = progress.outcome
            yield Priced(drawn, most_to_pay(drawn, wish), wish, asking, progress)
        return
    exact = Priced(found, most_to_pay(found, wish), wish, asking)
    try:
        exact = replace(exact, asked=exact_askings(courses, *exact.scale))
    except TooLargeError:  # the answers lead to more courses than the listing alone: what they are worth is drawn
        for progress in outcomes(case, units, pairs, spread):
            yield replace(exact, progress=progress)
    else:
        yield exact
