"""Evidence as the network takes it: weights on the states of variables, one set or a batch of them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

Vector = NDArray[np.float64]
Evidence = dict[str, NDArray[np.float64]]


class Batch:
    """Many sets of evidence: the same start in each row, then more in some. A variable has rows of its own, (rows,
    states), once one of them says more than the start does."""

    def __init__(self, start: Evidence, count: int, states: Mapping[str, int]) -> None:
        self._states = states
        self._count = count
        self.rows: Evidence = dict(start)
        self._spread(next(iter(states)))  # so that even rows that say nothing are counted

    def multiply(self, row: int, variable: str, values: Sequence[float] | NDArray[np.float64]) -> None:
        """More evidence in one row."""
        known = self.rows.get(variable)
        if known is None or known.ndim == 1:
            known = self._spread(variable)
        known[row] *= values

    def of(self, rows: Sequence[int]) -> Evidence:
        """Some of the rows."""
        return {name: table if table.ndim == 1 else table[rows] for name, table in self.rows.items()}

    def _spread(self, variable: str) -> Vector:
        start = self.rows.get(variable, np.ones(self._states[variable]))
        self.rows[variable] = np.tile(start, (self._count, 1))
        return self.rows[variable]


@dataclass(frozen=True)
class Weight:
    """One piece of evidence as likelihood weights on one variable, with the lines it came from."""

    lines: tuple[int, ...]
    text: str
    variable: str
    values: Vector


def both(one: Evidence, other: Evidence) -> Evidence:
    """Two sets of evidence as one."""
    return one | {name: one.get(name, 1.0) * values for name, values in other.items()}


@lru_cache(maxsize=4096)
def allowing(states: tuple[bool, ...]) -> Vector:
    """Weight one for each state that is allowed, zero for the rest; shared, so not to be written to."""
    weights: Vector = np.array(states, float)
    weights.flags.writeable = False
    return weights
