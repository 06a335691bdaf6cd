"""A network whose tables do not fit, answered by cases: a few variables are fixed to each of their states in turn.

With those cut out the rest has small tables (loop cutset conditioning: J. Pearl, Probabilistic Reasoning in Intelligent
Systems, 1988, 4.4.2). Each case is a network of its own and the cases are summed by their weights, so the answers are
as exact as those of one network; they take as many times longer as there are cases.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from enum import IntEnum
from itertools import product
from math import prod
from typing import Any

import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray

from knowngood.belief.algebra import Array
from knowngood.belief.elimination import make_plan
from knowngood.belief.network import LARGEST_TABLE, Evidence, FactorNetwork
from knowngood.belief.relations import Scope
from knowngood.errors import TooLargeError

MOST_CASES = 81
"""Cases that are worked out; a network that needs more is refused."""

MOST_ENTRIES = 2**24
"""Entries that the tables of all cases may hold together: four gigabytes with what is worked on."""

PIECES = (2**36, 2**32, 2**28, 2**24, 2**20)
"""Entries, impossible ones counted, that the largest table of a case may be planned with, tried in this order."""

Factors = Sequence[tuple[Scope, NDArray[Any]]]


class Effort(IntEnum):
    """How far to go for an answer whose tables do not fit in one piece."""

    ONE_PIECE = 0
    """Not at all: for those who ask many times."""
    CASES = 1
    """By cases, exactly."""
    BOUNDS = 2
    """By cases, and where these are too many by the likeliest of them, with a bound of what is missed."""


def network(states: Mapping[str, int], factors: Factors, *, largest_table: int = LARGEST_TABLE) -> FactorNetwork:
    """The network, in one piece where that fits, else by cases. Raises TooLargeError where neither does."""
    try:
        return FactorNetwork(states, factors, largest_table=largest_table)
    except TooLargeError as error:
        tried: tuple[str, ...] = ()
        for piece in PIECES:
            variables, _ = cut(states, [scope for scope, _ in factors], piece)
            if prod(states[v] for v in variables) > MOST_CASES:
                break
            if variables and variables != tried:
                tried = variables
                try:
                    return SplitNetwork(states, factors, variables, largest_table=largest_table)
                except TooLargeError:
                    continue
        raise error


def cut(states: Mapping[str, int], scopes: Sequence[Scope], piece: int) -> tuple[tuple[str, ...], list[str]]:
    """Variables without which no table is larger than ``piece``, and the others from last to first eliminated."""
    chosen: list[str] = []
    while True:
        left = {v: n for v, n in states.items() if v not in chosen}
        plan = make_plan(left, [tuple(v for v in scope if v in left) for scope in scopes])
        if plan.largest <= piece:
            return tuple(chosen), list(reversed(plan.order))
        too_large = [clique for clique in plan.cliques if clique.entries > piece]
        chosen.append(Counter(v for clique in too_large for v in clique.variables).most_common(1)[0][0])


class SplitNetwork(FactorNetwork):
    """A network by cases of the variables ``split``. Only single variables, and scopes without those, may be asked."""

    def __init__(
        self, states: Mapping[str, int], factors: Factors, split: tuple[str, ...], *, largest_table: int = LARGEST_TABLE
    ) -> None:
        self.states = dict(states)
        self.split = split
        self.entries = 0
        self.cases: list[FactorNetwork] = []
        for case in self._each():
            one = FactorNetwork(states, [*given(factors, case), *fixed(states, case)], largest_table=largest_table)
            self.entries += one.entries
            if self.entries > MOST_ENTRIES:
                raise TooLargeError(f"the tables of all cases hold more than {MOST_ENTRIES} entries", self.entries)
            if one.possible or not self.cases:  # one at least, to say so if nothing is possible
                self.cases.append(one)
            self.plan = one.plan

    def _each(self) -> Iterator[dict[str, int]]:
        for fixed in product(*(range(self.states[v]) for v in self.split)):
            yield dict(zip(self.split, fixed, strict=True))

    def most_probable(self, evidence: Evidence | None = None) -> tuple[dict[str, int], float]:
        """As of a network in one piece: that of the case whose best weighs most."""
        found = []
        for case in self.cases:
            try:
                found.append(case.most_probable(evidence))
            except ValueError:
                if case is self.cases[-1] and not found:
                    raise
        return max(found, key=lambda one: one[1])

    def drawing(self, evidence: Evidence | None = None) -> Callable[[Generator], dict[str, int]]:
        """As of a network in one piece: a case by its weight, then from that case."""
        logs = np.array([case.log_evidence(evidence)[0] for case in self.cases])
        possible = [(case.drawing(evidence), log) for case, log in zip(self.cases, logs, strict=True) if log > -np.inf]
        if not possible:
            return self.cases[0].drawing(evidence)
        weights = np.exp([log - logs.max() for _, log in possible])

        def draw(generator: Generator) -> dict[str, int]:
            return possible[int(generator.choice(len(possible), p=weights / weights.sum()))][0](generator)

        return draw

    def _answer(
        self, evidence: Evidence | None, scopes: tuple[Scope, ...], *, best: bool = False
    ) -> tuple[list[Array], Array]:
        answers = [case._answer(evidence, scopes, best=best) for case in self.cases]
        logs = np.array([log for _, log in answers])
        top = logs.max(axis=0)
        with np.errstate(invalid="ignore", divide="ignore"):
            weights = np.where(np.isneginf(logs), 0.0, np.exp(logs - np.where(np.isneginf(top), 0.0, top)))
            log_evidence = top if best else top + np.log(weights.sum(axis=0))
        tables = []
        for number in range(len(scopes)):
            each = np.array([of_case[number] for of_case, _ in answers])
            share = weights.reshape(*weights.shape, *[1] * (each.ndim - 2))
            with np.errstate(invalid="ignore", divide="ignore"):
                if best:
                    each = each / each.max(axis=tuple(range(2, each.ndim)), keepdims=True)
                weighed = np.where(share > 0.0, share * each, 0.0)
                mixed = weighed.max(axis=0) if best else weighed.sum(axis=0) / share.sum(axis=0)
            mixed[np.isneginf(log_evidence)] = np.nan
            tables.append(mixed)
        return tables, log_evidence


def given(factors: Factors, case: Mapping[str, int]) -> list[tuple[Scope, NDArray[Any]]]:
    """The factors with the variables of a case fixed."""
    sliced = []
    for scope, table in factors:
        at = tuple(case.get(v, slice(None)) for v in scope)
        sliced.append((tuple(v for v in scope if v not in case), np.asarray(table)[at]))
    return sliced


def fixed(states: Mapping[str, int], case: Mapping[str, int]) -> list[tuple[Scope, NDArray[Any]]]:
    """Factors that leave each variable of a case its one state, so that evidence on it counts."""
    return [((v,), np.eye(states[v])[state]) for v, state in case.items()]
