"""What large tables cannot hold, found before they are made.

A table made of what is below it alone holds many rows that the tables above rule out later: on a log of 105 lines ten
times as many. So relations are sent up and down the tree first, as far as small joins tell them (mini-buckets, as in R.
Dechter, I. Rish, Mini-buckets: a general scheme for bounded inference, 2003, of relations). What they leave out is
impossible; not all that is impossible is left out.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import prod

import numpy as np

from knowngood.belief.elimination import Plan
from knowngood.belief.relations import Codes, Relation, Scope, pair, where
from knowngood.errors import TooLargeError

LARGEST = 2**16
"""Rows of a join that is made for this."""


def from_above(
    plan: Plan,
    states: Mapping[str, int],
    own: Mapping[int, Sequence[Relation]],
    known: Mapping[int, Codes],
) -> dict[int, list[Relation]]:
    """For each clique that is too large to be made of what is below it alone, relations over its separator that hold in
    every possible assignment.

    ``own`` are the relations of the factors of these cliques, ``known`` the separator assignments of all others.
    """
    children = plan.children
    up: dict[int, list[Relation]] = {}
    for i, clique in enumerate(plan.cliques):
        if i in own:
            below = (one for child in children[i] for one in up[child])
            up[i] = _narrowed([*own[i], *below], clique.separator, states)
        elif clique.parent in own:
            up[i] = _relation(known[i], clique.separator, states)
    down: dict[int, list[Relation]] = {}
    for i in reversed(range(len(plan.cliques))):
        for child in children[i] if i in own else ():
            beside = (one for other in children[i] if other != child for one in up[other])
            if child in own:
                down[child] = _narrowed([*down.get(i, ()), *own[i], *beside], plan.cliques[child].separator, states)
    return down


def _relation(codes: Codes, scope: Scope, states: Mapping[str, int]) -> list[Relation]:
    """What assignments of a scope say, if anything."""
    counts = [states[v] for v in scope]
    return [where(scope, np.unravel_index(codes, counts))] if len(codes) < prod(counts) else []


def _narrowed(relations: Sequence[Relation], scope: Scope, states: Mapping[str, int]) -> list[Relation]:
    """What relations say of a scope, as far as joins of at most ``LARGEST`` rows tell; one that allows all says
    nothing."""
    telling = [one for one in relations if one.size < prod(states[v] for v in one.columns)]
    waiting = sorted(telling, key=lambda one: one.size)
    found = []
    while waiting:
        joined = waiting.pop(0)
        tried: list[Relation] = []
        while near := [
            one for one in waiting if one not in tried and not joined.columns.keys().isdisjoint(one.columns)
        ]:
            one = min(near, key=lambda other: (len(other.columns.keys() - joined.columns.keys()), other.size))
            tried.append(one)
            try:
                joined = pair(joined, one, states, LARGEST)
            except TooLargeError:
                continue
            waiting.remove(one)
        kept = tuple(v for v in scope if v in joined.columns)
        if kept:
            found += _relation(np.unique(joined.codes(kept, states)), kept, states)
    return found
