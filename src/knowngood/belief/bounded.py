"""Posteriors between bounds, where the exact tables of a network would be too large.

Some variables are cut out, so that the rest of the network fits once their states are given (J. Pearl, Probabilistic
reasoning in intelligent systems, 1988, section 4.4.2). Their joint states, the *cases*, are enumerated best first, and
each is worked out exactly. What is not enumerated is bounded from above by mini-buckets (R. Dechter, I. Rish,
Mini-buckets: a general scheme for bounded inference, 2003; as the guide of a search: K. Kask, R. Dechter, 2001). So
each posterior is known to lie in an interval, and the more cases are worked out the narrower it gets.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from heapq import heappop, heappush
from math import exp, prod
from math import log as log_of
from typing import Any

import numpy as np
from numpy.typing import NDArray

from knowngood.belief.cases import MOST_ENTRIES, PIECES, Factors, SplitNetwork, cut, fixed, given
from knowngood.belief.network import LARGEST_TABLE, FactorNetwork
from knowngood.belief.relations import Scope
from knowngood.belief.support import Array, Factor
from knowngood.errors import ContradictionError, TooLargeError

LEAST = 6
"""Cases that must fit together at least; where they are larger, more is cut out."""

MINI_BUCKET = 2**18
"""Entries that a table of the bound may hold; more make the bound tighter."""

SLACK = 1e-9
"""Share by which the bound is raised, for its own roundings."""

ENOUGH = 1e-3
"""Share of all weight that may be missed where more cases could still be worked out."""

MOST = 100
"""Cases that are worked out at most."""

States = Mapping[str, int]
Case = dict[str, int]


class PartialNetwork(SplitNetwork):
    """A network by the likeliest cases of the variables ``split``, given some evidence.

    What it answers is as if no other case were possible. Under that evidence, and under any that weighs nothing more,
    the cases left out weigh at most exp(``log_missed``) together, so a chance lies within ``missed_in`` of the one it
    gives. ``too_large`` says which table did not fit.
    """

    def __init__(
        self,
        states: States,
        factors: Factors,
        evidence: Mapping[str, NDArray[Any]],
        too_large: TooLargeError,
        *,
        cases: int = MOST,
        enough: float = ENOUGH,
        pieces: Sequence[int] = PIECES,
        mini_bucket: int = MINI_BUCKET,
        largest_table: int = LARGEST_TABLE,
    ) -> None:
        """Works out at most so many ``cases``, fewer if not more than the share ``enough`` of all weight is missed.

        ``evidence`` is one row (states,) for each variable. A case is cut to the first of the ``pieces`` (entries of a
        table, impossible ones counted) that lets it fit. Raises TooLargeError where none does, and where no possible
        case is among those worked out; ContradictionError where there is none.
        """
        self.states = dict(states)
        self.too_large = too_large
        self._largest = largest_table
        self._factors: list[Factor] = [(tuple(scope), np.asarray(table, np.float64)) for scope, table in factors]
        said = [((v,), np.asarray(weights, np.float64).reshape(states[v])) for v, weights in evidence.items()]
        with np.errstate(divide="ignore"):
            logs = [(scope, np.log(table)) for scope, table in (*self._factors, *said)]
        for piece in pieces:
            self.split, rest = cut(states, [scope for scope, _ in self._factors], piece)
            if not self.split:
                continue
            guide = _Guide(states, logs, [*self.split, *rest], mini_bucket)
            try:
                return self._find(guide, evidence, cases, enough)
            except TooLargeError:
                if piece == pieces[-1] or guide.root == -np.inf:
                    raise
        raise too_large

    def _find(self, guide: _Guide, evidence: Mapping[str, NDArray[Any]], most: int, enough: float) -> None:
        """Works out the cases, the likeliest first by the bound of the guide."""
        self.entries = 0
        self.cases: list[FactorNetwork] = []
        waiting: list[tuple[float, tuple[int, ...]]] = [(-guide.root, ())] if guide.root > -np.inf else []
        weight, worked_out = 0.0, 0
        missed = 1.0 if waiting else 0.0
        while waiting and missed > enough * (weight + missed) and worked_out < most and self.entries < MOST_ENTRIES:
            bound, fixed_so_far = heappop(waiting)
            if len(fixed_so_far) < len(self.split):
                for state, below in enumerate(guide.children(fixed_so_far, -bound)):
                    if below > -np.inf:
                        heappush(waiting, (-below, (*fixed_so_far, state)))
            else:
                worked_out += 1
                one = self._case(dict(zip(self.split, fixed_so_far, strict=True)))
                log = float(one.log_evidence(evidence)[0])
                if log > -np.inf:
                    self.entries += one.entries
                    self.cases.append(one)
                    self.plan, self.possible = one.plan, True
                    weight += exp(log - guide.root)
            missed = sum(exp(-one - guide.root) for one, _ in waiting) * (1.0 + SLACK)
        self.log_missed = guide.root + log_of(missed) if missed else -np.inf
        if not self.cases and not missed:
            raise ContradictionError(
                f"The lines of this log cannot all be true on this map. Which of them: {self.too_large}", []
            )
        if not self.cases:
            why = f"{self.too_large}; of its cases {worked_out} were worked out, and none is possible"
            raise TooLargeError(why, self.too_large.entries)

    def _case(self, case: Case) -> FactorNetwork:
        factors = [*given(self._factors, case), *fixed(self.states, case)]
        one = FactorNetwork(self.states, factors, largest_table=self._largest)
        if one.entries * LEAST > MOST_ENTRIES:
            raise TooLargeError(f"a case holds {one.entries} entries", one.entries)
        return one

    def missed_in(self, log_evidence: Array) -> Array:
        """An upper bound of the share of a row's weight that lies in cases left out, from the row's log evidence."""
        with np.errstate(over="ignore"):
            return np.asarray(1.0 / (1.0 + np.exp(np.asarray(log_evidence) - self.log_missed)))


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
