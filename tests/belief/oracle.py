"""The belief of a small device by summing over every course of events: dull, slow, and derived from nothing in it.

Shared with ``knowngood.belief`` are only the physics of one known world (``evaluate``), the priors and the likelihood
tables. What a log does to the parts over time, what counts once, and all sums are done again here.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise, product
from math import prod

import numpy as np
from numpy.typing import NDArray

from knowngood.belief import priors, sensing
from knowngood.belief.evaluate import World, behave, effects
from knowngood.log import events as ev
from knowngood.log.state import Replay, State
from knowngood.maps.device import AnyMode, Device, FunctionLevel, Part, PartModes, RailToGround, RailVoltage, Test
from knowngood.maps.words import MISSING, Level

Array = NDArray[np.float64]
Rows = NDArray[np.int_]
LOOK_ORDER = ("glance", None, "close", "magnified")


@dataclass(frozen=True)
class Moment:
    """How the unit is during a test: how many changes each slot has seen, and the configuration."""

    age: tuple[int, ...]
    absent: frozenset[str]
    unplugged: frozenset[str]
    split: frozenset[str]
    closed: bool
    warm: bool


class Joint:
    """Every course of events with its weight. Axes: one for each part's slot, then one for each function's unknown."""

    def __init__(self, device: Device, replay: Replay, donors: Mapping[int, Array] | None = None) -> None:
        self.device = device
        self.parts = list(device.parts.values())
        self.place = {part.id: axis for axis, part in enumerate(self.parts)}
        self.state = replay.state
        self.wanted = [name for name in device.wanted if name not in replay.state.declared]
        self._behaviour: dict[Moment, dict[tuple[str, str], Rows]] = {}
        tables: dict[str, list[Array]] = {part.id: [priors.bought(part, replay.state.past)] for part in self.parts}
        looks: dict[tuple[str, int], list[ev.Saw]] = {}
        sensed: list[tuple[Test, str, Moment]] = []
        for line, before in zip(replay.lines, replay.before, strict=True):
            for name, table in self._changes(line.event, before, (donors or {}).get(line.seq)):
                tables[name].append(table)
            age = tuple(len(each) - 1 for each in tables.values())
            match line.event:
                case ev.Saw(part=name):
                    looks.setdefault((name, age[self.place[name]]), []).append(line.event)
                case ev.Tried(test=name, outcome=outcome) | ev.Found(test=name, outcome=outcome):
                    sensed.append((device.tests[name], outcome, self._moment(age, before, device.tests[name].warm)))
                case ev.Read(test=name, reading=reading):
                    sensed.append((device.tests[name], reading, self._moment(age, before, device.tests[name].warm)))
        self.age = tuple(len(each) - 1 for each in tables.values())
        self.courses = [list(_courses(each)) for each in tables.values()]
        chances = [np.array([chance for chance, _ in courses]) for courses in self.courses]
        unknown = device.unknown_per_function
        chances += [np.array([1 - unknown, unknown]) if unknown else np.array([1.0]) for _ in device.functions]
        self.weights: Array = np.ones([len(each) for each in chances])
        for axis, each in enumerate(chances):
            self._weigh(axis, each)
        self.looked = set(looks)
        for (name, age_then), seen in looks.items():
            self._weigh(self.place[name], self._look(name, seen)[self.then(name, age_then)])
        self.either_way = False
        self.groups = self._grouped(sensed)
        for group in self.groups:
            self.weights = self.weights * np.mean([self.likelihood(*one) for one in group], axis=0)
        self.total = float(self.weights.sum())

    # ---- what the log does --------------------------------------------------------------------------------------

    def _changes(self, event: ev.Event, before: State, donor: Array | None) -> Iterator[tuple[str, Array]]:
        parts = self.device.parts
        touched: list[str] = []
        match event:
            case ev.Closed(step=step):
                closing = before.open_steps if step == ev.ALL else {step}
                touched = [plug for plug in before.loose if any(plug in self.device.steps[s].unplugs for s in closing)]
            case ev.Plugged(connection=plug):
                touched = [plug]
            case ev.Mended(part=name, remedy=done):
                cure = parts[name].remedy(done)
                if cure is not None:
                    yield name, priors.mended(parts[name], cure)
            case ev.Fitted(part=name, origin=origin):
                touched = [one.id for one in parts.values() if one.joins and one.joins[0] == name]
                if origin == ev.BACK:
                    touched += [name] if parts[name].is_connection else []
                else:
                    fresh = priors.fitted(parts[name], origin) if donor is None else donor
                    swap = next((one for one in parts[name].remedies if one.part), None)
                    whole = np.array([fresh for _ in parts[name].states])
                    yield name, priors.replaced(parts[name], swap, fresh) if swap else whole
        for plug in touched:
            redrawn = priors.touched(parts[plug])
            if redrawn is not None:
                yield plug, redrawn

    def _moment(self, age: tuple[int, ...], state: State, warm: bool) -> Moment:
        return Moment(age, state.removed, state.unplugged, self._split(state), not state.open_steps, warm)

    def _split(self, state: State) -> frozenset[str]:
        lost: set[str] = set()
        for pair in self.device.married:
            if len({state.origin.get(name) for name in pair.parts}) > 1:
                lost |= set(pair.spoils)
        return frozenset(lost)

    def now(self, test: Test) -> Moment:
        """The moment at which a test would be made now; one that needs the unit closed is made closed."""
        closed = test.closed or not self.state.open_steps
        return Moment(self.age, self.state.removed, self.state.unplugged, self._split(self.state), closed, test.warm)

    def used(self, warm: bool) -> Moment:
        """The unit as it will be used: all that is out on purpose put back, harvested parts gone."""
        return Moment(self.age, self.state.harvested, frozenset(), self._split(self.state), True, warm)

    def _grouped(self, sensed: list[tuple[Test, str, Moment]]) -> list[list[tuple[Test, str, Moment]]]:
        """The same test of the same thing again is no news: it goes to the group of the first."""
        groups: list[list[tuple[Test, str, Moment]]] = []
        for one in sensed:
            for group in groups:
                if one[0].id == group[0][0].id and self._unchanged(one[0], one[2], group[0][2]):
                    group.append(one)
                    break
            else:
                groups.append([one])
        return groups

    def _unchanged(self, test: Test, one: Moment, other: Moment) -> bool:
        """Whether all that the test could rest on is as it was. Where it is not, but every world still gives the same
        (a need that a backup makes idle), the second test may be news or not: ``either_way`` says that this came up."""
        parts, functions = self._reach(test)
        conditions = {mode.when for part in parts for mode in part.modes} - {None}
        names = {part.id for part in parts} | {plug for part in parts for plug in self.device.plugs_of[part.id]}
        ages = [(one.age[self.place[part.id]], other.age[self.place[part.id]]) for part in parts]
        if all(then == again for then, again in ages) and all(
            [
                one.absent & names == other.absent & names,
                one.unplugged & names == other.unplugged & names,
                one.split & functions == other.split & functions,
                one.closed == other.closed or not conditions & {"closed", "open"},
                one.warm == other.warm or not conditions & {"warm", "cold"},
            ]
        ):
            return True
        rows, again = self.rows(test, one), self.rows(test, other)
        differing = [axis for axis in range(len(self.parts)) if one.age[axis] != other.age[axis]]
        if np.array_equal(rows, again) and all((rows == rows.take([0], axis)).all() for axis in differing):
            self.either_way = True
        return False

    def _reach(self, test: Test) -> tuple[list[Part], set[str]]:
        """Parts and functions that a test could rest on."""
        match test.senses:
            case PartModes(part=name):
                return [self.device.parts[name]], set()
            case AnyMode(modes=modes):
                return [self.device.parts[name] for name, _ in modes], set()
        parts: dict[str, Part] = {}
        functions: set[str] = set()
        waiting = [test.senses.function]
        while waiting:
            name = waiting.pop()
            if name in self.device.parts:
                parts[name] = self.device.parts[name]
            elif name not in functions:
                functions.add(name)
                of = self.device.functions[name]
                waiting += [*of.needs, *(one for group in of.any_of for one in group), *of.spoiled_by]
                waiting += self.device.loads_of[name]
        return list(parts.values()), functions

    # ---- what a test sees ---------------------------------------------------------------------------------------

    def behaviour(self, moment: Moment) -> dict[tuple[str, str], Rows]:
        """By (function, level | short | high): its value for every state of every part and every unknown."""
        if moment not in self._behaviour:
            functions = list(self.device.functions)
            unknown = 2 if self.device.unknown_per_function else 1
            shape = [len(part.states) for part in self.parts] + [unknown] * len(functions)
            found = {(name, of): np.zeros(shape, int) for name in functions for of in ("level", "short", "high")}
            for index in product(*(range(count) for count in shape)):
                states = dict(zip(self.parts, index[: len(self.parts)], strict=True))  # type: ignore[arg-type]
                unknowns = zip(functions, index[len(self.parts) :], strict=True)
                world = World(
                    {part.id: part.states[state] for part, state in states.items() if state},
                    frozenset(name for name, on in unknowns if on),
                    moment.absent,
                    moment.unplugged,
                    moment.split,
                    moment.closed,
                    moment.warm,
                )
                behaviour = behave(self.device, world)
                for name in functions:
                    found[name, "level"][index] = behaviour.level[name]
                    found[name, "short"][index] = name in behaviour.shorted
                    found[name, "high"][index] = name in behaviour.high
            self._behaviour[moment] = found
        return self._behaviour[moment]

    def rows(self, test: Test, moment: Moment) -> Rows:
        """Row of the test's table for every state of every part and every unknown."""
        sensed = test.senses
        shape = next(iter(self.behaviour(moment).values())).shape
        match sensed:
            case PartModes(part=name):
                return np.broadcast_to(self.along(self.place[name], np.arange(shape[self.place[name]])), shape)
            case AnyMode(modes=modes):
                none = np.ones(shape, int)
                for name, bad in modes:
                    if name not in moment.absent:
                        clear = [int(state not in bad) for state in self.device.parts[name].states]
                        none = none * self.along(self.place[name], np.array(clear))
                return none
            case RailToGround(function=name):
                return 1 - self.behaviour(moment)[name, "short"]
        level = self.behaviour(moment)[sensed.function, "level"]
        if isinstance(sensed, RailVoltage):
            over = (self.behaviour(moment)[sensed.function, "high"] == 1) & (level == Level.GOOD)
            return np.where(over, 3, level)
        return level

    def table(self, test: Test, outcome: str) -> Array:
        """P(outcome | row)."""
        sensed = test.senses
        if isinstance(sensed, (RailVoltage, RailToGround)):
            return sensing.reading_likelihood(self.device, test, outcome, high=self.high(test))
        return self.whole_table(test)[:, test.outcomes.index(outcome)]

    def whole_table(self, test: Test) -> Array:
        """P(outcome | row); readings by the state in whose span they fall."""
        match test.senses:
            case PartModes(part=name):
                return sensing.part_table(test, self.device.parts[name])
            case AnyMode():
                return sensing.any_mode_table(test)
            case FunctionLevel():
                return sensing.tried_table(test) if test.verb == "tried" else sensing.level_table(test)
        return sensing.reading_table(self.device, test, high=self.high(test))

    def high(self, test: Test) -> bool:
        """Whether a fault can drive the rail up."""
        if not isinstance(test.senses, RailVoltage):
            return False
        feeds = self.device.functions[test.senses.function].needs
        return any(m.high for name in feeds if name in self.device.parts for m in self.device.parts[name].modes)

    def likelihood(self, test: Test, outcome: str, moment: Moment) -> Array:
        if isinstance(test.senses, PartModes) and test.senses.part in moment.absent:
            return np.ones(1)  # nothing there to test
        return self.in_force(self.table(test, outcome)[self.rows(test, moment)], moment.age)

    def _look(self, name: str, seen: list[ev.Saw]) -> Array:
        """What looks at one part in one state come to: the worst condition, by the closest look that found it."""
        part = self.device.parts[name]
        condition = sensing.worst(part, [one.condition for one in seen])
        closest = max((one.look for one in seen if one.condition == condition), key=LOOK_ORDER.index)
        return sensing.look_table(part, closest)[:, sensing.LOOKS.index(condition)]

    # ---- sums ---------------------------------------------------------------------------------------------------

    def along(self, axis: int, values: NDArray[np.generic]) -> NDArray[np.generic]:
        return values.reshape([-1 if one == axis else 1 for one in range(len(self.parts) + len(self.device.functions))])

    def _weigh(self, axis: int, values: Array) -> None:
        self.weights = self.weights * self.along(axis, values)

    def then(self, name: str, age: int) -> list[int]:
        return [states[age] for _, states in self.courses[self.place[name]]]

    def in_force(self, values: NDArray[np.generic], age: tuple[int, ...]) -> NDArray[np.generic]:
        """Values by state, spread over the courses of events that pass through that state at that age."""
        picked = [self.then(part.id, then) for part, then in zip(self.parts, age, strict=True)]
        return values[np.ix_(*picked, *(range(n) for n in values.shape[len(picked) :]))]

    @property
    def size(self) -> int:
        return prod(self.weights.shape)

    @property
    def log_evidence(self) -> float:
        with np.errstate(divide="ignore"):
            return float(np.log(self.total))

    def posterior(self, name: str, weights: Array | None = None) -> Array:
        """State chances of what is in the slot now."""
        part, axis = self.device.parts[name], self.place[name]
        if name in self.state.harvested:
            gone = np.zeros(len(part.states))
            gone[part.states.index(MISSING) if MISSING in part.states else -1] = 1.0
            return gone
        weights = self.weights if weights is None else weights
        along = weights.sum(axis=tuple(one for one in range(weights.ndim) if one != axis))
        chances = np.bincount(self.then(name, self.age[axis]), along, len(part.states))
        return chances / chances.sum()

    def level_now(self, name: str, warm: bool) -> Rows:
        moment = self.used(warm)
        return self.in_force(self.behaviour(moment)[name, "level"], moment.age)

    def known_good(self, weights: Array | None = None) -> float:
        weights = self.weights if weights is None else weights
        good = np.ones(weights.shape, bool)
        for name in self.wanted:
            for warm in (False, True):
                good &= self.level_now(name, warm) == Level.GOOD
        return float(weights[good].sum() / weights.sum())

    def unknown(self, name: str) -> float:
        axis = len(self.parts) + list(self.device.functions).index(name)
        if self.weights.shape[axis] == 1:
            return 0.0
        return float(self.weights.take(1, axis).sum() / self.total)

    def stopping(self, name: str) -> tuple[list[str], dict[str, set[str]]]:
        """Modes that stop a wanted function alone; and those that do with a backup failing, with these functions."""
        alone, spare = [], {}
        for one in self.device.parts[name].modes:
            if effects(self.device).alone[name, one.name] & set(self.wanted):
                alone.append(one.name)
            elif lost := effects(self.device).with_others[name, one.name] & set(self.wanted):
                spare[one.name] = set(lost)
        return alone, spare

    def p_blocks(self, name: str, weights: Array | None = None) -> float:
        """Chance that the part stops a wanted function."""
        weights = self.weights if weights is None else weights
        states, posterior = self.device.parts[name].states, self.posterior(name, weights)
        alone, spare = self.stopping(name)
        chance = float(sum(posterior[states.index(one)] for one in alone))
        together = float(sum(posterior[states.index(one)] for one in spare))
        if not together:
            return chance
        then = self.then(name, self.age[self.place[name]])
        inside = np.array([states[state] in spare or name in self.state.harvested for state in then])
        given = weights * self.along(self.place[name], inside.astype(float))
        lost = set().union(*spare.values())
        failing = [given[self.level_now(one, True) < Level.GOOD].sum() / given.sum() for one in lost]
        return chance + together * float(max(failing))


def _courses(tables: list[Array]) -> Iterator[tuple[float, tuple[int, ...]]]:
    """Every possible course of one slot: its chance, and its state after each change."""
    first, *changes = tables
    for states in product(range(len(first)), repeat=len(tables)):
        chance = float(first[states[0]])
        for table, (before, after) in zip(changes, pairwise(states), strict=True):
            chance *= float(table[before, after])
        if chance:
            yield chance, states
