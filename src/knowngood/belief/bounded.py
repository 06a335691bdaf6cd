"""Posteriors between bounds, where the exact tables of a network would be too large.

Joint explanations (states of all fault variables) are enumerated best first. What is not enumerated is bounded from
above by mini-buckets (R. Dechter, I. Rish, Mini-buckets: a general scheme for bounded inference, 2003; as the guide of
a search: K. Kask, R. Dechter, 2001), so that each posterior is known to lie in an interval, and the more explanations
are enumerated the narrower it gets.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from math import prod

import numpy as np
from numpy.typing import NDArray

from knowngood.belief.support import Array, Factor, Index, Scope
from knowngood.errors import TooLargeError

Nodes = NDArray[np.uint16]
"""Assignments, one a row."""

AT_ONCE = 512
"""Open nodes looked into in one round."""

MINI_BUCKET = 2**12
"""Entries that a table of the bound may hold; more make the bound tighter."""

ROWS = 2**20
"""Possible worlds of one round of explanations; more are refused."""

KEPT = 5
"""Explanations that are named."""

SLACK = 1e-9
"""Share by which the bound is raised, for its own roundings."""


@dataclass(frozen=True)
class Bounded:
    """``low[v]`` and ``high[v]`` (states,) enclose the posterior of each variable.

    ``missed`` is an upper bound of the share of all weight that was not enumerated, 0 when everything was. ``best`` are
    the weightiest explanations that were found, each with its weight over that of all that was found.
    """

    low: dict[str, Array]
    high: dict[str, Array]
    missed: float
    enumerated: int
    best: list[tuple[dict[str, int], float]]


def bounded_posteriors(
    states: Mapping[str, int],
    factors: Sequence[Factor],
    evidence: Mapping[str, Array],
    explain: Sequence[str],
    *,
    effort: int = 100_000,
    enough: float = 1e-6,
    mini_bucket: int = MINI_BUCKET,
) -> Bounded:
    """Intervals for all posteriors, from explanations enumerated until at most the share ``enough`` of the weight is
    missed, or something was found and ``effort`` beginnings of explanations were looked into.

    ``states`` and ``factors`` are those of a ``FactorNetwork``, ``evidence`` is one row (states,) for each variable. The
    variables to ``explain`` come each after its causes; all others should follow from them, or nearly: each round
    holds every world that its explanations leave possible, and more than ``ROWS`` raise TooLargeError. ValueError where
    no world has any weight.
    """
    known = [(tuple(scope), np.asarray(table, np.float64)) for scope, table in factors]
    known += [((v,), np.asarray(weights, np.float64).reshape(states[v])) for v, weights in evidence.items()]
    order = [*explain, *_following(states, known, explain)]
    with np.errstate(divide="ignore"):
        logs = [(scope, np.log(table)) for scope, table in known]
    guide = _Guide(states, logs, order, len(explain), mini_bucket)
    worlds = _Worlds(states, logs, order, guide.root)
    nodes, bounds, depths = np.zeros((1, len(explain)), np.uint16), np.array([guide.root]), np.zeros(1, np.intp)
    found = _Found({v: np.zeros(states[v]) for v in order})
    missed, looked = np.inf, 0
    while len(bounds) and (looked < effort or not found.weight) and missed > enough * found.weight and guide.root > -np.inf:
        # Straight down at first, so that something is found however loose the bounds are.
        first = bounds if found.weight else bounds + 1e6 * (depths == depths.max())
        count = min(AT_ONCE, len(bounds))
        chosen = np.argpartition(-first, count - 1)[:count]
        kept = np.ones(len(bounds), bool)
        kept[chosen] = False
        made = [(nodes[kept], bounds[kept], depths[kept])]
        for depth in np.unique(depths[chosen]):
            at = chosen[depths[chosen] == depth]
            if depth == len(explain):
                found.add(explain, *worlds.of(nodes[at]))
            else:
                made.append(guide.children(nodes[at], bounds[at], int(depth)))
        nodes, bounds, depths = (np.concatenate(parts) for parts in zip(*made, strict=True))
        missed = float(np.exp(bounds - guide.root).sum()) * (1.0 + SLACK)
        looked += count
    if not found.weight:
        raise ValueError("no world with any weight was found; the evidence may be impossible")
    return found.enclosed(missed)


def _following(states: Mapping[str, int], factors: Sequence[Factor], explain: Sequence[str]) -> list[str]:
    """The other variables, next always one that a factor leaves fewest states for, given those before it."""
    known = set(explain)
    touching: dict[str, list[int]] = {v: [] for v in states}
    for n, (scope, _) in enumerate(factors):
        for v in scope:
            touching[v].append(n)
    unknown = [set(scope) - known for scope, _ in factors]
    waiting = {v: None for v in states if v not in known}
    order: list[str] = []
    ready = [n for n, left in enumerate(unknown) if len(left) == 1]
    while waiting:
        best: tuple[int, str] | None = None
        for n in ready:
            (v,) = unknown[n] or {""}
            if v:
                choices = int((factors[n][1] > 0.0).sum(axis=factors[n][0].index(v)).max())
                best = min(best, (choices, v)) if best else (choices, v)
                if choices <= 1:
                    break
        v = best[1] if best else next(iter(waiting))
        order.append(v)
        del waiting[v]
        for n in touching[v]:
            unknown[n].discard(v)
            if len(unknown[n]) == 1:
                ready.append(n)
        ready = [n for n in ready if unknown[n]]
    return order


class _Guide:
    """An upper bound of the weight of all worlds that agree with the first few explained variables, as logarithms.

    Each variable has a bucket: the tables in which it is the last one in the order. From the last bucket to the first,
    each sends what it says of the variables before; a bound is what the buckets so far hold, with what came from later
    ones, but without what they sent to each other.
    """

    def __init__(
        self, states: Mapping[str, int], logs: Sequence[Factor], order: list[str], explained: int, limit: int
    ) -> None:
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

    def children(self, nodes: Nodes, bounds: Array, depth: int) -> tuple[Nodes, Array, Index]:
        """The nodes one variable further on, without impossible ones: assignments, bounds, depths."""
        count = self._states[self._order[depth]]
        made = np.repeat(nodes, count, axis=0)
        made[:, depth] = np.tile(np.arange(count, dtype=np.uint16), len(nodes))
        more = np.repeat(bounds, count)
        for scope, logs in self._sent[depth]:  # none is -inf here: the bounds so far hold them
            more -= logs[self._at(scope, made)]
        for scope, logs in self._buckets[depth]:
            more += logs[self._at(scope, made)]
        possible = np.flatnonzero(more > -np.inf)
        return made[possible], more[possible], np.full(len(possible), depth + 1)

    def _at(self, scope: Scope, nodes: Nodes) -> tuple[Nodes, ...]:
        return tuple(nodes[:, self._place[v]] for v in scope)


def _aligned(scope: Scope, table: Array, wanted: Scope) -> Array:
    """A table turned and stretched so that it broadcasts over other variables too."""
    turned = table.transpose(sorted(range(len(scope)), key=lambda n: wanted.index(scope[n])))
    sizes = dict(zip(scope, table.shape, strict=True))
    return turned.reshape([sizes.get(v, 1) for v in wanted])


class _Worlds:
    """All worlds that some explanations leave possible, worked out variable by variable."""

    def __init__(self, states: Mapping[str, int], logs: Sequence[Factor], order: list[str], scale: float) -> None:
        self._states, self._order, self._scale = states, order, scale
        self._place = {v: n for n, v in enumerate(order)}
        self._closing: dict[str, list[Factor]] = {v: [] for v in order}
        """Tables by the last of their variables, which is their last axis."""
        self._constant = 0.0
        for scope, table in logs:
            if scope:
                turned = (*sorted(scope, key=self._place.__getitem__),)
                self._closing[turned[-1]].append((turned, _aligned(scope, table, turned)))
            else:
                self._constant += float(table)

    def of(self, nodes: Nodes) -> tuple[dict[str, Nodes], Array, Index]:
        """The states of each variable, one row a world; the worlds' weights; and the explanation each belongs to."""
        count, given = nodes.shape
        columns = np.zeros((len(self._order), count), np.uint16)
        columns[:given] = nodes.T
        logs = np.full(count, self._constant - self._scale)
        of = np.arange(count)
        for n, v in enumerate(self._order):
            if n < given:
                for scope, table in self._closing[v]:
                    logs = logs + table[tuple(columns[self._place[w]] for w in scope)]
                continue
            scores = np.zeros((len(of), self._states[v]))
            for scope, table in self._closing[v]:
                scores += table[tuple(columns[self._place[w]] for w in scope[:-1])]
            rows, found = np.nonzero(scores > -np.inf)
            if len(rows) > ROWS:
                raise TooLargeError(f"{count} explanations leave more than {ROWS} worlds possible", len(rows))
            if len(rows) != len(of) or (rows != np.arange(len(of))).any():
                columns, logs, of = columns[:, rows], logs[rows], of[rows]
            columns[n] = found
            logs = logs + scores[rows, found]
        return dict(zip(self._order, columns, strict=True)), np.exp(logs), of


@dataclass
class _Found:
    """What the enumerated explanations weigh, each weight over the bound of everything."""

    by_state: dict[str, Array]
    weight: float = 0.0
    enumerated: int = 0
    best: list[tuple[float, dict[str, int]]] = field(default_factory=list)

    def add(self, explain: Sequence[str], columns: Mapping[str, Nodes], weights: Array, of: Index) -> None:
        self.weight += float(weights.sum())
        for v, column in columns.items():
            self.by_state[v] += np.bincount(column, weights, len(self.by_state[v]))
        self.enumerated += len(np.unique(of))
        first = np.unique(of, return_index=True)[1]
        whole = np.bincount(of, weights)[of[first]] if len(of) else weights
        for n in np.argsort(-whole)[:KEPT]:
            self.best.append((float(whole[n]), {v: int(columns[v][first[n]]) for v in explain}))
        self.best = sorted(self.best, key=lambda one: -one[0])[:KEPT]

    def enclosed(self, missed: float) -> Bounded:
        most = self.weight + missed
        low = {v: weights / most for v, weights in self.by_state.items()}
        high = {v: (weights + missed) / most for v, weights in self.by_state.items()}
        best = [(states, weight / self.weight) for weight, states in self.best]
        return Bounded(low, high, missed / most, self.enumerated, best)
