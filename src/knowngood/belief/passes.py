"""How likely some lines of tests are, and how likely all that is wanted is good given them: many sets of lines at once.

One network, compiled for all the lines, answers every set of them: a set is evidence. So a run of tests that is only
planned is followed step by step, in any order, at the price of one belief.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence

import numpy as np

from knowngood.belief.believe import Belief
from knowngood.belief.evidence import Batch, Evidence, Vector, both
from knowngood.belief.surprise import together


def likelihoods(belief: Belief, sets: Sequence[Collection[int]], among: Collection[int]) -> Vector:
    """For each set of lines the chance of it and of all lines not ``among`` these, (sets,), up to one common factor."""
    return np.exp(belief.network.log_evidence(_rows(belief, sets, among)) - belief.log_evidence)


def known_good(belief: Belief, sets: Sequence[Collection[int]], among: Collection[int]) -> Vector:
    """For each set of lines the chance that all that is wanted is good, given it and all lines not ``among`` these,
    (sets,)."""
    rows = _rows(belief, sets, among)
    good = both(rows, belief.when_all_good(belief.wanted))
    found: Vector = np.exp(belief.network.log_evidence(good) - belief.network.log_evidence(rows))
    return found


def missed(belief: Belief, sets: Sequence[Collection[int]], among: Collection[int]) -> Vector:
    """For each set of lines how far at most chances given it and all lines not ``among`` these lie from the true ones,
    (sets,). The belief must know that these lines are planned."""
    if belief.part is None:
        return np.zeros(len(sets))
    return belief.missed_in(belief.network.log_evidence(_rows(belief, sets, among)))


def _rows(belief: Belief, sets: Sequence[Collection[int]], among: Collection[int]) -> Evidence:
    """One row of evidence for each set."""
    planned = frozenset(among)
    always = [one for one in belief.weights if not planned.intersection(one.lines)]
    batch = Batch(together(always), len(sets), belief.network.states)
    known = {(one.lines, one.variable) for one in always}
    for row, kept in enumerate(sets):
        for one in belief.gather(planned.difference(kept)):
            if (one.lines, one.variable) not in known:
                batch.multiply(row, one.variable, one.values)
    return batch.rows
