"""The assignments that a table can hold at all, worked out by joining its factors as relations.

Most entries of a table over functions are zero for certain: a rail that is absent has no load that works. Only the
rest, its *support*, is ever stored or summed.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from knowngood.errors import TooLargeError

Index = NDArray[np.intp]
Codes = NDArray[np.int64]

LARGEST_CODE = 2**62
"""Assignments are numbered in 64 bits; a table of more possible ones is refused."""


@dataclass(frozen=True)
class Relation:
    """Distinct assignments of some variables, one a row of ``columns`` (each (rows,), the states of one variable)."""

    variables: tuple[str, ...]
    columns: tuple[NDArray[np.uint16], ...]

    @property
    def size(self) -> int:
        return len(self.columns[0]) if self.columns else 1

    def codes(self, variables: Sequence[str], states: Mapping[str, int]) -> Codes:
        """Each row's assignment of some variables as one number, the first variable weighing most; shape (rows,)."""
        codes: Codes = np.zeros(self.size, np.int64)
        for variable in variables:
            codes *= states[variable]
            codes += self.columns[self.variables.index(variable)]
        return codes

    def pick(self, rows: Index) -> Relation:
        return Relation(self.variables, tuple(column[rows] for column in self.columns))


def support_of(variables: tuple[str, ...], table: NDArray[np.float64]) -> tuple[Relation, NDArray[np.float64]]:
    """Where a factor is not zero, and its values there."""
    found = np.nonzero(table)
    return Relation(variables, tuple(column.astype(np.uint16) for column in found)), table[found]


def join(relations: Sequence[Relation], states: Mapping[str, int], largest: int) -> tuple[Relation, list[Index]]:
    """The assignments of all variables that each relation allows, and for each relation the row that each falls in.

    Raises TooLargeError before a table of more than ``largest`` rows is made.
    """
    waiting = list(range(len(relations)))
    first = min(waiting, key=lambda one: relations[one].size)
    waiting.remove(first)
    joined = relations[first]
    _refuse(joined.size, joined.variables, largest)
    rows: dict[int, Index] = {first: np.arange(joined.size)}
    while waiting:
        here = set(joined.variables)
        # Those that share a variable first: others multiply the rows without ruling any out.
        one = min(
            waiting,
            key=lambda n: (
                here.isdisjoint(relations[n].variables),
                len(set(relations[n].variables) - here),
                relations[n].size,
            ),
        )
        waiting.remove(one)
        ours, theirs = _meet(joined, relations[one], states, largest)
        new = [n for n, variable in enumerate(relations[one].variables) if variable not in here]
        joined = Relation(
            (*joined.variables, *(relations[one].variables[n] for n in new)),
            (*(column[ours] for column in joined.columns), *(relations[one].columns[n][theirs] for n in new)),
        )
        rows = {n: index[ours] for n, index in rows.items()} | {one: theirs}
    return joined, [rows[n] for n in range(len(relations))]


def _meet(left: Relation, right: Relation, states: Mapping[str, int], largest: int) -> tuple[Index, Index]:
    """The pairs of rows, one of each relation, that agree in the variables of both."""
    shared = [variable for variable in left.variables if variable in right.variables]
    ours, theirs = left.codes(shared, states), right.codes(shared, states)
    order = np.argsort(theirs, kind="stable")
    theirs = theirs[order]
    low, high = np.searchsorted(theirs, ours, "left"), np.searchsorted(theirs, ours, "right")
    counts = high - low
    total = int(counts.sum())
    together = (*left.variables, *(variable for variable in right.variables if variable not in shared))
    _refuse(total, together, largest)
    picked = np.repeat(np.arange(left.size), counts)
    ends = np.cumsum(counts)
    within = np.arange(total) - np.repeat(ends - counts, counts)
    return picked, order[low[picked] + within]


def _refuse(entries: int, variables: tuple[str, ...], largest: int) -> None:
    if entries > largest:
        raise TooLargeError(
            f"exact inference needs a table of {entries} entries over {len(variables)} variables or more "
            f"({', '.join(variables[:8])}{', ...' if len(variables) > 8 else ''}); the limit is {largest} entries",
            entries,
        )
