"""The assignments that a table can hold at all, worked out by joining its factors as relations.

Most entries of a table over functions are zero for certain: a rail that is absent has no load that works. Only the
rest, its *support*, is ever stored or summed.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from math import prod

import numpy as np
from numpy.typing import NDArray

from knowngood.belief.elimination import Clique, Plan
from knowngood.belief.narrowing import from_above
from knowngood.belief.relations import Codes, Index, Relation, Scope, join, refuse, where
from knowngood.errors import TooLargeError

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
Factor = tuple[Scope, Array]

LARGEST_CODE = 2**62
"""Assignments of a separator are numbered in 64 bits; more possible ones are refused."""

SMALLEST, GREATEST = float(np.finfo(np.float64).tiny), float(np.finfo(np.float64).max)
"""Of the normal numbers, whose logarithms are as exact as they are."""

AT_ONCE = 2**18
"""Rows of a table up to which it is made by what is below it alone."""

SMALL = 2**12
"""Up to this many entries, looking at each is quicker than a join."""


@dataclass
class Table:
    """One clique: the assignments it can hold, sorted by those of its separator, and how they meet its neighbours."""

    relation: Relation
    values: Array
    """The product of the factors, shape (rows,); where that leaves the range of numbers, ``logs`` is given too."""
    logs: Array | None
    codes: Codes
    """The distinct assignments of the separator, sorted."""
    share: Index
    """For each row, the number of its separator assignment."""
    from_child: dict[int, Index]
    """For each child, for each row: the number of that child's separator assignment."""


def make_tables(plan: Plan, states: Mapping[str, int], factors: Sequence[Factor], largest: int) -> list[Table]:
    """The table of each clique, with no row that another table rules out.

    Raises TooLargeError before memory is taken for a table of more than ``largest`` rows.
    """
    for clique in plan.cliques:
        if (size := prod(states[v] for v in clique.separator)) > LARGEST_CODE:
            count = len(clique.separator)
            raise TooLargeError(f"exact inference needs a table of {size} entries over {count} variables", size)
    places = Places(plan)
    mine: list[list[Factor]] = [[] for _ in plan.cliques]
    for scope, factor in factors:
        mine[places.of(scope)].append((scope, factor))
    children = plan.children
    made: dict[int, Table] = {}

    def make(i: int, known: Sequence[Relation], most: int) -> None:
        below = {child: (plan.cliques[child].separator, made[child]) for child in children[i]}
        made[i] = _table(plan.cliques[i], states, mine[i], below, known, most)

    with np.errstate(under="ignore", over="ignore"):
        for i in range(len(plan.cliques)):
            if made.keys() >= set(children[i]):
                with suppress(TooLargeError):
                    make(i, (), min(largest, AT_ONCE))
        left = [i for i in range(len(plan.cliques)) if i not in made]
        own = {i: [where(scope, np.nonzero(given)) for scope, given in mine[i]] for i in left}
        known = from_above(plan, states, own, {i: table.codes for i, table in made.items()}) if left else {}
        for i in left:
            make(i, known.get(i, ()), largest)
    tables = [made[i] for i in range(len(plan.cliques))]
    for i in reversed(range(len(tables))):
        for child in children[i]:
            _prune(tables[i], child, tables)
    return tables


class Places:
    """Which clique holds a scope."""

    def __init__(self, plan: Plan) -> None:
        self._cliques = [frozenset(clique.variables) for clique in plan.cliques]
        self._homes: dict[str, list[int]] = {}
        for i in sorted(range(len(plan.cliques)), key=lambda i: plan.cliques[i].entries):
            for v in plan.cliques[i].variables:
                self._homes.setdefault(v, []).append(i)

    def of(self, scope: Scope) -> int:
        """The smallest clique that holds the whole scope; ValueError if there is none."""
        for i in min((self._homes[v] for v in scope), key=len):
            if self._cliques[i].issuperset(scope):
                return i
        raise ValueError(f"the variables {', '.join(scope)} share no table of the plan; ask for some that do")


def _table(
    clique: Clique,
    states: Mapping[str, int],
    factors: Sequence[Factor],
    below: Mapping[int, tuple[Scope, Table]],
    known: Sequence[Relation],
    largest: int,
) -> Table:
    separator = clique.separator
    if clique.entries <= SMALL:
        relation = _looked_at(clique, states, factors, below)
        refuse(relation.size, clique.variables, largest)
        codes = relation.codes(separator, states)
    else:
        relation = _joined(clique, states, factors, below, known, largest)
        codes = relation.codes(separator, states)
        order = np.argsort(codes, kind="stable")
        relation, codes = relation.pick(order), codes[order]
    new = np.ones(relation.size, bool)
    np.not_equal(codes[1:], codes[:-1], out=new[1:])
    picked = [given[tuple([relation.columns[v] for v in scope])] for scope, given in factors]
    values, in_range = np.ones(relation.size), True
    for one in picked:  # a product may come back into range, but it has lost digits outside
        values = values * one
        in_range = in_range and (not relation.size or bool(values.min() >= SMALLEST and values.max() <= GREATEST))
    logs = None if in_range else np.sum(np.log(picked), axis=0)
    from_child = {
        child: np.searchsorted(table.codes, relation.codes(scope, states)) for child, (scope, table) in below.items()
    }
    return Table(relation, values, logs, codes[new], np.cumsum(new) - 1, from_child)


def _looked_at(
    clique: Clique, states: Mapping[str, int], factors: Sequence[Factor], below: Mapping[int, tuple[Scope, Table]]
) -> Relation:
    """The possible assignments of a small clique, the separator's weighing most and so in their order."""
    variables = (*clique.separator, *clique.variables[: clique.own])
    shape = tuple(states[v] for v in variables)
    possible = np.ones(shape, bool)
    for scope, given in factors:
        _rule_out(possible, variables, scope, given != 0.0)
    for scope, table in below.values():
        allowed = np.zeros([states[v] for v in scope], bool)
        allowed.reshape(-1)[table.codes] = True
        _rule_out(possible, variables, scope, allowed)
    found = np.nonzero(possible)
    return Relation(dict(zip(variables, found, strict=True)), len(found[0]))


def _rule_out(possible: Flags, variables: Scope, scope: Scope, allowed: Flags) -> None:
    """Takes what is not allowed out of what is possible."""
    places = [variables.index(v) for v in scope]
    shape = [1] * possible.ndim
    for place in places:
        shape[place] = possible.shape[place]
    turned = allowed.transpose(sorted(range(len(scope)), key=places.__getitem__))
    np.logical_and(possible, turned.reshape(shape), out=possible)


def _joined(
    clique: Clique,
    states: Mapping[str, int],
    factors: Sequence[Factor],
    below: Mapping[int, tuple[Scope, Table]],
    known: Sequence[Relation],
    largest: int,
) -> Relation:
    """The possible assignments of a clique, in no order."""
    relations = [*known, *(where(scope, np.nonzero(given)) for scope, given in factors)]
    for scope, table in below.values():
        relations.append(where(scope, np.unravel_index(table.codes, [states[v] for v in scope])))
    bound = {v for relation in relations for v in relation.columns}
    relations += [where((v,), (np.arange(states[v]),)) for v in clique.variables if v not in bound]
    return join(relations, states, largest)


def _prune(parent: Table, child: int, tables: list[Table]) -> None:
    """Takes out a child's rows that no row of its parent goes with."""
    table, index = tables[child], parent.from_child[child]
    live = np.zeros(len(table.codes), bool)
    live[index] = True
    if live.all():
        return
    number = np.cumsum(live) - 1
    parent.from_child[child] = number[index]
    rows = np.flatnonzero(live[table.share])
    tables[child] = Table(
        table.relation.pick(rows),
        table.values[rows],
        None if table.logs is None else table.logs[rows],
        table.codes[live],
        number[table.share[rows]],
        {below: one[rows] for below, one in table.from_child.items()},
    )
