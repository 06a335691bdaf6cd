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

from collections.abc import Callable, Hashable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import zip_longest
from math import prod
from typing import Any

import numpy as np
from numpy.typing import NDArray

from knowngood.belief.bounded import PartialNetwork
from knowngood.belief.cases import Effort, network
from knowngood.belief.causes import Link
from knowngood.belief.configuration import Configuration
from knowngood.belief.network import LARGEST_TABLE, FactorNetwork
from knowngood.belief.story import Sensed, Story
from knowngood.errors import TooLargeError
from knowngood.maps.device import AnyMode, Device, FunctionLevel, Mode, Part, PartModes, RailToGround, RailVoltage, Test
from knowngood.maps.words import Level

GOOD, WEAK, NONE = int(Level.GOOD), int(Level.WEAK), int(Level.NONE)
TOO_HIGH = 3
HIGHEST = 4
"""The highest row that anything sensed has: of a rail that can be too high, and can pulse."""
STEADY, CHANGED = "steady", "changed"
LAYERS = (CHANGED, STEADY)
"""The two layers of a function's level: what is the same in all configurations that matter, and what is not."""
UNSHORTED = "unshorted"
"""What a rail would be if no load shorted it: a level as any other, of the same two layers."""
APART = (CHANGED, UNSHORTED, f"{UNSHORTED} {CHANGED}", "level", "voltage")
"""Aspects whose columns are variables of their own: they meet in few places, and as one they would meet everywhere."""

LARGEST_FACTOR = 2**26
"""Entries of one factor, zeros among them."""

MOST_IN_A_PATTERN = 4
"""Columns that one variable stands for: with more of them its patterns are too many."""

Best = Callable[..., int]
"""The minimum or the maximum of two levels or of many, or what two things come to together."""
Pattern = tuple[int, ...]
Node = tuple[str, str]
"""A function or test, and which aspect of it: level, steady, changed, short, high, unshorted, voltage, any-mode."""
Variable = tuple[Node, int | None]
"""What one variable stands for: all columns of a node (None), or one column of a node in ``APART``."""


@dataclass(frozen=True)
class PartTerm:
    """What a part's variable allows: one level for each of its states."""

    variable: str
    allows: Pattern


@dataclass(frozen=True)
class NodeTerm:
    """What another node's column allows: its own level."""

    node: Node
    column: int


@dataclass(frozen=True)
class AnyTerm:
    """The best of its members."""

    members: tuple[PartTerm | NodeTerm | int, ...]


Term = PartTerm | NodeTerm | AnyTerm | int
"""A bare number is a level that holds for certain."""


@dataclass(frozen=True)
class Expression:
    """A pattern for each state of a variable; with no variable, one pattern that holds for certain."""

    variable: str | None
    patterns: tuple[Pattern, ...]


@dataclass(frozen=True)
class Handle:
    """Where a test's evidence goes: the variable, and for each of its states the row of the test's table."""

    variable: str | None
    rows: tuple[int, ...]


@dataclass
class Ceiling:
    """What a function's level cannot exceed: for each variable a level for each of its states, the best member of each
    group, and a level that holds for certain."""

    levels: dict[str, Pattern]
    groups: dict[tuple[Node, Configuration], None]
    most: int

    def join(self, other: Ceiling) -> None:
        for variable, levels in other.levels.items():
            known = self.levels.get(variable, levels)
            self.levels[variable] = levels if known is levels else _each(min, known, levels)
        self.groups |= other.groups
        self.most = min(self.most, other.most)

    def cap(self, term: Term) -> None:
        if isinstance(term, PartTerm):
            known = self.levels.get(term.variable, term.allows)
            self.levels[term.variable] = term.allows if known is term.allows else _each(min, known, term.allows)
        elif isinstance(term, int):
            self.most = min(self.most, term)
        else:
            raise AssertionError(term)


@dataclass(frozen=True)
class Demand:
    """What it takes that a function is at a level: states of parts, and groups of which one member is."""

    allows: tuple[tuple[str, tuple[bool, ...]], ...]
    """For each variable that could keep it lower, the states that leave it there."""
    groups: tuple[tuple[Node, Configuration], ...]
    possible: bool


class Wiring:
    """Collects what is asked (``ask``), makes the factors (``wire``), then the network (``build``)."""

    def __init__(self, story: Story) -> None:
        self.story = story
        self.device: Device = story.device
        # A short is a node of its own only where something rests on it, for each one makes the tables larger.
        self.sensed_short = {
            item.test.senses.function
            for item in story.evidence
            if isinstance(item, Sensed) and isinstance(item.test.senses, RailToGround)
        } | {rail for function in self.device.functions.values() for rail in function.spoiled_by}
        self.pulsing = {
            item.test.senses.function
            for item in story.evidence
            if isinstance(item, Sensed) and isinstance(item.test.senses, RailVoltage)
            if self.device.can_pulse(item.test.senses.function)
        }
        self.sensed_short |= self.pulsing
        self.changed, self.plugged_or_not = _changed(story)
        self._columns: dict[Node, dict[tuple[Term, ...], int]] = {}
        self._known: dict[tuple[Node, Configuration], int] = {}
        self._ceilings: dict[tuple[str, Configuration, bool], Ceiling] = {}
        self._expressions: dict[Variable, Expression] = {}
        self._states: dict[str, int] = {}
        self._factors: list[tuple[tuple[str, ...], NDArray[np.float64]]] = []
        self._links_of: dict[str, list[Link]] = {}
        """For each variable the tables that tie it to others."""
        self._bounds: dict[tuple[Node, int], frozenset[PartTerm | NodeTerm]] = {}
        self._classes: dict[str, Expression] = {}
        self._class_of: dict[str, tuple[int, ...]] = {}

    # ---- first: what is asked -----------------------------------------------------------------------------------

    def column(self, node: Node, configuration: Configuration) -> int:
        """The column of a node in a configuration."""
        key = (node, configuration)
        if key not in self._known:
            terms = self._absorbed(self._terms(node, configuration))
            columns = self._columns.setdefault(node, {})
            column = columns.setdefault(terms, len(columns))
            self._known[key] = column
            self._bounds[node, column] = self._bounds_of(terms)
        return self._known[key]

    def _bounds_of(self, terms: Iterable[Term]) -> frozenset[PartTerm | NodeTerm]:
        """Every term that a column with these terms can never exceed: its own, and theirs."""
        bounds: set[PartTerm | NodeTerm] = set()
        for term in terms:
            if isinstance(term, (PartTerm, NodeTerm)):
                bounds.add(term)
            if isinstance(term, NodeTerm):
                bounds |= self._bounds[term.node, term.column]
        return frozenset(bounds)

    def _absorbed(self, terms: list[Term]) -> tuple[Term, ...]:
        """The terms without those that another one implies: a minimum is not changed by a bound it already has.

        Exact, and what keeps the tables small: a part that a function needs and that its rail needs too is met once.
        """
        kept = list(dict.fromkeys(terms))
        for term in list(kept):
            others = (one for one in kept if one is not term and isinstance(one, NodeTerm))
            bounds = {bound for one in others for bound in self._bounds[one.node, one.column]}
            if term in bounds or (isinstance(term, PartTerm) and any(_tighter(bound, term) for bound in bounds)):
                kept.remove(term)
        return tuple(kept)

    def ask(self, test: Test, configuration: Configuration) -> None:
        """Notes that what a test senses is needed in a configuration."""
        if not isinstance(test.senses, PartModes):
            self.column(self._node(test), configuration)

    def _node(self, test: Test) -> Node:
        match test.senses:
            case AnyMode():
                return (test.id, "any-mode")
            case RailToGround(function):
                return (function, "short")
            case RailVoltage(function) if self.device.can_be_high(function) or self.device.can_pulse(function):
                return (function, "voltage")
            case FunctionLevel(function) | RailVoltage(function):
                return (function, "level")
        raise AssertionError(test)

    def ask_together(self, test: Test, configurations: Sequence[Configuration]) -> Node:
        """Notes that what a test senses is needed in several configurations as one variable."""
        node: Node = (test.id, f"again-{len(self._columns)}")
        columns = self._columns[node] = {}
        for configuration in configurations:
            columns[NodeTerm(self._node(test), self.column(self._node(test), configuration)),] = len(columns)
        return node

    def column_of(self, test: Test, configuration: Configuration) -> Hashable:
        """What a test senses in a configuration: the same wherever it is the same thing."""
        if isinstance(test.senses, PartModes):
            return configuration.slot(test.senses.part)
        node = self._node(test)
        return NodeTerm(node, self.column(node, configuration))

    def columns_of(self, node: Node) -> list[Hashable]:
        """What each place in the patterns of ``together`` stands for, as ``column_of`` gives it."""
        return [terms[0] for terms in self._columns[node]]

    def together(self, node: Node) -> Expression:
        """The variable of ``ask_together``: for each of its states the row of each configuration."""
        expression = self._expressions[node, None]
        sensed = next(term.node for terms in self._columns[node] for term in terms if isinstance(term, NodeTerm))
        return Expression(expression.variable, tuple(_rows(sensed, pattern) for pattern in expression.patterns))

    def demand(
        self, functions: Iterable[str], configuration: Configuration, least: int = GOOD, *, unshorted: bool = False
    ) -> Demand:
        """What it takes that functions are all at a level at least: a minimum is, if every term is. So there need be no
        variable of the function. Groups must have been named before ``wire``. ``unshorted`` leaves out what shorts
        these rails themselves."""
        ceiling = Ceiling({}, {}, GOOD)
        for function in functions:
            ceiling.join(self._ceiling(function, configuration, unshorted))
        allows = ((name, tuple(level >= least for level in levels)) for name, levels in ceiling.levels.items())
        limits = tuple((name, states) for name, states in allows if not all(states))
        return Demand(limits, tuple(ceiling.groups), ceiling.most >= least)

    def name_groups(self, functions: Iterable[str], configuration: Configuration) -> None:
        """Notes that demands may be made in a configuration, which rest on the groups of these functions."""
        for name in functions:
            for number in range(len(self.device.functions[name].any_of)):
                self.column((name, f"group-{number}"), configuration)

    def members(self, node: Node) -> tuple[str, ...]:
        """The members of a group that a ``demand`` names."""
        name, aspect = node
        return self.device.functions[name].any_of[int(aspect.removeprefix("group-"))]

    def _ceiling(self, name: str, configuration: Configuration, unshorted: bool = False) -> Ceiling:
        """All that a function's level is the minimum of, down to parts and groups."""
        key = (name, configuration, unshorted)
        if key in self._ceilings:
            return self._ceilings[key]
        function = self.device.functions[name].fed(configuration.fed)
        found = Ceiling({unknown_of(name): (GOOD, NONE)}, {}, NONE if name in configuration.split else GOOD)
        for need in function.needs:
            if need in self.device.functions:
                found.join(self._ceiling(need, configuration))
            else:
                found.cap(self._need(name, need, configuration))
        for number in range(len(function.any_of)):
            found.groups[(name, f"group-{number}"), configuration] = None
        pulls = {"heavy": WEAK} if unshorted else {"short": int(function.left), "heavy": WEAK}
        for term in self._pull_terms(self.loads(name, configuration), configuration, pulls):
            found.cap(term)
        for before in self._latched_in(name, configuration):
            for term in self._pull_terms(self.loads(name, before), before, {"short": NONE}):
                found.cap(term)
        for rail in function.spoiled_by:
            for term in self._pull_terms(self.loads(rail, configuration), configuration, {"short": NONE}):
                found.cap(term)
        self._ceilings[key] = found
        return found

    def _terms(self, node: Node, configuration: Configuration) -> list[Term]:
        name, aspect = node
        if aspect == "level":
            return [term for layer in LAYERS for term in self._layer_of(name, configuration, layer)]
        if aspect in LAYERS:
            return self._terms_of_level(name, configuration, aspect)
        if aspect == UNSHORTED:
            return [term for layer in LAYERS for term in self._layer_of(name, configuration, f"{UNSHORTED} {layer}")]
        if aspect.startswith(UNSHORTED):
            return self._terms_of_level(name, configuration, aspect.removeprefix(UNSHORTED).strip(), unshorted=True)
        if aspect == "voltage":
            sensed = [UNSHORTED, "short"] if self.device.can_pulse(name) else ["level"]
            sensed += ["high"] if self.device.can_be_high(name) else []
            return [NodeTerm((name, part), self.column((name, part), configuration)) for part in sensed]
        if aspect == "short":
            return [*self._pull_terms(self.loads(name, configuration), configuration, {"short": NONE})]
        if aspect.startswith("group"):
            return [AnyTerm(tuple(self._need(name, need, configuration) for need in self.members(node)))]
        if aspect == "folded":  # a short, to a rail of which it leaves something
            short = self.column((name, "short"), configuration)
            return [AnyTerm((NodeTerm((name, "short"), short), int(self.device.functions[name].left)))]
        if aspect == "high":
            needs = self.device.functions[name].fed(configuration.fed).needs
            parts = [self.device.parts[one] for one in needs if one in self.device.parts]
            return [
                self._part_term(part, configuration, lambda mode: NONE if mode.high else GOOD)
                for part in parts
                if configuration.variable(part.id) and any(mode.high for mode in part.modes)
            ]
        modes = self.device.tests[name].senses
        assert isinstance(modes, AnyMode)
        return [
            PartTerm(slot, (GOOD, *(NONE if mode.name in modes else GOOD for mode in self.device.parts[part].modes)))
            for part, modes in modes.modes
            if (slot := configuration.slot(part))
        ]

    def _terms_of_level(
        self, name: str, configuration: Configuration, layer: str, *, unshorted: bool = False
    ) -> list[Term]:
        """One layer of a function's level: what it needs, its any-of groups, what its loads and shorts do to it; with
        ``unshorted`` but for what shorts it itself."""
        if name in self.pulsing and not unshorted:  # what reads it needs to know what it is without its short
            return [
                *self._layer_of(name, configuration, f"{UNSHORTED} {layer}"),
                *self._own_short(name, configuration, layer),
            ]
        function = self.device.functions[name].fed(configuration.fed)
        terms: list[Term] = [PartTerm(unknown_of(name), (GOOD, NONE))] if layer == STEADY else []
        if name in configuration.split and layer == CHANGED:
            terms.append(NONE)
        for need in function.needs:
            if need in self.device.functions:
                terms += self._layer_of(need, configuration, layer)
            elif self._layer(need) == layer:
                terms.append(self._need(name, need, configuration))
        for group in function.any_of:
            if layer == (CHANGED if any(self._layer(need) == CHANGED for need in group) else STEADY):
                terms.append(AnyTerm(tuple(self._need(name, need, configuration) for need in group)))
        alone = unshorted or name in self.sensed_short
        pulls = {"heavy": WEAK} if alone else {"short": int(function.left), "heavy": WEAK}
        terms += self._pulled(name, configuration, layer, pulls)
        if not alone:
            for before in self._latched_in(name, configuration):
                terms += self._pulled(name, before, layer, {"short": NONE})
        elif not unshorted:
            terms += self._own_short(name, configuration, layer)
        for rail in function.spoiled_by:
            if layer == self._layer_of_short(rail):
                terms.append(NodeTerm((rail, "short"), self.column((rail, "short"), configuration)))
        return terms

    def _pulled(self, rail: str, configuration: Configuration, layer: str, pulls: dict[str, int]) -> list[PartTerm]:
        """What the loads of a rail in one layer do to it."""
        loads = [load for load in self.loads(rail, configuration) if self._layer_of_load(load) == layer]
        return self._pull_terms(loads, configuration, pulls)

    def _own_short(self, rail: str, configuration: Configuration, layer: str) -> list[Term]:
        """The short of a rail, as a node of its own, in its layer of the rail's level."""
        if layer != self._layer_of_short(rail):
            return []
        aspect = "short" if self.device.functions[rail].left == NONE else "folded"
        shorted = (configuration, *self._latched_in(rail, configuration))
        return [NodeTerm((rail, aspect), self.column((rail, aspect), one)) for one in shorted]

    def _latched_in(self, rail: str, configuration: Configuration) -> tuple[Configuration, ...]:
        """Configurations in which a short still keeps a rail down: those since its input was away, if it latches."""
        return configuration.since if rail in self.device.latching else ()

    def _layer_of_short(self, rail: str) -> str:
        return CHANGED if any(self._layer_of_load(load) == CHANGED for load in self.device.loads_of[rail]) else STEADY

    def _layer_of(self, function: str, configuration: Configuration, layer: str) -> list[NodeTerm]:
        """A layer of a function as a term; none where the layer is empty."""
        node: Node = (function, layer)
        column = self.column(node, configuration)
        terms = list(self._columns[node])[column]
        if len(terms) == 1 and isinstance(terms[0], NodeTerm):
            return [terms[0]]  # it adds nothing to what it needs
        return [NodeTerm(node, column)] if terms else []

    def _layer(self, need: str) -> str:
        """The layer that a part belongs to; a function in an any-of group may rest on both."""
        if need in self.device.functions:
            return CHANGED if self.changed else STEADY
        return CHANGED if need in self.changed else STEADY

    def _layer_of_load(self, load: str) -> str:
        """The layer of what a part does to its rail: whether it hangs there is in it too."""
        return CHANGED if {load, *self.device.plugs_of[load]} & self.plugged_or_not or load in self.changed else STEADY

    def _need(self, function: str, need: str, configuration: Configuration) -> PartTerm | NodeTerm | int:
        if need in self.device.functions:
            return NodeTerm((need, "level"), self.column((need, "level"), configuration))
        if need in configuration.unplugged or configuration.variable(need) is None:
            return NONE
        return self._part_term(self.device.parts[need], configuration, lambda mode: int(mode.limit(function)))

    def _pull_terms(self, loads: Iterable[str], configuration: Configuration, pulls: dict[str, int]) -> list[PartTerm]:
        parts = (self.device.parts[name] for name in loads)
        return [
            self._part_term(part, configuration, lambda mode: pulls.get(mode.takes or "", GOOD))
            for part in parts
            if any(mode.takes in pulls for mode in part.modes)
        ]

    def loads(self, rail: str, configuration: Configuration) -> list[str]:
        """Parts that hang on a rail in a configuration: there, and with no plug between."""
        return [
            name
            for name in self.device.loads_of[rail]
            if configuration.variable(name) and not {name, *self.device.plugs_of[name]} & configuration.unplugged
        ]

    def _part_term(self, part: Part, configuration: Configuration, level: Callable[[Mode], int]) -> PartTerm:
        variable = configuration.variable(part.id)
        assert variable is not None
        allows = (GOOD, *(level(mode) if configuration.acts(mode) else GOOD for mode in part.modes))
        return PartTerm(variable, allows)

    # ---- then: the network --------------------------------------------------------------------------------------

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
                yield from (term for term in _flat(terms) if isinstance(term, PartTerm))

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
        joint = [[_each(best, one, two) for two in right.patterns] for one in left.patterns]
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


def _changed(story: Story) -> tuple[frozenset[str], frozenset[str]]:
    """Parts that are not the same in all configurations that matter (touched, mended, replaced, out, unplugged), and
    of these the connections that are plugged in some and unplugged in others."""
    configurations = {item.configuration for item in story.evidence if isinstance(item, Sensed)}
    configurations.add(story.configuration(closed=True, warm=True))
    configurations |= {before for one in configurations for before in one.since}
    parts = story.device.parts
    plugged = frozenset(part for part in parts if len({part in one.unplugged for one in configurations}) > 1)
    changed = frozenset(part for part in parts if len({one.slot(part) for one in configurations}) > 1)
    return changed | plugged, plugged


def unknown_of(function: str) -> str:
    """Name of the variable of what this map does not know about a function."""
    return f"?{function}"


def _rows(node: Node, levels: Pattern) -> Pattern:
    """The rows of a test's table that levels of what it senses stand for."""
    two = node[1] in ("short", "any-mode")  # these know only 'it is so' and 'it is not'
    return tuple(level // GOOD for level in levels) if two else levels


def _tighter(bound: PartTerm | NodeTerm, term: PartTerm) -> bool:
    """Whether a bound of the same part never allows more than the term does."""
    return (
        isinstance(bound, PartTerm)
        and bound.variable == term.variable
        and all(one <= other for one, other in zip(bound.allows, term.allows, strict=True))
    )


def _flat(terms: Iterable[Term]) -> Iterable[Term]:
    for term in terms:
        yield from term.members if isinstance(term, AnyTerm) else (term,)


def _each(best: Best, left: Pattern, right: Pattern) -> Pattern:
    return tuple(map(best, left, right))


def _too_high(level: int, high: int) -> int:
    """None, weak, good as the level says; too high where the level is good and the rail is driven up."""
    return TOO_HIGH if level == GOOD and high == NONE else level


def _pulses(voltage: int, short: int, pulsing: int) -> int:
    """The voltage, but for a short: then ``pulsing``, if there is anything that the supply could start with."""
    return voltage if short == GOOD or voltage == NONE else pulsing
