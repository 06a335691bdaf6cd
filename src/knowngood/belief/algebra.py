"""The three kinds of arithmetic a tree of tables can be evaluated in.

Sum-product on plain numbers is the quick one; on logarithms it is several times slower but can neither under- nor
overflow; max-product on logarithms finds the most probable assignment. All take the log of a zero weight to be -inf, so
they are to be used with numpy's warning of a division by zero off.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array

Array = NDArray[np.float64]


@dataclass
class Groups:
    """Which rows of a table are summed together: those of group n are ``order[bounds[n]:bounds[n + 1]]``; without an
    order the rows stand that way already. No group is empty."""

    bounds: NDArray[np.intp]
    order: NDArray[np.intp] | None = None
    rows: int | None = None
    """How many rows the table has, if not each stands in one group."""

    def sums(self, table: Array) -> Array:
        """The sum of each group, shape (groups, batch)."""
        if table.shape[1] > 1:
            result: Array = self._matrix @ table
        else:  # quicker for one row of evidence, and spares making the matrix
            result = np.add.reduceat(self.pick(table), self.bounds[:-1], axis=0)
        return result

    @cached_property
    def _matrix(self) -> csr_array:
        """What a table is multiplied by to sum its groups, shape (groups, rows)."""
        entries = int(self.bounds[-1])
        order = np.arange(entries) if self.order is None else self.order
        shape = (len(self.bounds) - 1, self.rows or entries)
        return csr_array((np.ones(entries), order, self.bounds), shape=shape)

    def pick(self, table: Array) -> Array:
        """The rows in their order."""
        return table if self.order is None else np.take(table, self.order, axis=0)

    def peaks(self, table: Array) -> Array:
        """The greatest entry of each group, shape (groups, batch)."""
        result: Array = np.maximum.reduceat(self.pick(table), self.bounds[:-1], axis=0)
        return result


@dataclass(frozen=True)
class Algebra:
    """``multiply``, its inverse ``quotient``, ``total`` of groups of rows, and the ways in from numbers and back."""

    zero: float
    one: float
    multiply: np.ufunc
    quotient: np.ufunc
    total: Callable[[Array, Groups], Array]
    encode: Callable[[Array], Array]
    decode: Callable[[Array], Array]
    log: Callable[[Array], Array]

    def divide(self, a: Array, b: Array) -> Array:
        """a / b, and a where b is zero: there a is zero too or, at the root of an impossible row, met by zeros only."""
        zero = b == self.zero
        result: Array = self.quotient(a, np.where(zero, self.one, b) if zero.any() else b)
        return result


def _same(a: Array) -> Array:
    return a


def _sum(a: Array, groups: Groups) -> Array:
    return groups.sums(a)


def _log_sum(a: Array, groups: Groups) -> Array:
    peak = groups.peaks(a)
    peak = np.where(peak == -np.inf, 0.0, peak)
    spread = np.repeat(peak, np.diff(groups.bounds), axis=0)
    result: Array = np.log(np.add.reduceat(np.exp(groups.pick(a) - spread), groups.bounds[:-1], axis=0))
    return result + peak


def _max(a: Array, groups: Groups) -> Array:
    return groups.peaks(a)


PLAIN = Algebra(0.0, 1.0, np.multiply, np.divide, _sum, _same, _same, np.log)
LOGS = Algebra(-np.inf, 0.0, np.add, np.subtract, _log_sum, np.log, np.exp, _same)
BEST = Algebra(-np.inf, 0.0, np.add, np.subtract, _max, np.log, np.exp, _same)
