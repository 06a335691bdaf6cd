"""The tree of tables of one plan, evaluated upward and downward in any algebra.

The method is the calibrated clique tree with division on the separators (F. V. Jensen, S. Lauritzen, K. Olesen,
Bayesian updating in causal probabilistic networks by local computations, 1990). Each table holds only its support, one
row an assignment, with the rows of evidence as its *last* axis, so that each numpy call runs along contiguous numbers;
what no batched evidence reaches keeps that axis at length 1. All tables at one distance from their roots lie end to
end in one array, a *level*: most tables are so small that a call for each would cost more than the arithmetic.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import accumulate
from math import log, prod

import numpy as np
from numpy.random import Generator

from knowngood.belief.algebra import PLAIN, Algebra, Array, Groups
from knowngood.belief.elimination import Plan
from knowngood.belief.relations import Index, Scope
from knowngood.belief.support import Factor, Places, Table, make_tables


@dataclass
class Level:
    """All tables at one distance from their roots, those with most children first."""

    values: Array
    """The product of the factors, shape (rows, 1)."""
    logs_out_of_range: Array | None
    """Its logarithms, where the product itself leaves the range of numbers."""
    up: Groups
    """The rows of each separator assignment; each is a message to the level above."""
    share: Index
    """For each row, the number of its separator assignment."""
    tables: Groups
    """The separator assignments of each table."""
    inbox: list[Index]
    """Messages from the level below: the n-th array says which of them row 0, 1, ... gets from its table's n-th child,
    for as many rows as have so many."""

    @cached_property
    def logs(self) -> Array:
        return np.log(self.values) if self.logs_out_of_range is None else self.logs_out_of_range


@dataclass
class Reading:
    """How some scopes are read off the tree: each stands in one flat array of ``size``, from its ``starts`` on."""

    starts: list[int]
    size: int
    levels: list[tuple[Groups, Index]]
    """Per level, which rows belong to each separator assignment of the level below and, after these, to each state of a
    scope; and where in the flat array those states stand."""


@dataclass(frozen=True)
class Findings:
    """Evidence on some variables: its weights, not yet encoded, end to end in one array (states of all, batch or 1)."""

    weights: Array
    log_scale: float
    """The log of what the weights must be multiplied by in all, once for each row."""
    levels: list[list[tuple[Index, Index]]]
    """Per level: which of its rows are multiplied by which of the weights, the first finding of each table, then the
    second of those that have two, and so on."""

    def of(self, rows: slice) -> Findings:
        """What some rows of the batch say."""
        return replace(self, weights=np.ascontiguousarray(self.weights[:, rows]))


class Tree:
    """The supports and products of all tables, worked out beforehand.

    ``size`` is the number of entries that all tables hold; ``possible`` whether any assignment has a weight;
    ``in_range`` whether all products of factors are normal numbers. Raises TooLargeError before memory is taken for a
    table of more than ``largest`` entries.
    """

    def __init__(self, plan: Plan, states: Mapping[str, int], factors: Sequence[Factor], largest: int) -> None:
        self._states = states
        self._cliques = plan.cliques
        self._places = Places(plan)
        self._constant = [factor for scope, factor in factors if not scope]
        self._tables = make_tables(plan, states, [factor for factor in factors if factor[0]], largest)
        self.size = sum(table.relation.size for table in self._tables)
        self.possible = all(table.relation.size for table in self._tables)
        depth = [0] * len(self._cliques)
        children = plan.children
        for i in reversed(range(len(depth))):
            for child in children[i]:
                depth[child] = depth[i] + 1
        members: list[list[int]] = [[] for _ in range(max(depth, default=-1) + 1)]
        for i in sorted(range(len(depth)), key=lambda i: -len(children[i])):
            members[depth[i]].append(i)
        self._rows: list[tuple[int, slice]] = [(0, slice(0))] * len(depth)
        """Of each table, its level and its rows there."""
        offsets: dict[int, int] = {}
        self._levels: list[Level] = []
        for number, cliques in reversed(list(enumerate(members))):
            tables = [self._tables[i] for i in cliques]
            ends = [0, *accumulate(table.relation.size for table in tables)]
            for i, start, end in zip(cliques, ends, ends[1:], strict=False):
                self._rows[i] = number, slice(start, end)
            level, messages = _laid_out(tables, offsets)
            offsets = dict(zip(cliques, messages, strict=True))
            self._levels.insert(0, level)
        self.in_range = all(level.logs_out_of_range is None for level in self._levels)
        self._readings: dict[tuple[Scope, ...], Reading] = {}

    def place(self, scope: Scope) -> int:
        """The smallest clique that holds the whole scope; ValueError if there is none."""
        return self._places.of(scope)

    # ---- asking -------------------------------------------------------------------------------------------------

    def findings(self, evidence: Mapping[str, Array], batch: int) -> Findings:
        """Evidence as the tree takes it, each (states,), (1, states) or (batch, states)."""
        bounds = np.array([0, *accumulate(self._states[v] for v in evidence)])
        weights = np.empty((bounds[-1], batch))
        slots: list[list[list[tuple[Index, Index]]]] = [[] for _ in self._levels]
        met: defaultdict[int, int] = defaultdict(int)
        for (v, table), start, end in zip(evidence.items(), bounds, bounds[1:], strict=False):
            weights[start:end] = table.reshape(-1, end - start).T
            place = self.place((v,))
            number, rows = self._rows[place]
            if met[place] == len(slots[number]):
                slots[number].append([])
            at = start + self._tables[place].relation.columns[v].astype(np.intp)
            slots[number][met[place]].append((np.arange(rows.start, rows.stop), at))
            met[place] += 1
        levels = [[(_joined(slot, 0), _joined(slot, 1)) for slot in level] for level in slots]
        return Findings(weights, _scale_up(weights, bounds), levels)

    def collect(self, algebra: Algebra, findings: Findings, keep: bool) -> tuple[Array, list[tuple[Array, Array]]]:
        """Upward: the log of the total weight (batch or 1,) and, if kept, from the last level to the first its table
        (rows, batch or 1) and its total for each separator assignment (assignments, batch or 1)."""
        log_weight = np.full(1, findings.log_scale)
        for factor in self._constant:
            log_weight = log_weight + algebra.log(algebra.encode(factor))
        weights = algebra.encode(findings.weights)
        kept: list[tuple[Array, Array]] = []
        messages = np.full((1, 1), algebra.one)
        for level, found in zip(reversed(self._levels), reversed(findings.levels), strict=True):
            product = _product(algebra, level, messages, weights, found)
            messages = total = algebra.total(product, level.up)
            if algebra is PLAIN:
                sums = level.tables.sums(total)
                log_weight = log_weight + np.log(sums).sum(axis=0)
                sums[sums == 0.0] = 1.0
                messages = total / np.repeat(sums, np.diff(level.tables.bounds), axis=0)
            if keep:
                kept.append((product, total))
        if self._levels and algebra is not PLAIN:
            log_weight = log_weight + messages.sum(axis=0)
        if np.isposinf(log_weight).any():
            raise FloatingPointError("a sum leaves the range of numbers")
        return log_weight, kept

    def marginals(self, algebra: Algebra, findings: Findings, scopes: tuple[Scope, ...]) -> tuple[Array, Array]:
        """Upward, then downward: the weights of each scope's assignments, laid end to end (entries, batch or 1), and
        the log of the total weight (batch or 1,). ValueError if a scope lies in no clique."""
        reading = self.reading(scopes)
        log_weight, kept = self.collect(algebra, findings, keep=True)
        found = np.zeros((reading.size, max(len(log_weight), 1)))
        share = np.full((1, 1), algebra.one)
        for level, (groups, places) in zip(self._levels, reading.levels, strict=True):
            product, total = kept.pop()
            ratio = algebra.divide(share, total)
            spread = np.take(ratio, level.share, axis=0)
            belief = algebra.multiply(product, spread, out=spread if spread.shape[1] >= product.shape[1] else None)
            summed = algebra.total(belief, groups)
            share = summed[: len(summed) - len(places)]
            found[places] = algebra.decode(summed[len(share) :])
        return found, log_weight

    def trace(self, kept: Sequence[tuple[Array, Array]]) -> dict[str, int]:
        """From the tables that ``collect`` kept of one row in the algebra of the maximum: the best states."""
        chosen: dict[str, int] = {}
        for i, table in reversed(list(enumerate(self._tables))):
            number, place = self._rows[i]
            live = np.ones(table.relation.size, bool)
            for v in self._cliques[i].separator:
                live &= table.relation.columns[v] == chosen[v]
            rows = np.flatnonzero(live)
            best = rows[int(np.argmax(kept[-1 - number][0][place][rows, 0]))]
            chosen.update((v, int(column[best])) for v, column in table.relation.columns.items())
        return chosen

    def drawing(self, kept: Sequence[tuple[Array, Array]]) -> Callable[[Generator], dict[str, int]]:
        """From the tables that ``collect`` kept of one row, as logarithms: a function that draws by weight.

        Each table is drawn from given what its parents drew, so a draw is exact, and independent of the others.
        """
        met: dict[tuple[int, tuple[int, ...]], tuple[Index, Array]] = {}

        def rows(i: int, at: tuple[int, ...]) -> tuple[Index, Array]:
            """The rows of a table that agree with what was drawn, and the sums of their weights up to each."""
            columns, (number, place) = self._tables[i].relation.columns, self._rows[i]
            live = np.ones(self._tables[i].relation.size, bool)
            for v, state in zip(self._cliques[i].separator, at, strict=True):
                live &= columns[v] == state
            found = np.flatnonzero(live)
            weights = kept[-1 - number][0][place][found, 0]
            return found, np.cumsum(np.exp(weights - weights.max()))

        def draw(generator: Generator) -> dict[str, int]:
            drawn: dict[str, int] = {}
            for i in range(len(self._tables) - 1, -1, -1):
                at = tuple(drawn[v] for v in self._cliques[i].separator)
                if (i, at) not in met:
                    met[i, at] = rows(i, at)
                found, upto = met[i, at]
                row = found[int(np.searchsorted(upto, generator.random() * upto[-1], side="right"))]
                drawn.update((v, int(column[row])) for v, column in self._tables[i].relation.columns.items())
            return drawn

        return draw

    def reading(self, scopes: tuple[Scope, ...]) -> Reading:
        """How to read off some scopes; ValueError if one lies in no clique."""
        if scopes not in self._readings:
            ends = [0, *accumulate(prod(self._states[v] for v in scope) for scope in scopes)]
            keys: list[list[Index]] = [[] for _ in self._levels]
            rows: list[list[Index]] = [[] for _ in self._levels]
            below = [len(level.up.bounds) - 1 for level in self._levels[1:]] + [0]
            for scope, start in zip(scopes, ends, strict=False):
                place = self.place(scope)
                number, at = self._rows[place]
                keys[number].append(self._tables[place].relation.codes(scope, self._states) + below[number] + start)
                rows[number].append(np.arange(at.start, at.stop))
            levels = []
            for number, level in enumerate(self._levels):
                key = np.concatenate([*level.inbox, *keys[number], np.zeros(0, np.intp)])
                row = np.concatenate([*(np.arange(len(index)) for index in level.inbox), *rows[number], key[:0]])
                order = np.argsort(key, kind="stable")
                key = key[order]
                starts = np.flatnonzero(np.diff(key, prepend=-1))
                bounds = np.append(starts, len(key))
                groups = Groups(bounds, row[order], len(level.values))
                levels.append((groups, key[starts][below[number] :] - below[number]))
            self._readings[scopes] = Reading(ends[:-1], ends[-1], levels)
        return self._readings[scopes]


def _laid_out(tables: Sequence[Table], offsets: Mapping[int, int]) -> tuple[Level, list[int]]:
    """Tables end to end, and the number of the first message of each; ``offsets`` are those of their children."""
    messages = [0, *accumulate(len(table.codes) for table in tables)]
    inbox: list[Index] = []
    for slot in range(max((len(table.from_child) for table in tables), default=0)):
        given = (list(table.from_child.items())[slot] for table in tables if len(table.from_child) > slot)
        inbox.append(np.concatenate([index + offsets[child] for child, index in given]))
    values = np.concatenate([table.values for table in tables])
    logs = None
    if any(table.logs is not None for table in tables):
        parts = [np.log(table.values) if table.logs is None else table.logs for table in tables]
        logs = np.concatenate(parts)[:, None]
    share = np.concatenate([table.share + start for table, start in zip(tables, messages, strict=False)])
    up = np.append(np.flatnonzero(np.diff(share, prepend=-1)), len(share))
    level = Level(values[:, None], logs, Groups(up), share, Groups(np.array(messages)), inbox)
    return level, messages[:-1]


def _product(
    algebra: Algebra, level: Level, messages: Array, weights: Array, findings: Sequence[tuple[Index, Index]]
) -> Array:
    """The tables times what comes from below, and the evidence found there."""
    values = level.values if algebra is PLAIN else level.logs
    batch = max(messages.shape[1], weights.shape[1] if findings else 1)
    product = np.empty((len(values), batch))
    filled = 0
    for index in level.inbox:
        part, spread = product[: len(index)], np.take(messages, index, axis=0)
        algebra.multiply(part if filled else values[: len(index)], spread, out=part)
        filled = filled or len(index)
    product[filled:] = values[filled:]
    for rows, places in findings:
        product[rows] = algebra.multiply(np.take(product, rows, axis=0), np.take(weights, places, axis=0))
    return product


def _scale_up(weights: Array, bounds: Index) -> float:
    """Brings the greatest weight of each variable near one, in place and without rounding, if it was less; returns the
    log of what this takes from all weights. So many small weights do not leave the range of numbers together."""
    if not weights.size:
        return 0.0
    _, exponents = np.frexp(np.maximum.reduceat(weights.max(axis=1), bounds[:-1]))
    up = np.minimum(exponents, 0)
    by_state = np.repeat(up, np.diff(bounds))
    small = np.flatnonzero(by_state)
    weights[small] = np.ldexp(weights[small], -by_state[small, None])
    return float(up.sum()) * log(2.0)


def _joined(pairs: Sequence[tuple[Index, Index]], which: int) -> Index:
    return np.concatenate([pair[which] for pair in pairs])
