"""Which of several candidates to buy under a budget: the set that gains most, exactly."""

from __future__ import annotations

from collections.abc import Sequence


def best_set(costs: Sequence[int], gains: Sequence[float], budget: int) -> tuple[int, ...]:
    """Places of the candidates in the set of greatest gain that costs no more than the budget, in minor units.

    What gains nothing is left out. All sets are kept that no other beats in cost and gain at once, so the answer is
    exact; there are few of them for a shop's list. Source: G. Nemhauser, Z. Ullmann, Discrete dynamic programming and
    capital allocation, Management Science 15 (1969) [from memory].

    >>> best_set([60, 50, 50], [30.0, 20.0, 20.0], 100)
    (1, 2)
    """
    best: list[tuple[int, float, tuple[int, ...]]] = [(0, 0.0, ())]
    for place, (cost, gain) in enumerate(zip(costs, gains, strict=True)):
        if gain <= 0.0:
            continue
        more = [(spent + cost, got + gain, (*of, place)) for spent, got, of in best if spent + cost <= budget]
        kept: list[tuple[int, float, tuple[int, ...]]] = []
        for one in sorted([*best, *more], key=lambda one: (one[0], -one[1])):
            if not kept or one[1] > kept[-1][1]:
                kept.append(one)
        best = kept
    return best[-1][2]
