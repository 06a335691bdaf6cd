"""Relations: the assignments of some variables that are possible, joined with one another."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from knowngood.errors import TooLargeError

Index = NDArray[np.intp]
Codes = NDArray[np.int64]
Scope = tuple[str, ...]

SAMPLE = 2**10
"""Rows of a join that tell what to join next."""


@dataclass(frozen=True, eq=False)
class Relation:
    """Distinct assignments of some variables, one a row; each column (rows,) holds the states of one variable."""

    columns: Mapping[str, NDArray[Any]]
    size: int

    def codes(self, variables: Sequence[str], states: Mapping[str, int]) -> Codes:
        """Each row's assignment of some variables as one number, the first variable weighing most; shape (rows,)."""
        if not variables:
            return np.zeros(self.size, np.int64)
        codes: Codes = self.columns[variables[0]].astype(np.int64)
        for variable in variables[1:]:
            codes *= states[variable]
            codes += self.columns[variable]
        return codes

    def pick(self, rows: Index) -> Relation:
        return Relation({variable: column[rows] for variable, column in self.columns.items()}, len(rows))


def where(scope: Scope, found: Sequence[Index]) -> Relation:
    return Relation({v: column.astype(np.uint16) for v, column in zip(scope, found, strict=True)}, len(found[0]))


def join(relations: Sequence[Relation], states: Mapping[str, int], largest: int) -> Relation:
    """The assignments of all variables that each relation allows.

    Raises TooLargeError before a table of more than ``largest`` rows is made.
    """
    waiting = list(relations)
    joined = min(waiting, key=lambda one: one.size)
    waiting.remove(joined)
    refuse(joined.size, tuple(joined.columns), largest)
    while waiting:
        one = min(waiting, key=lambda other: _growth(joined, other, states))
        waiting.remove(one)
        joined = pair(joined, one, states, largest)
    return joined


def pair(left: Relation, right: Relation, states: Mapping[str, int], largest: int) -> Relation:
    """The assignments of all variables of two relations that both allow."""
    ours, theirs = _meet(left, right, states, largest)
    columns = {v: column[ours] for v, column in left.columns.items()}
    columns |= {v: column[theirs] for v, column in right.columns.items() if v not in left.columns}
    return Relation(columns, len(ours))


def _growth(joined: Relation, other: Relation, states: Mapping[str, int]) -> tuple[float, int]:
    """By what factor the rows become more if another relation is joined, by a sample of them; then its size."""
    shared = [variable for variable in joined.columns if variable in other.columns]
    if not shared:
        return float(other.size), other.size
    some = slice(None, None, max(1, joined.size // SAMPLE))
    columns = {v: joined.columns[v][some] for v in shared}
    rows = len(next(iter(columns.values())))
    ours = Relation(columns, rows).codes(shared, states)
    theirs = np.sort(other.codes(shared, states))
    met = np.searchsorted(theirs, ours, "right") - np.searchsorted(theirs, ours, "left")
    return float(met.sum()) / max(rows, 1), other.size


def _meet(left: Relation, right: Relation, states: Mapping[str, int], largest: int) -> tuple[Index, Index]:
    """The pairs of rows, one of each relation, that agree in the variables of both."""
    shared = [variable for variable in left.columns if variable in right.columns]
    ours, theirs = left.codes(shared, states), right.codes(shared, states)
    order = np.argsort(theirs, kind="stable")
    theirs = theirs[order]
    low, high = np.searchsorted(theirs, ours, "left"), np.searchsorted(theirs, ours, "right")
    counts = high - low
    total = int(counts.sum())
    refuse(total, tuple({**left.columns, **right.columns}), largest)
    picked = np.repeat(np.arange(left.size), counts)
    ends = np.cumsum(counts)
    within = np.arange(total) - np.repeat(ends - counts, counts)
    return picked, order[low[picked] + within]


def refuse(entries: int, variables: Scope, largest: int) -> None:
    if entries > largest:
        raise TooLargeError(
            f"exact inference needs a table of {entries} entries over {len(variables)} variables or more "
            f"({', '.join(variables[:8])}{', ...' if len(variables) > 8 else ''}); the limit is {largest} entries",
            entries,
        )
