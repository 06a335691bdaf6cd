"""The three kinds of arithmetic a tree of tables can be evaluated in.

Sum-product on plain numbers is the quick one; on logarithms it is several times slower but can neither under- nor
overflow; max-product on logarithms finds the most probable assignment. All take the log of a zero weight to be -inf, so
they are to be used with numpy's warning of a division by zero off.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Axes = int | tuple[int, ...]


@dataclass(frozen=True)
class Algebra:
    """``multiply``, its inverse ``quotient``, ``total`` over axes, and the ways in from plain numbers and back out."""

    zero: float
    one: float
    multiply: np.ufunc
    quotient: np.ufunc
    total: Callable[[Array, Axes], Array]
    encode: Callable[[Array], Array]
    decode: Callable[[Array], Array]
    log: Callable[[Array], Array]

    def divide(self, a: Array, b: Array) -> Array:
        """a / b, and a where b is zero: there a is zero too or, at the root of an impossible row, met by zeros only."""
        result: Array = self.quotient(a, np.where(b == self.zero, self.one, b))
        return result

    def scale(self, a: Array) -> tuple[Array, Array]:
        """``a`` (states, batch) with each column's greatest entry made one, and the logs (batch,) taken out of it."""
        peak = a.max(axis=0)
        return self.divide(a, peak), self.log(peak)


def _same(a: Array) -> Array:
    return a


def _sum(a: Array, axes: Axes) -> Array:
    result: Array = np.add.reduce(a, axis=axes)
    return result


def _log_sum(a: Array, axes: Axes) -> Array:
    peak = np.maximum.reduce(a, axis=axes, keepdims=True)
    peak = np.where(peak == -np.inf, 0.0, peak)
    result: Array = np.log(_sum(np.exp(a - peak), axes))
    return result + peak.reshape(result.shape)


def _max(a: Array, axes: Axes) -> Array:
    result: Array = np.maximum.reduce(a, axis=axes)
    return result


PLAIN = Algebra(0.0, 1.0, np.multiply, np.divide, _sum, _same, _same, np.log)
LOGS = Algebra(-np.inf, 0.0, np.add, np.subtract, _log_sum, np.log, np.exp, _same)
BEST = Algebra(-np.inf, 0.0, np.add, np.subtract, _max, np.log, np.exp, _same)
