"""In which order to try what may help, if exactly one thing is wrong: the classic rule and its exact cost.

Sources: J. Kalagnanam, M. Henrion, A comparison of decision analysis and expert rules for sequential diagnosis, UAI
1988 (arXiv 1304.2362); D. Heckerman, J. Breese, K. Rommelse, Decision-theoretic troubleshooting, CACM 38(3) 1995; for
independent chances L. Mitten, An analytic solution to the least cost testing sequence problem, J. Industrial
Engineering 11 (1960).
"""

from __future__ import annotations

from collections.abc import Sequence


def by_ratio(chances: Sequence[float], costs: Sequence[float]) -> tuple[int, ...]:
    """Indices by chance over cost, the largest first: the order of least expected cost. What costs nothing is first.

    >>> by_ratio([0.50, 0.30, 0.15, 0.05], [10, 2, 5, 1])
    (1, 0, 3, 2)
    """

    def ratio(index: int) -> float:
        return chances[index] / costs[index] if costs[index] else float("inf")

    return tuple(sorted(range(len(chances)), key=ratio, reverse=True))


def expected_cost(
    order: Sequence[int], chances: Sequence[float], costs: Sequence[float], *, one_fault: bool = True
) -> float:
    """Sum over the steps of the chance that it is not over before the step, times its cost.

    With ``one_fault`` at most one of them ends it, and the chances sum to at most one; else each may end it by itself,
    whatever the others do. The check after each step is free (or part of its cost).

    >>> round(expected_cost([1, 0, 3, 2], [0.50, 0.30, 0.15, 0.05], [10, 2, 5, 1]), 10)  # 2 + .70 10 + .20 1 + .15 5
    9.95
    """
    total, going_on = 0.0, 1.0
    for index in order:
        total += going_on * costs[index]
        going_on = going_on - chances[index] if one_fault else going_on * (1.0 - chances[index])
    return total
