"""What is asked of a unit, as columns: a function in a configuration is one, and its level the minimum over its terms.

Columns with the same terms are the same column, so configurations that look alike from a function are merged there.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Sequence

from knowngood.belief.configuration import Configuration
from knowngood.belief.story import Sensed, Story
from knowngood.belief.terms import (
    CHANGED,
    GOOD,
    LAYERS,
    NONE,
    STEADY,
    UNSHORTED,
    WEAK,
    AnyTerm,
    Ceiling,
    Demand,
    Node,
    NodeTerm,
    PartTerm,
    Term,
    tighter,
    unknown_of,
)
from knowngood.maps.device import AnyMode, Device, FunctionLevel, Mode, Part, PartModes, RailToGround, RailVoltage, Test


class Columns:
    """The columns that are asked for: of each node, each set of terms that it has in some configuration."""

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
        self._bounds: dict[tuple[Node, int], frozenset[PartTerm | NodeTerm]] = {}

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
            if term in bounds or (isinstance(term, PartTerm) and any(tighter(bound, term) for bound in bounds)):
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
