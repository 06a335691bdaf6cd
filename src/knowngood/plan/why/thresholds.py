"""What would change the advice: the figure from which another move comes first.

One figure at a time is moved away from what it is, in steps of a quarter and then by halving, and all moves that were
followed are judged again; the belief and what each outcome would tell stay as they are.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from knowngood.plan.choose import Advice, Ranked, ranked_under
from knowngood.plan.terms import Terms

STEP, MOST_STEPS, HALVINGS = 1.25, 8, 6
"""Each step is a quarter more than the last, up to six times the figure; halving brings it to within half a percent."""

SHORTEST_STEP = 1.0
"""Money or minutes of the first step from a figure of zero."""


@dataclass(frozen=True)
class Threshold:
    """The value of one figure from which another move comes first, or where none was found, how far was looked."""

    of: str
    """hour (what an hour must bring), working (what a working one sells for), minutes or price (of the first move)."""
    now: float
    at: float
    then: Ranked | None
    """What comes first beyond ``at``; None if up to there the advice stays."""


def thresholds(advice: Advice, terms: Terms) -> tuple[Threshold, ...]:
    """The nearest thresholds below and above each figure, those below first. Empty for a way out without a rival."""
    best = advice.best
    more = "price" if best.move.materials else "minutes"
    spent = best.move.materials if more == "price" else best.move.minutes
    figures: list[tuple[str, float, Callable[[float], Terms]]] = [
        ("hour", terms.rate * 60.0, lambda hour: replace(terms, rate=hour / 60.0)),
        ("working", terms.price, terms.at_price),
    ]
    if not best.move.act.ends:
        figures.append((more, spent, lambda value: _with(terms, best, more, value)))
    found = []
    for of, now, at in figures:
        for values in (_falling(now, to_zero=of != "hour"), _rising(now)):
            found.append(_first_change(advice, of, now, values, at))
    return tuple(found)


def _with(terms: Terms, best: Ranked, of: str, value: float) -> Terms:
    move = best.move
    if of == "price":
        return replace(terms, dearer={move.log: value - move.materials})
    return replace(terms, dearer={move.log: (value - move.minutes) * terms.rate})


def _rising(now: float) -> Iterator[float]:
    value = now
    for _ in range(MOST_STEPS):
        value = max(value * STEP, value + (SHORTEST_STEP if now == 0 else 0.0))
        yield value


def _falling(now: float, *, to_zero: bool) -> Iterator[float]:
    value = now
    for _ in range(MOST_STEPS):
        value /= STEP
        yield value
    if to_zero:  # an hour that costs nothing leaves nothing to choose by
        yield 0.0


def _first_change(
    advice: Advice, of: str, now: float, values: Iterator[float], at: Callable[[float], Terms]
) -> Threshold:
    first = advice.best.move.log

    def other(value: float) -> Ranked | None:
        best = ranked_under(advice.asked, at(value), advice.judge)[0]
        return None if best.move.log == first else best

    same = now
    for value in values:
        then = other(value)
        if then is None:
            same = value
            continue
        beyond = value
        for _ in range(HALVINGS):
            middle = 0.5 * (same + beyond)
            if (rival := other(middle)) is None:
                same = middle
            else:
                beyond, then = middle, rival
        return Threshold(of, now, beyond, then)
    return Threshold(of, now, same, None)
