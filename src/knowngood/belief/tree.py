"""The tree of tables of one plan, evaluated upward and downward in any algebra.

The method is the calibrated clique tree with division on the separators (F. V. Jensen, S. Lauritzen, K. Olesen,
Bayesian updating in causal probabilistic networks by local computations, 1990). Each table holds only its support, one
row an assignment, with the rows of evidence as its *last* axis, so that each numpy call runs along contiguous numbers;
what no batched evidence reaches keeps that axis at length 1.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import prod

import numpy as np

from knowngood.belief.algebra import PLAIN, Algebra, Array, Groups
from knowngood.belief.elimination import Plan
from knowngood.belief.support import LARGEST_CODE, Index, Relation, join, support_of
from knowngood.errors import TooLargeError

Scope = tuple[str, ...]
Weights = Mapping[str, Array]
"""Evidence, each (states, batch) or (states, 1), not yet encoded."""


@dataclass
class Table:
    """One clique: the assignments it can hold, sorted by those of its separator, and how they meet its neighbours."""

    relation: Relation
    values: Array
    """The product of the factors, shape (rows, 1)."""
    logs: Array
    """The sum of their logarithms."""
    separator: Relation
    """The distinct assignments of the separator; row n is that of group n."""
    up: Groups
    """The rows of each separator assignment."""
    share: Index
    """For each row, the number of its separator assignment."""
    from_child: dict[int, Index]
    """For each child, for each row: the number of that child's separator assignment."""


class Tree:
    """The supports and products of all tables, worked out beforehand.

    ``size`` is the number of entries that all tables hold. Raises TooLargeError before memory is taken for a table of
    more than ``largest`` entries.
    """

    def __init__(
        self, plan: Plan, states: Mapping[str, int], factors: Sequence[tuple[Scope, Array]], largest: int
    ) -> None:
        self._states = states
        self._cliques = plan.cliques
        self._constant = [factor for scope, factor in factors if not scope]
        self._homes: dict[str, list[int]] = {v: [] for v in states}
        for i in sorted(range(len(plan.cliques)), key=lambda i: plan.cliques[i].entries):
            for v in plan.cliques[i].variables:
                self._homes[v].append(i)
        self._children: list[list[int]] = [[] for _ in plan.cliques]
        for i, clique in enumerate(plan.cliques):
            if clique.parent is not None:
                self._children[clique.parent].append(i)
        mine: list[list[tuple[Relation, Array]]] = [[] for _ in plan.cliques]
        for scope, factor in factors:
            if scope:
                mine[self.place(scope)].append(support_of(scope, factor))
        self._tables: list[Table] = []
        for i in range(len(plan.cliques)):
            self._tables.append(self._table(i, mine[i], largest))
        self._prune()
        self._down = [self._way_back(i) for i in range(len(self._tables))]
        self._seats = {v: self._seat(v) for v in states}
        self._readings: dict[tuple[Scope, ...], tuple[Groups, list[Index]]] = {}
        normal = np.finfo(np.float64)
        self._in_range = all(
            ((table.values >= normal.tiny) & (table.values <= normal.max)).all() for table in self._tables
        )
        self.size = sum(table.relation.size for table in self._tables)

    # ---- compiling ----------------------------------------------------------------------------------------------

    def _table(self, i: int, factors: Sequence[tuple[Relation, Array]], largest: int) -> Table:
        clique = self._cliques[i]
        children = self._children[i]
        known = {v for relation, _ in factors for v in relation.variables}
        known.update(v for child in children for v in self._tables[child].separator.variables)
        free = [v for v in clique.variables if v not in known]
        relations = [relation for relation, _ in factors]
        relations += [self._tables[child].separator for child in children]
        relations += [Relation((v,), (np.arange(self._states[v], dtype=np.uint16),)) for v in free]
        self._check_codes(clique.separator)
        joined, rows = join(relations, self._states, largest)
        codes = joined.codes(clique.separator, self._states)
        order = np.argsort(codes, kind="stable")
        joined, codes = joined.pick(order), codes[order]
        values, logs = np.ones((joined.size, 1)), np.zeros((joined.size, 1))
        for (_, given), index in zip(factors, rows, strict=False):
            with np.errstate(under="ignore", over="ignore"):
                values[:, 0] *= given[index[order]]
            logs[:, 0] += np.log(given)[index[order]]
        new = np.ones(joined.size, bool)
        new[1:] = codes[1:] != codes[:-1]
        starts = np.flatnonzero(new)
        columns = tuple(joined.columns[joined.variables.index(v)][starts] for v in clique.separator)
        separator = Relation(clique.separator, columns)
        from_child = {child: rows[len(factors) + n][order] for n, child in enumerate(children)}
        up = Groups(np.append(starts, joined.size))
        return Table(joined, values, logs, separator, up, np.cumsum(new) - 1, from_child)

    def _check_codes(self, scope: Scope) -> None:
        codes = prod(self._states[v] for v in scope)
        if codes > LARGEST_CODE:
            raise TooLargeError(f"exact inference needs a table of {codes} entries over {len(scope)} variables", codes)

    def _prune(self) -> None:
        """Takes out the rows that no row of the parent goes with, from the root down."""
        for i in reversed(range(len(self._tables))):
            for child in self._children[i]:
                index = self._tables[i].from_child[child]
                table = self._tables[child]
                live = np.zeros(len(table.up.bounds) - 1, bool)
                live[index] = True
                if live.all():
                    continue
                number = np.cumsum(live) - 1
                self._tables[i].from_child[child] = number[index]
                rows = np.flatnonzero(live[table.share])
                counts = np.diff(table.up.bounds)[live]
                self._tables[child] = Table(
                    table.relation.pick(rows),
                    table.values[rows],
                    table.logs[rows],
                    table.separator.pick(np.flatnonzero(live)),
                    Groups(np.concatenate([[0], np.cumsum(counts)])),
                    number[table.share[rows]],
                    {below: one[rows] for below, one in table.from_child.items()},
                )

    def _way_back(self, i: int) -> Groups | None:
        """The rows of the parent that go with each separator assignment of a table."""
        parent = self._cliques[i].parent
        if parent is None:
            return None
        return _grouped(self._tables[parent].from_child[i], self._tables[i].separator.size)

    def _seat(self, v: str) -> tuple[int, Index]:
        """Where evidence on a variable goes: its smallest table, and the state that each row has."""
        place = self._homes[v][0]
        relation = self._tables[place].relation
        return place, relation.columns[relation.variables.index(v)].astype(np.intp)

    def place(self, scope: Scope) -> int:
        """The smallest clique that holds the whole scope; ValueError if there is none."""
        for i in self._homes[scope[0]]:
            if set(scope) <= set(self._cliques[i].variables):
                return i
        raise ValueError(f"the variables {', '.join(scope)} share no table of the plan; ask for some that do")

    # ---- asking -------------------------------------------------------------------------------------------------

    def collect(self, algebra: Algebra, weights: Weights, keep: bool) -> tuple[Array, list[tuple[Array, Array]]]:
        """Upward: the log of the total weight (batch or 1,) and, if kept, each clique's table (rows, batch or 1) and
        its total for each separator assignment (assignments, batch or 1)."""
        inbox: list[list[tuple[Array, Index]]] = [[] for _ in self._tables]
        log_weight = np.zeros(1)
        for factor in self._constant:
            log_weight = log_weight + algebra.log(algebra.encode(factor))
        for v, raw in weights.items():
            seat, states = self._seats[v]
            message, log_peak = algebra.scale(algebra.encode(raw))
            log_weight = log_weight + log_peak
            inbox[seat].append((message, states))
        kept: list[tuple[Array, Array]] = []
        for i, (table, values) in enumerate(zip(self._tables, self._values(algebra), strict=True)):
            product = _product(algebra, values, inbox[i])
            inbox[i] = []
            total = algebra.total(product, table.up)
            message, log_peak = algebra.scale(total) if len(total) else (total, np.full(1, -np.inf))
            log_weight = log_weight + log_peak
            parent = self._cliques[i].parent
            if parent is not None:
                inbox[parent].append((message, self._tables[parent].from_child[i]))
            if keep:
                kept.append((product, total))
        return log_weight, kept

    def marginals(self, algebra: Algebra, weights: Weights, scopes: Sequence[Scope]) -> tuple[list[Array], Array]:
        """Upward, then downward as far as the scopes need: per scope its posterior (batch or 1, states of each
        variable...), and the log of the total weight (batch or 1,). ValueError if a scope lies in no clique."""
        wanted: dict[int, list[Scope]] = {}
        for scope in scopes:
            wanted.setdefault(self.place(scope), []).append(scope)
        needed = set(wanted)
        for i, clique in enumerate(self._cliques):
            if i in needed and clique.parent is not None:
                needed.add(clique.parent)
        log_weight, kept = self.collect(algebra, weights, keep=True)
        found: dict[Scope, Array] = {}
        beliefs: dict[int, Array] = {}
        for i in reversed(range(len(kept))):
            product, total = kept.pop()
            if i not in needed:
                continue
            parent, down = self._cliques[i].parent, self._down[i]
            share = np.full((len(total), 1), algebra.one)
            if parent is not None and down is not None:
                share = algebra.total(beliefs[parent], down)
            ratio = algebra.divide(share, total)
            beliefs[i] = algebra.multiply(product, np.take(ratio, self._tables[i].share, axis=0))
            if i in wanted:
                found |= self._read(algebra, i, tuple(wanted[i]), beliefs[i])
        return [found[scope] for scope in scopes], log_weight

    def trace(self, kept: Sequence[tuple[Array, Array]]) -> dict[str, int]:
        """From the tables that ``collect`` kept of one row in the algebra of the maximum: the best states."""
        chosen: dict[str, int] = {}
        for i, table in reversed(list(enumerate(self._tables))):
            live = np.ones(table.relation.size, bool)
            for v in self._cliques[i].separator:
                live &= table.relation.columns[table.relation.variables.index(v)] == chosen[v]
            rows = np.flatnonzero(live)
            best = rows[int(np.argmax(kept[i][0][rows, 0]))]
            chosen.update(
                (v, int(column[best]))
                for v, column in zip(table.relation.variables, table.relation.columns, strict=True)
            )
        return chosen

    def _values(self, algebra: Algebra) -> list[Array]:
        """Per clique the product of its factors, none of which is zero; FloatingPointError where it leaves the range
        of plain numbers."""
        if algebra is not PLAIN:
            return [table.logs for table in self._tables]
        if not self._in_range:
            raise FloatingPointError("a product of factors leaves the range of numbers")
        return [table.values for table in self._tables]

    def _read(self, algebra: Algebra, i: int, scopes: tuple[Scope, ...], belief: Array) -> dict[Scope, Array]:
        """What a table says of some scopes inside it, each (batch or 1, states of each variable...)."""
        if scopes not in self._readings:
            codes = [self._tables[i].relation.codes(scope, self._states) for scope in scopes]
            numbered = [np.unique(one, return_inverse=True) for one in codes]
            parts = [_grouped(number, len(at)) for at, number in numbered]
            self._readings[scopes] = _stacked(parts, len(belief)), [at for at, _ in numbered]
        groups, places = self._readings[scopes]
        summed = algebra.decode(algebra.total(belief, groups))
        found: dict[Scope, Array] = {}
        for scope, at in zip(scopes, places, strict=True):
            shape = tuple(self._states[v] for v in scope)
            whole = np.zeros((prod(shape), summed.shape[1]))
            whole[at], summed = summed[: len(at)], summed[len(at) :]
            found[scope] = whole.T.reshape(-1, *shape)
        return found


def _grouped(numbers: Index, count: int) -> Groups:
    """Rows by their group's number."""
    order = np.argsort(numbers, kind="stable")
    return Groups(np.searchsorted(numbers[order], np.arange(count + 1)), order)


def _stacked(parts: Sequence[Groups], rows: int) -> Groups:
    """Several groupings of the same rows, one after the other."""
    bounds = [part.bounds[1:] + n * rows for n, part in enumerate(parts)]
    orders = [np.arange(rows) if part.order is None else part.order for part in parts]
    return Groups(np.concatenate([[0], *bounds]), np.concatenate(orders), rows)


def _product(algebra: Algebra, values: Array, messages: list[tuple[Array, Index]]) -> Array:
    """The table times all messages, those of one row first, while the product is still that small itself."""
    product = values
    for message, index in sorted(messages, key=lambda m: m[0].shape[-1]):
        spread = np.take(message, index, axis=0)
        # The compiled table itself is never written to, nor one that is still too short for the rows of the message.
        if product.shape[-1] <= spread.shape[-1]:
            product = algebra.multiply(product, spread, out=spread)
        else:
            product = algebra.multiply(product, spread, out=None if product is values else product)
    return product
