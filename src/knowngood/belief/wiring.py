"""The factor network that a story gives: each function's state over all configurations as one variable.

A function in a configuration is a *column*; its level is the minimum over its terms (needs, loads, the unknown), with
the maximum inside an any-of group. Columns with the same terms are the same column, so configurations that look alike
from a function are merged there. Over its columns a function has a *pattern* of levels, and one variable whose states
are the patterns that can occur (closed under minimum) stands for all of them. Terms are folded in one by one, so no
table holds more than three variables.

A level is split in two layers, each a minimum of its own: parts that are the same in all configurations, with few
patterns, and parts that were touched, mended or replaced in between, with many patterns but few parts. The layers meet
only where a function is sensed, which keeps the tables of a long log small.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Mapping, Sequence
from itertools import zip_longest
from math import prod
from typing import Any

import numpy as np
from numpy.typing import NDArray

from knowngood.belief.bounded import PartialNetwork
from knowngood.belief.cases import Effort, network
from knowngood.belief.causes import Link
from knowngood.belief.columns import Columns
from knowngood.belief.configuration import Configuration
from knowngood.belief.network import LARGEST_TABLE, FactorNetwork
from knowngood.belief.story import Story
from knowngood.belief.terms import (
    CHANGED,
    GOOD,
    HIGHEST,
    NONE,
    TOO_HIGH,
    UNSHORTED,
    AnyTerm,
    Best,
    Expression,
    Handle,
    Node,
    NodeTerm,
    PartTerm,
    Pattern,
    Term,
    Variable,
    each,
    flat,
    unknown_of,
)
from knowngood.errors import TooLargeError
from knowngood.maps.device import PartModes, Test

APART = (CHANGED, UNSHORTED, f"{UNSHORTED} {CHANGED}", "level", "voltage")
"""Aspects whose columns are variables of their own: they meet in few places, and as one they would meet everywhere."""

LARGEST_FACTOR = 2**26
"""Entries of one factor, zeros among them."""

MOST_IN_A_PATTERN = 4
"""Columns that one variable stands for: with more of them its patterns are too many."""


class Wiring(Columns):
    """Collects what is asked (``ask``), makes the factors (``wire``), then the network (``build``)."""

    def __init__(self, story: Story) -> None:
        super().__init__(story)
        self._expressions: dict[Variable, Expression] = {}
        self._states: dict[str, int] = {}
        self._factors: list[tuple[tuple[str, ...], NDArray[np.float64]]] = []
        self._links_of: dict[str, list[Link]] = {}
        """For each variable the tables that tie it to others."""
        self._classes: dict[str, Expression] = {}
        self._class_of: dict[str, tuple[int, ...]] = {}

    def wire(self) -> None:
        """Makes the factors of everything asked so far. Raises TooLargeError."""
        rested_on = {term.variable for term in self._part_terms()}
        for link in (*self.story.links, *(one for one in self.story.shown.values() if one.name in rested_on)):
            self._states[link.name] = link.table.shape[-1]
            for name in (link.name, *link.parents) if link.parents else ():
                self._links_of.setdefault(name, []).append(link)
            self._factors.append(((*link.parents, link.name), link.table))
        for function in self.device.functions:
            self._declare(unknown_of(function))
        self._classify()
        for node, columns in list(self._columns.items()):
            for column in range(len(columns)):
                self._expression(self._variable(node, column))

    def build(self, *, largest_table: int = LARGEST_TABLE, effort: Effort = Effort.CASES) -> FactorNetwork:
        """The network of what ``wire`` made, by cases where its tables do not fit. Raises TooLargeError; of what fits
        by cases neither, ``bounded`` makes a part."""
        made = FactorNetwork if effort is Effort.ONE_PIECE else network
        return made(self._states, self._factors, largest_table=largest_table)

    def bounded(self, evidence: Mapping[str, NDArray[Any]], too_large: TooLargeError) -> PartialNetwork:
        """The likeliest part of the network under some evidence, after ``build`` failed. Raises TooLargeError."""
        return PartialNetwork(self._states, self._factors, evidence, too_large)

    @property
    def anywhere(self) -> tuple[str, int]:
        """A variable that the network has, whatever was asked, and the number of its states."""
        return next(iter(self._states.items()))

    def handle(self, test: Test, configuration: Configuration) -> Handle:
        """Where the evidence of a test goes that was asked for before ``wire``."""
        if isinstance(test.senses, PartModes):
            variable = configuration.slot(test.senses.part)
            return Handle(variable, tuple(range(len(self.device.parts[test.senses.part].states))) if variable else (0,))
        return self._handle(self._node(test), configuration)

    def group(self, node: Node, configuration: Configuration) -> Handle:
        """The handle of the best member of a group that a ``demand`` names."""
        return self._handle(node, configuration)

    def acting(self, variable: str, apart: Sequence[Hashable]) -> tuple[str, list[list[int]], list[list[int]]]:
        """The ways in which a part acts: the variable to say it on, its states in each way, and the part's.

        Given one of them, nothing else depends on which of its modes it is. States with another word in ``apart`` are
        never one way. Where no other variable knows the part's, its companion says it, in a smaller table.
        """
        count = self._states[variable]
        classes = self._class_of.get(variable, (0,) * count)
        known: list[list[Hashable]] = [[one, word] for one, word in zip(classes, apart, strict=True)]
        for link in self._links_of.get(variable, ()):
            # Two states are one if their odds against each other are the same whatever the parents are, and what
            # depends on the part does not tell them apart.
            axis = link.parents.index(variable) if variable in link.parents else -1
            rows = np.moveaxis(link.table, axis, 0).reshape(count, -1)
            peak = rows.max(axis=1, keepdims=True) if axis == -1 else 1.0
            for state, row in enumerate(rows / np.where(peak == 0.0, 1.0, peak)):
                known[state].append(tuple(row.round(12)))
        ways: dict[tuple[Hashable, ...], list[int]] = {}
        for state, key in enumerate(known):
            ways.setdefault(tuple(key), []).append(state)
        own = list(ways.values())
        if variable in self._classes and len(own) == len(set(classes)):
            return f"{variable}~", [[classes[states[0]]] for states in own], own
        return variable, own, own

    def _handle(self, node: Node, configuration: Configuration) -> Handle:
        column = self.column(node, configuration)
        expression = self._expressions[self._variable(node, column)]
        place = self._place(node, column)
        return Handle(expression.variable, _rows(node, tuple(pattern[place] for pattern in expression.patterns)))

    def _expression(self, variable: Variable) -> Expression:
        if variable not in self._expressions:
            node, column = variable
            columns = list(self._columns[node])
            if column is not None:
                columns = [columns[column]]
            if node[1] == "voltage":
                self._expressions[variable] = self._voltage(node, columns[0])
            elif node[1].startswith("again"):
                self._expressions[variable] = self._fold(node, columns, HIGHEST, min)
            else:
                self._expressions[variable] = self._folded(node, columns)
        return self._expressions[variable]

    def _voltage(self, node: Node, terms: Sequence[Term]) -> Expression:
        """A rail as a voltmeter finds it: its level, but for a rail that is driven up, and one that pulses."""
        by_aspect = {
            term.node[1]: self._node_expression(self._variable(term.node, term.column), [(term,)], GOOD, min)
            for term in terms
            if isinstance(term, NodeTerm)
        }
        found = by_aspect.get("level") or by_aspect[UNSHORTED]
        if "high" in by_aspect:
            found = self._combine(node, found, by_aspect["high"], _too_high)
        if "short" in by_aspect:
            pulsing = TOO_HIGH + 1 if "high" in by_aspect else TOO_HIGH  # the last row of the test's table
            found = self._combine(node, found, by_aspect["short"], lambda level, short: _pulses(level, short, pulsing))
        return found

    def _folded(self, node: Node, columns: list[tuple[Term, ...]]) -> Expression:
        result = self._fold(node, columns, GOOD, min)
        groups = [[term.members for term in terms if isinstance(term, AnyTerm)] for terms in columns]
        # Two groups may come to the same in one configuration, which then has fewer: a group that is good for certain.
        for members in zip_longest(*groups, fillvalue=(GOOD,)):
            result = self._combine(node, result, self._fold(node, members, NONE, max), min)
        return result

    def _fold(self, node: Node, columns: Sequence[tuple[Term, ...]], neutral: int, best: Best) -> Expression:
        """The best (minimum, or maximum in a group) of the terms of each column, source by source."""
        certain = (best([neutral, *(term for term in terms if isinstance(term, int))]) for terms in columns)
        result = Expression(None, (tuple(certain),))
        terms = [term for column in columns for term in column]
        variables = dict.fromkeys(term.variable for term in terms if isinstance(term, PartTerm))
        # What a part shows in each spell hangs together: met one after the other, the parts are met once.
        first = {self.story.slot_of(variable): place for place, variable in reversed(list(enumerate(variables)))}
        for variable in sorted(variables, key=lambda one: first[self.story.slot_of(one)]):
            result = self._combine(node, result, self._part_expression(variable, columns, neutral, best), best)
        for inner in dict.fromkeys(
            self._variable(term.node, term.column) for term in terms if isinstance(term, NodeTerm)
        ):
            result = self._combine(node, result, self._node_expression(inner, columns, neutral, best), best)
        return result

    def _classify(self) -> None:
        """Gives each part variable a companion with one state for each way it acts, if that is fewer than its states.

        Modes that do the same to everything asked are one there, so the tables of functions need not tell them apart.
        """
        allows: dict[str, list[Pattern]] = {}
        for term in self._part_terms():
            allows.setdefault(term.variable, []).append(term.allows)
        for variable, used in allows.items():
            self._declare(variable)
            rows = list(zip(*dict.fromkeys(used), strict=True))
            classes = list(dict.fromkeys(rows))
            self._class_of[variable] = tuple(classes.index(row) for row in rows)
            if len(classes) < len(rows):
                table = np.array([[float(row == one) for one in classes] for row in rows])
                companion = f"{variable}~"
                self._states[companion] = len(classes)
                self._factors.append(((variable, companion), table))
                picked = tuple((rows.index(one),) for one in classes)
                self._classes[variable] = Expression(companion, picked)

    def _part_terms(self) -> Iterator[PartTerm]:
        """The parts that anything asked rests on."""
        for columns in self._columns.values():
            for terms in columns:
                yield from (term for term in flat(terms) if isinstance(term, PartTerm))

    def _part_expression(
        self, variable: str, columns: Sequence[tuple[Term, ...]], neutral: int, best: Best
    ) -> Expression:
        whole = Expression(variable, tuple((state,) for state in range(self._states[variable])))
        acting = self._classes.get(variable, whole)
        own = [
            [term.allows for term in terms if isinstance(term, PartTerm) and term.variable == variable]
            for terms in columns
        ]
        patterns = (
            tuple(best([neutral, *(allows[state] for allows in column)]) for column in own)
            for (state,) in acting.patterns
        )
        return Expression(acting.variable, tuple(patterns))

    def _node_expression(
        self, variable: Variable, columns: Sequence[tuple[Term, ...]], neutral: int, best: Best
    ) -> Expression:
        inner = self._expression(variable)
        own = [
            [
                self._place(term.node, term.column)
                for term in terms
                if isinstance(term, NodeTerm) and self._variable(term.node, term.column) == variable
            ]
            for terms in columns
        ]
        patterns = (
            tuple(best([neutral, *(pattern[one] for one in column)]) for column in own) for pattern in inner.patterns
        )
        return Expression(inner.variable, tuple(patterns))

    def _apart(self, node: Node) -> bool:
        """Whether each column of a node is a variable of its own, not one pattern over all of them."""
        many = len(self._columns[node]) > MOST_IN_A_PATTERN and not node[1].startswith("again")
        return node[1] in APART or many

    def _variable(self, node: Node, column: int) -> Variable:
        return (node, column) if self._apart(node) else (node, None)

    def _place(self, node: Node, column: int) -> int:
        """Where a column stands in the patterns of its variable."""
        return 0 if self._apart(node) else column

    def _declare(self, variable: str) -> None:
        """The unknown of a function, which no link brings."""
        if variable not in self._states:
            chance = self.device.unknown_per_function
            self._states[variable] = 2
            self._factors.append(((variable,), np.array([1.0 - chance, chance])))

    def _combine(self, node: Node, left: Expression, right: Expression, best: Best) -> Expression:
        joint = [[each(best, one, two) for two in right.patterns] for one in left.patterns]
        if left.variable is None:
            return Expression(right.variable, tuple(joint[0]))
        if right.variable is None:
            return Expression(left.variable, tuple(row[0] for row in joint))
        if left.variable == right.variable:
            return Expression(left.variable, tuple(row[state] for state, row in enumerate(joint)))
        patterns = tuple(sorted({pattern for row in joint for pattern in row}))
        index = {pattern: number for number, pattern in enumerate(patterns)}
        shape = (len(left.patterns), len(right.patterns), len(patterns))
        if prod(shape) > LARGEST_FACTOR:
            raise TooLargeError(
                f"'{node[0]}' has {len(patterns)} patterns of levels over the log's states", prod(shape)
            )
        table = np.zeros(shape)
        for one, row in enumerate(joint):
            for two, pattern in enumerate(row):
                table[one, two, index[pattern]] = 1.0
        name = f"{node[0]}:{node[1]}:{len(self._states)}"
        self._states[name] = len(patterns)
        self._factors.append(((left.variable, right.variable, name), table))
        return Expression(name, patterns)

    def together(self, node: Node) -> Expression:
        """The variable of ``ask_together``: for each of its states the row of each configuration."""
        expression = self._expressions[node, None]
        sensed = next(term.node for terms in self._columns[node] for term in terms if isinstance(term, NodeTerm))
        return Expression(expression.variable, tuple(_rows(sensed, pattern) for pattern in expression.patterns))


def _rows(node: Node, levels: Pattern) -> Pattern:
    """The rows of a test's table that levels of what it senses stand for."""
    two = node[1] in ("short", "any-mode")  # these know only 'it is so' and 'it is not'
    return tuple(level // GOOD for level in levels) if two else levels


def _too_high(level: int, high: int) -> int:
    """None, weak, good as the level says; too high where the level is good and the rail is driven up."""
    return TOO_HIGH if level == GOOD and high == NONE else level


def _pulses(voltage: int, short: int, pulsing: int) -> int:
    """The voltage, but for a short: then ``pulsing``, if there is anything that the supply could start with."""
    return voltage if short == GOOD or voltage == NONE else pulsing
