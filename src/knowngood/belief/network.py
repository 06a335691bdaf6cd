"""Exact posteriors over discrete variables: one compiled structure, many sets of evidence in one pass."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from math import prod
from typing import Any

import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray

from knowngood.belief.algebra import BEST, LOGS, PLAIN, Algebra, Array
from knowngood.belief.elimination import Plan, make_plan, merged
from knowngood.belief.relations import Scope
from knowngood.belief.tree import Findings, Tree

Evidence = Mapping[str, NDArray[Any]]
"""Likelihood weights of each variable's states, (states,) or (batch, states), of any scale; one batch for all."""

LARGEST_TABLE = 2**21
"""Entries that one table may hold, impossible ones not counted: about a gigabyte while it is made."""

ENTRIES_AT_A_TIME = 2**21
"""Rows of evidence are taken in even portions, so that the tables of one portion together hold about this many numbers
(or those of a single row, where that is more); a pass needs about twice that memory."""


class Posteriors:
    """The answer to one set of evidence. ``p[variable]`` is (batch, states), rows summing to one.

    ``log_evidence`` (batch,) is the natural logarithm of the sum, over all assignments, of the product of factors and
    evidence weights. A row that cannot be true has -inf there and NaN for every variable.
    """

    def __init__(self, tables: dict[str, Array], log_evidence: Array) -> None:
        self._tables = tables
        self.log_evidence = log_evidence

    def __getitem__(self, variable: str) -> Array:
        return self._tables[variable]

    @property
    def variables(self) -> tuple[str, ...]:
        return tuple(self._tables)


class FactorNetwork:
    """A product of nonnegative tables over discrete variables, compiled once.

    ``states`` gives each variable its number of states; a factor is a tuple of variables and an array whose axes follow
    them, in any scale. Factors and evidence must be finite: a wrong one is refused with ValueError, a network with a
    table of more than ``largest_table`` entries that can be other than zero with TooLargeError before that memory is
    taken. ``plan`` can be printed; ``entries`` is what all tables hold.

    Results are in double precision. Where a product of weights would leave its range, that portion of the rows is
    computed again on logarithms, several times slower, rather than rounded to zero.
    """

    def __init__(
        self,
        states: Mapping[str, int],
        factors: Sequence[tuple[Scope, NDArray[Any]]],
        *,
        largest_table: int = LARGEST_TABLE,
    ) -> None:
        for variable, n in states.items():
            if n < 1:
                raise ValueError(f"variable {variable!r} has {n} states; it needs at least 1")
        self.states = dict(states)
        checked = [self._factor(tuple(scope), table) for scope, table in factors]
        self.plan: Plan = make_plan(self.states, [scope for scope, _ in checked])
        self._tree = Tree(merged(self.plan, self.states), self.states, checked, largest_table)
        self.entries = self._tree.size
        self.possible = self._tree.possible
        """Whether any assignment has a weight."""

    def posteriors(self, evidence: Evidence | None = None, of: Iterable[str] | None = None) -> Posteriors:
        """The posterior of some variables, or else of all, for each row of evidence.

        ValueError for evidence that does not fit the network, or a name it does not have.
        """
        variables = tuple(self.states) if of is None else tuple(dict.fromkeys(of))
        for v in variables:
            self._check_scope((v,))
        tables, log_evidence = self._answer(evidence, tuple((v,) for v in variables))
        return Posteriors(dict(zip(variables, tables, strict=True)), log_evidence)

    def log_evidence(self, evidence: Evidence | None = None) -> Array:
        """What ``posteriors`` gives under that name, (batch,), without the downward half of the work."""
        return self._answer(evidence, ())[1]

    def joint(self, variables: Scope, evidence: Evidence | None = None) -> Array:
        """The joint posterior (batch, states of the first, of the second, ...), NaN in impossible rows.

        ValueError unless the variables share a table of the plan.
        """
        self._check_scope(variables)
        if not variables:
            raise ValueError("the joint posterior of no variables was asked for; name at least one")
        return self._answer(evidence, (variables,))[0][0]

    def most_probable(self, evidence: Evidence | None = None) -> tuple[dict[str, int], float]:
        """An assignment (variable to state number) of the greatest weight, and the natural log of that weight.

        ValueError for more than one row of evidence, or if no assignment has any weight.
        """
        log_weight, kept = self._kept(BEST, evidence, "the most probable assignment is found")
        chosen = self._tree.trace(kept)
        return {v: chosen[v] for v in self.states}, log_weight

    def drawing(self, evidence: Evidence | None = None) -> Callable[[Generator], dict[str, int]]:
        """A function that draws an assignment (variable to state number) from the posterior, exactly.

        ValueError for more than one row of evidence, or if no assignment has any weight.
        """
        _, kept = self._kept(LOGS, evidence, "assignments are drawn")
        drawn = self._tree.drawing(kept)
        single = [v for v, n in self.states.items() if n == 1]
        return lambda generator: drawn(generator) | dict.fromkeys(single, 0)

    def max_marginals(self, variables: Scope, evidence: Evidence | None = None) -> tuple[dict[str, Array], Array]:
        """For each state of each variable the greatest weight of an assignment with that state, as a share of the
        row's greatest, (batch, states); and the natural log of that greatest weight, (batch,).

        In a row that cannot be true the shares are NaN and the log is -inf.
        """
        tables, log_weight = self._answer(evidence, tuple((v,) for v in variables), best=True)
        shares = (table / table.max(axis=1, keepdims=True) for table in tables)
        return dict(zip(variables, shares, strict=True)), log_weight

    def _answer(
        self, evidence: Evidence | None, scopes: tuple[Scope, ...], *, best: bool = False
    ) -> tuple[list[Array], Array]:
        """Per scope its posterior (batch, states...), and the log evidence (batch,); with ``best`` sums are maxima."""
        findings, batch = self._findings(evidence)
        log_evidence = np.full(batch, -np.inf)
        reading = self._tree.reading(scopes)
        answer = np.full((reading.size, batch), np.nan)
        portions = max(1, round(batch * self.entries / ENTRIES_AT_A_TIME))
        step = -(-batch // portions) or 1
        for start in range(0, batch if self._tree.possible else 0, step):
            rows = slice(start, start + step)
            answer[:, rows], log_evidence[rows] = self._portion(findings.of(rows), scopes, best)
        answer[:, log_evidence == -np.inf] = np.nan
        if scopes:  # a long way down the tree leaves each table a few roundings away from a sum of one
            sizes = np.diff([*reading.starts, reading.size])
            answer /= np.repeat(np.add.reduceat(answer, reading.starts), sizes, axis=0)
        tables = []
        for scope, start in zip(scopes, reading.starts, strict=True):
            shape = [self.states[v] for v in scope]
            tables.append(answer[start : start + prod(shape)].T.reshape(batch, *shape))
        return tables, log_evidence

    def _kept(self, algebra: Algebra, evidence: Evidence | None, what: str) -> tuple[float, list[tuple[Array, Array]]]:
        """The log weight of one row of evidence and the tables kept of it, for ``what`` takes one row at a time."""
        findings, batch = self._findings(evidence)
        if batch != 1:
            raise ValueError(f"the evidence has {batch} rows; {what} for 1 at a time")
        log_weight = np.full(1, -np.inf)
        if self._tree.possible:
            with np.errstate(divide="ignore", under="ignore"):
                log_weight, kept = self._tree.collect(algebra, findings, keep=True)
        if log_weight[0] == -np.inf:
            raise ValueError("every assignment has weight 0 under this evidence; at least one must be possible")
        return float(log_weight[0]), kept

    def _portion(self, findings: Findings, scopes: tuple[Scope, ...], best: bool) -> tuple[Array, Array]:
        if best:
            with np.errstate(divide="ignore", under="ignore"):
                return self._run(BEST, findings, scopes)
        try:
            if self._tree.in_range:
                with np.errstate(divide="ignore", under="raise", over="raise", invalid="raise"):
                    return self._run(PLAIN, findings, scopes)
        except FloatingPointError:
            pass
        # A weight out of range may be negligible, or may be all that a later contradiction leaves: only logarithms
        # can tell.
        with np.errstate(divide="ignore", under="ignore"):
            return self._run(LOGS, findings, scopes)

    def _findings(self, evidence: Evidence | None) -> tuple[Findings, int]:
        """The evidence as the tree takes it, and the number of rows."""
        weights: dict[str, Array] = {}
        batch = 1
        for v, given in (evidence or {}).items():
            if v not in self.states:
                raise ValueError(f"evidence on {v!r}; no variable of the network has that name")
            table = weights[v] = np.asarray(given, dtype=np.float64)
            n = self.states[v]
            if table.ndim not in (1, 2) or table.shape[-1] != n:
                raise ValueError(f"evidence on {v!r} has shape {table.shape}; it must be ({n},) or (batch, {n})")
            _check_weights("evidence on", v, table)
            rows = len(table) if table.ndim == 2 else 1
            if rows != 1 and batch not in (1, rows):
                raise ValueError(f"evidence on {v!r} has {rows} rows where others have {batch}; it needs {batch} or 1")
            batch = batch if rows == 1 else rows
        return self._tree.findings(weights, batch), batch

    def _run(self, algebra: Algebra, findings: Findings, scopes: tuple[Scope, ...]) -> tuple[Array, Array]:
        if scopes:
            return self._tree.marginals(algebra, findings, scopes)
        return np.empty((0, 1)), self._tree.collect(algebra, findings, keep=False)[0]

    def _factor(self, scope: Scope, given: NDArray[Any]) -> tuple[Scope, Array]:
        """A checked copy of a factor, without the axes of one-state variables: those say nothing, and numpy has few."""
        self._check_scope(scope)
        table = np.array(given, dtype=np.float64)
        shape = tuple(self.states[v] for v in scope)
        if table.shape != shape:
            raise ValueError(f"factor over {scope} has shape {table.shape}; its variables' states make it {shape}")
        _check_weights("factor over", scope, table)
        kept = tuple(v for v in scope if self.states[v] > 1)
        return kept, table.reshape([self.states[v] for v in kept])

    def _check_scope(self, scope: Scope) -> None:
        for v in scope:
            if v not in self.states:
                raise ValueError(f"{scope} names {v!r}; no variable of the network has that name")
            if scope.count(v) > 1:
                raise ValueError(f"{scope} names {v!r} {scope.count(v)} times; each variable may stand in it once")


def _check_weights(what: str, of: object, table: Array) -> None:
    if table.size and not (table.min() >= 0.0 and table.max() < np.inf):  # not a number is neither
        first = float(table[~(np.isfinite(table) & (table >= 0))][0])
        raise ValueError(f"{what} {of!r} holds {first!r}; every weight must be finite and not negative")
