"""The tree of tables of one plan, evaluated upward and downward in any algebra.

The method is the calibrated clique tree with division on the separators (F. V. Jensen, S. Lauritzen, K. Olesen,
Bayesian updating in causal probabilistic networks by local computations, 1990). Every table carries the rows of
evidence as its *last* axis, so that each numpy call runs along contiguous rows whatever the shape of the table; what no
batched evidence reaches keeps that axis at length 1.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import prod

import numpy as np

from knowngood.belief.algebra import PLAIN, Algebra, Array
from knowngood.belief.elimination import Plan

Scope = tuple[str, ...]
Weights = Mapping[str, Array]
"""Evidence, each (states, batch) or (states, 1), not yet encoded."""


class Tree:
    """All shapes of ``plan`` worked out beforehand, and the factors multiplied into its tables on first use."""

    def __init__(self, plan: Plan, states: Mapping[str, int], factors: Sequence[tuple[Scope, Array]]) -> None:
        self._states = states
        self._factors = factors
        self._cliques = cliques = plan.cliques
        self._shapes = [tuple(states[v] for v in c.variables) for c in cliques]
        self._splits = [(prod(s[: c.own]), prod(s[c.own :])) for c, s in zip(cliques, self._shapes, strict=True)]
        self._homes: dict[str, list[int]] = {v: [] for v in states}
        for i in sorted(range(len(cliques)), key=lambda i: cliques[i].entries):
            for v in cliques[i].variables:
                self._homes[v].append(i)
        # How a clique's message lines up with its parent's axes, and which of those axes the way back sums out.
        self._up = [() if c.parent is None else self._aligned(c.separator, c.parent) for c in cliques]
        self._down = [() if c.parent is None else self._others(c.separator, c.parent) for c in cliques]
        self._seats = {v: (places[0], self._aligned((v,), places[0])) for v, places in self._homes.items()}
        self._made: dict[bool, list[Array]] = {}
        self._readings: dict[Scope, tuple[int, tuple[int, ...], list[int]]] = {}

    def collect(self, algebra: Algebra, weights: Weights, keep: bool) -> tuple[Array, list[tuple[Array, Array]]]:
        """Upward: the log of the total weight (batch or 1,) and, if kept, each clique's table and its total over its
        own variables (separator entries, batch or 1)."""
        tables = self._tables(algebra)
        inbox: list[list[Array]] = [[] for _ in tables]
        log_weight = np.zeros(1)
        for scope, factor in self._factors:
            if not scope:
                log_weight = log_weight + algebra.log(algebra.encode(factor))
        for v, raw in weights.items():
            seat, shape = self._seats[v]
            message, log_peak = algebra.scale(algebra.encode(raw))
            log_weight = log_weight + log_peak
            inbox[seat].append(message.reshape(*shape, -1))
        kept: list[tuple[Array, Array]] = []
        for i, clique in enumerate(self._cliques):
            table = _product(algebra, tables[i], inbox[i])
            inbox[i] = []
            total = algebra.total(table.reshape(*self._splits[i], -1), 0)
            message, log_peak = algebra.scale(total)
            log_weight = log_weight + log_peak
            if clique.parent is not None:
                inbox[clique.parent].append(message.reshape(*self._up[i], -1))
            if keep:
                kept.append((table, total))
        return log_weight, kept

    def marginals(self, algebra: Algebra, weights: Weights, scopes: Sequence[Scope]) -> tuple[list[Array], Array]:
        """Upward, then downward as far as the scopes need: per scope its posterior (batch or 1, states of each
        variable...), and the log of the total weight (batch or 1,). ValueError if a scope lies in no clique."""
        wanted: dict[int, list[Scope]] = {}
        for scope in scopes:
            wanted.setdefault(self._reading(scope)[0], []).append(scope)
        needed = set(wanted)
        for i, clique in enumerate(self._cliques):
            if i in needed and clique.parent is not None:
                needed.add(clique.parent)
        log_weight, kept = self.collect(algebra, weights, keep=True)
        found: dict[Scope, Array] = {}
        root = np.full((1, 1), algebra.one)
        beliefs: dict[int, Array] = {}
        for i in reversed(range(len(kept))):
            table, total = kept.pop()
            if i not in needed:
                continue
            parent = self._cliques[i].parent
            share = root
            if parent is not None:
                share = algebra.total(beliefs[parent], self._down[i]).reshape(total.shape[0], -1)
            ratio = algebra.divide(share, total)
            belief = algebra.multiply(table.reshape(*self._splits[i], -1), ratio)
            beliefs[i] = belief.reshape(*self._shapes[i], -1)
            for scope in wanted.get(i, []):
                _, others, turn = self._reading(scope)
                found[scope] = algebra.decode(algebra.total(beliefs[i], others)).transpose(turn)
        return [found[scope] for scope in scopes], log_weight

    def trace(self, kept: Sequence[tuple[Array, Array]]) -> dict[str, int]:
        """From the tables that ``collect`` kept of one row in the algebra of the maximum: the best states."""
        chosen: dict[str, int] = {}
        for i, clique in reversed(list(enumerate(self._cliques))):
            at: list[slice | int] = [chosen.get(v, slice(None)) for v in clique.variables]
            table = kept[i][0].reshape(self._shapes[i])[tuple(at)]
            picked = np.unravel_index(int(np.argmax(table)), table.shape)
            chosen.update(zip(clique.variables, map(int, picked), strict=False))
        return chosen

    def place(self, scope: Scope) -> int:
        """The smallest clique that holds the whole scope; ValueError if there is none."""
        for i in self._homes[scope[0]]:
            if set(scope) <= set(self._cliques[i].variables):
                return i
        raise ValueError(f"the variables {', '.join(scope)} share no table of the plan; ask for some that do")

    def _tables(self, algebra: Algebra) -> list[Array]:
        """Per clique the product of its factors, with a last axis of length 1; one set for both kinds of logarithms."""
        plain = algebra is PLAIN
        if plain not in self._made:
            tables = [np.full((*shape, 1), algebra.one) for shape in self._shapes]
            for scope, factor in self._factors:
                if scope:
                    place = self.place(scope)
                    turned = algebra.encode(factor).transpose([scope.index(v) for v in self._ordered(scope, place)])
                    algebra.multiply(tables[place], turned.reshape(*self._aligned(scope, place), 1), out=tables[place])
            self._made[plain] = tables
        return self._made[plain]

    def _reading(self, scope: Scope) -> tuple[int, tuple[int, ...], list[int]]:
        """Where to read off a scope: its clique, the axes to sum out there, and how to turn those that are left."""
        if scope not in self._readings:
            place = self.place(scope)
            ordered = self._ordered(scope, place)
            turn = [len(scope), *(ordered.index(v) for v in scope)]
            self._readings[scope] = place, self._others(scope, place), turn
        return self._readings[scope]

    def _ordered(self, scope: Scope, place: int) -> list[str]:
        return [v for v in self._cliques[place].variables if v in scope]

    def _aligned(self, scope: Scope, place: int) -> tuple[int, ...]:
        """The shape in which a table over ``scope``, in order of elimination, broadcasts against clique ``place``."""
        return tuple(self._states[v] if v in scope else 1 for v in self._cliques[place].variables)

    def _others(self, scope: Scope, place: int) -> tuple[int, ...]:
        return tuple(axis for axis, v in enumerate(self._cliques[place].variables) if v not in scope)


def _product(algebra: Algebra, table: Array, messages: list[Array]) -> Array:
    """``table`` times all messages, those of one row first, while the product is still that small itself."""
    product = table
    for message in sorted(messages, key=lambda m: (m.shape[-1], m.size)):
        # The compiled table itself is never written to, nor one that is still too short for the rows of the message.
        ours = product is not table and product.shape[-1] >= message.shape[-1]
        product = algebra.multiply(product, message, out=product if ours else None)
    return product
