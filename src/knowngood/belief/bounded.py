"""Posteriors between bounds, where the exact tables of a network would be too large.

Some variables are cut out, so that the rest of the network fits once their states are given (J. Pearl, Probabilistic
reasoning in intelligent systems, 1988, section 4.4.2). Their joint states, the *cases*, are enumerated best first, and
each is worked out exactly. What is not enumerated is bounded from above by mini-buckets (R. Dechter, I. Rish,
Mini-buckets: a general scheme for bounded inference, 2003; as the guide of a search: K. Kask, R. Dechter, 2001). So
each posterior is known to lie in an interval, and the more cases are worked out the narrower it gets.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from heapq import heappop, heappush
from math import exp, prod
from typing import Any

import numpy as np
from numpy.typing import NDArray

from knowngood.belief.cases import cut as cut_out
from knowngood.belief.cases import given as given_case
from knowngood.belief.network import FactorNetwork
from knowngood.belief.relations import Scope
from knowngood.belief.support import Array, Factor

PIECE = 2**20
"""Entries, impossible ones counted, that a table may have once the states of the cut are given."""

MINI_BUCKET = 2**18
"""Entries that a table of the bound may hold; more make the bound tighter."""

SLACK = 1e-9
"""Share by which the bound is raised, for its own roundings."""

States = Mapping[str, int]
Case = dict[str, int]


@dataclass(frozen=True)
class Bounded:
    """``low[v]`` and ``high[v]`` (states,) enclose the posterior of each variable.

    ``missed`` is an upper bound of the share of all weight that lies in cases not worked out, 0 when all were. ``cut``
    are the variables whose joint states are the cases, and ``cases`` those that were worked out and are possible, with
    their weights over that of all of these, greatest first.
    """

    low: dict[str, Array]
    high: dict[str, Array]
    missed: float
    cut: tuple[str, ...]
    cases: list[tuple[Case, float]]


def bounded_posteriors(
    states: States,
    factors: Sequence[tuple[Scope, NDArray[Any]]],
    evidence: Mapping[str, NDArray[Any]],
    *,
    cases: int = 100,
    enough: float = 1e-3,
    piece: int = PIECE,
    mini_bucket: int = MINI_BUCKET,
) -> Bounded:
    """Intervals for all posteriors: at most so many cases are worked out, fewer if not more than the share ``enough``
    of all weight is missed.

    ``states`` and ``factors`` are those of a ``FactorNetwork``, ``evidence`` is one row (states,) for each variable.
    Raises ValueError where nothing possible was found, TooLargeError where a case does not fit either.
    """
    known = [(tuple(scope), np.asarray(table, np.float64)) for scope, table in factors]
    known += [((v,), np.asarray(weights, np.float64).reshape(states[v])) for v, weights in evidence.items()]
    cut, rest = cut_out(states, [scope for scope, _ in known], piece)
    with np.errstate(divide="ignore"):
        guide = _Guide(states, [(scope, np.log(table)) for scope, table in known], [*cut, *rest], mini_bucket)
    weight, worked_out = 0.0, 0
    by_state = {v: np.zeros(n) for v, n in states.items()}
    found: list[tuple[Case, float]] = []
    waiting: list[tuple[float, tuple[int, ...]]] = [(-guide.root, ())]
    missed = 1.0
    while waiting and guide.root > -np.inf and missed > enough * (weight + missed):
        if weight and worked_out >= cases:
            break
        bound, given = heappop(waiting)
        if len(given) < len(cut):
            for state, below in enumerate(guide.children(given, -bound)):
                if below > -np.inf:
                    heappush(waiting, (-below, (*given, state)))
        else:
            case = dict(zip(cut, given, strict=True))
            worked_out += 1
            log_weight, posteriors = _worked_out(states, known, case)
            if log_weight > -np.inf:
                share = exp(log_weight - guide.root)
                weight += share
                found.append((case, share))
                for v, table in posteriors.items():
                    by_state[v] += share * table
        missed = sum(exp(-one - guide.root) for one, _ in waiting) * (1.0 + SLACK)
    if not weight:
        raise ValueError("nothing possible was found; the evidence may contradict itself")
    most = weight + missed
    return Bounded(
        {v: table / most for v, table in by_state.items()},
        {v: (table + missed) / most for v, table in by_state.items()},
        missed / most,
        cut,
        sorted(((case, share / weight) for case, share in found), key=lambda one: -one[1]),
    )


def _worked_out(states: States, factors: Sequence[Factor], case: Case) -> tuple[float, dict[str, Array]]:
    """The log of a case's weight, and all posteriors in it."""
    left = {v: n for v, n in states.items() if v not in case}
    found = FactorNetwork(left, given_case(factors, case)).posteriors()
    posteriors = {v: found[v][0] for v in left}
    posteriors |= {v: np.eye(states[v])[state] for v, state in case.items()}
    return float(found.log_evidence[0]), posteriors


class _Guide:
    """An upper bound of the weight of all that agrees with some states of the first few variables, as logarithms.

    Each variable has a bucket: the tables in which it is the last one in the order. From the last bucket to the first,
    each sends what it says of the variables before; a bound is what the buckets so far hold, with what came from later
    ones, but without what they sent to each other.
    """

    def __init__(self, states: States, logs: Sequence[Factor], order: list[str], limit: int) -> None:
        self._states, self._order = states, order
        self._place = {v: n for n, v in enumerate(order)}
        self._buckets: list[list[Factor]] = [[] for _ in order]
        self._sent: list[list[Factor]] = [[] for _ in order]
        self.root = 0.0
        """The log of the bound of everything."""
        for scope, table in logs:
            self._send(scope, table)
        for n in reversed(range(len(order))):
            self._sent[n] = self._messages(self._buckets[n], order[n], limit)
            for scope, table in self._sent[n]:
                self._send(scope, table)

    def _send(self, scope: Scope, table: Array) -> None:
        if scope:
            self._buckets[max(self._place[v] for v in scope)].append((scope, table))
        else:
            self.root += float(table)

    def _messages(self, bucket: list[Factor], v: str, limit: int) -> list[Factor]:
        """What a bucket says of the variables before: its tables in as few products as the limit allows; ``v`` is
        summed out of the largest, and its greatest entry taken in the others."""
        groups: list[tuple[set[str], list[Factor]]] = []
        for scope, table in sorted(bucket, key=lambda one: -one[1].size):
            for variables, members in groups:
                if prod(self._states[w] for w in variables.union(scope)) <= limit:
                    variables.update(scope)
                    members.append((scope, table))
                    break
            else:
                groups.append((set(scope), [(scope, table)]))
        if not groups:
            return [((), np.log(np.float64(self._states[v])).reshape(()))]
        messages: list[Factor] = []
        for variables, members in groups:
            scope = (v, *sorted(variables - {v}, key=self._place.__getitem__))
            product = np.zeros([self._states[w] for w in scope])
            for one, table in members:
                product += _aligned(one, table, scope)
            messages.append((scope[1:], product.max(axis=0) if messages else np.logaddexp.reduce(product, axis=0)))
        return messages

    def children(self, given: tuple[int, ...], bound: float) -> Array:
        """The bounds with the next variable in each of its states, given those before and their bound; (states,)."""
        for scope, logs in self._sent[len(given)]:  # not -inf here, for the bound so far holds it
            bound -= float(logs[tuple(given[self._place[v]] for v in scope)])
        bounds = np.full(self._states[self._order[len(given)]], bound)
        for scope, logs in self._buckets[len(given)]:
            at = (given[self._place[v]] if self._place[v] < len(given) else slice(None) for v in scope)
            bounds += logs[tuple(at)]
        return bounds


def _aligned(scope: Scope, table: Array, wanted: Scope) -> Array:
    """A table turned and stretched so that it broadcasts over other variables too."""
    turned = table.transpose(sorted(range(len(scope)), key=lambda n: wanted.index(scope[n])))
    sizes = dict(zip(scope, table.shape, strict=True))
    return turned.reshape([sizes.get(v, 1) for v in wanted])
