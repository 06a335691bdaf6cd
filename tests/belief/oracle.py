"""The belief of a small device by summing over every course of events: dull, slow, and derived from nothing in it.

Shared with ``knowngood.belief`` are only the physics of one known world (``evaluate``), the priors and the likelihood
tables. Who harms whom, what a log does to the parts over time, what counts once, and all sums are done again here.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import pairwise, product
from math import prod

import numpy as np
from numpy.typing import NDArray

from knowngood.belief import causes, priors, sensing, story
from knowngood.belief.evaluate import World, behave, effects
from knowngood.handbook.quantities import parse_reading
from knowngood.log import events as ev
from knowngood.log.state import ACTS, Replay, State
from knowngood.maps.device import AnyMode, Device, FunctionLevel, Mode, Part, PartModes, RailToGround, RailVoltage, Test
from knowngood.maps.words import MISSING, Level

Array = NDArray[np.float64]
Rows = NDArray[np.int_]


@dataclass(frozen=True)
class Moment:
    """How the unit is during a test: how many changes each slot has seen, and the configuration."""

    age: tuple[int, ...]
    absent: frozenset[str]
    unplugged: frozenset[str]
    split: frozenset[str]
    closed: bool
    warm: bool
    spell: tuple[int, float] | None = None
    """In one spell a fault that comes and goes shows, or does not; None for so long that all show."""
    since: tuple[Moment, ...] = ()
    """The moments under power before it, with the input on all along."""


MOST = 2**16
"""Courses of events that are summed."""


class TooManyError(Exception):
    """There are more courses of events than ``MOST``."""


class Joint:
    """Every course of events with its weight. Axes: one for each part's slot, then one for each function's unknown,
    then one for each event in a zone (mild or hard), then one for each part in each spell (its fault shows or is away).
    """

    def __init__(
        self, device: Device, replay: Replay, donors: Mapping[int, Array] | None = None, *, asked: bool = False
    ) -> None:
        """``asked``: tests that could be made now will be compared. Raises TooManyError before they are summed."""
        self.device = device
        self.parts = list(device.parts.values())
        self.place = {part.id: axis for axis, part in enumerate(self.parts)}
        self.state, self.lines = replay.state, replay.lines
        self.wanted = [name for name in device.wanted if name not in replay.state.declared]
        self._behaviour: dict[object, dict[tuple[str, str], Rows]] = {}
        self.made: list[tuple[str, object]] = []
        # The first table of a slot says only which states it can be bought in; ``_bought`` gives their chances.
        tables: dict[str, list[Array]] = {part.id: [np.sign(priors.bought(part, ()))] for part in self.parts}
        looks: dict[tuple[str, int], list[ev.Saw]] = {}
        sensed: list[tuple[Test, str, Moment]] = []
        self.since: tuple[Moment, ...] = ()
        self.powered: Moment | None = None
        for line, before in zip(replay.lines, replay.before, strict=True):
            if isinstance(line.event, (*ACTS, ev.Discharged)):
                self._act(line.event, tuple(len(each) - 1 for each in tables.values()), before)
            for name, table in self._changes(line.event, before, (donors or {}).get(line.seq)):
                tables[name].append(table)
            age = tuple(len(each) - 1 for each in tables.values())
            match line.event:
                case ev.Saw(part=name):
                    looks.setdefault((name, age[self.place[name]]), []).append(line.event)
                case ev.Tried(test=name, outcome=outcome) | ev.Found(test=name, outcome=outcome):
                    sensed.append((device.tests[name], outcome, self._sensing(device.tests[name], age, before)))
                case ev.Read(test=name, reading=reading):
                    sensed.append((device.tests[name], reading, self._sensing(device.tests[name], age, before)))
        self.age = tuple(len(each) - 1 for each in tables.values())
        self.courses = [list(_courses(each)) for each in tables.values()]
        chances = [np.array([chance for chance, _ in courses]) for courses in self.courses]
        unknown = device.unknown_per_function
        chances += [np.array([1 - unknown, unknown]) if unknown else np.array([1.0]) for _ in device.functions]
        self.blows = self._blows()
        chances += [np.array([1 - causes.HARD, causes.HARD]) for _ in self.blows]
        moments = [moment for _, _, moment in sensed]
        moments += [self.now(test) for test in device.tests.values()] if asked else []
        self.spells = self._spells(moments)
        chances += [np.ones(2) for _ in self.spells]
        self.axes = len(chances)
        if prod(len(each) for each in chances) > MOST:
            raise TooManyError
        self.weights: Array = np.ones([len(each) for each in chances])
        for axis, each in enumerate(chances):
            self._weigh(axis, each)
        for axis in range(len(self.parts)):
            self._bought(axis)
        for axis, (name, age_then, (_, minutes)) in enumerate(self.spells, len(chances) - len(self.spells)):
            self._come_and_go(axis, name, age_then, minutes)
        self.looked = set(looks)
        for (name, age_then), seen in looks.items():
            self._weigh(self.place[name], self._look(name, seen)[self.then(name, age_then)])
        for group in self._grouped(sensed):
            self.weights = self.weights * self.likelihood(group)
        self.total = float(self.weights.sum())

    # ---- what came with the unit --------------------------------------------------------------------------------

    def _blows(self) -> list[tuple[str, str]]:
        """The events that struck more than one part of a zone."""
        struck = {
            (event, part.zone): [one for one in self.parts if one.zone == part.zone and self._struck(one, event)]
            for event in self.state.past
            for part in self.parts
            if part.zone
        }
        return [where for where, parts in struck.items() if len(parts) > 1]

    def _struck(self, part: Part, event: str) -> bool:
        return any(
            dict(part.past).get(event, 1) * dict(mode.past).get(event, 1) >= causes.STRUCK for mode in part.modes
        )

    def _harms(self) -> list[tuple[str, str, str, str]]:
        """Who in which mode harms whom and how; what would close a ring is left out."""
        found: list[tuple[str, str, str, str]] = []

        def harmed_by(cause: str) -> set[str]:
            after = {cause}
            while more := {victim for one, _, victim, _ in found if one in after} - after:
                after |= more
            return after

        def add(cause: Part, modes: list[str], victim: Part, how: str) -> None:
            if cause.id not in harmed_by(victim.id):
                found.extend((cause.id, one, victim.id, how) for one in modes)

        for rail, function in self.device.functions.items():
            loads = [part for part in self.parts if rail in part.on]
            feeds = [self.device.parts[need] for need in function.needs if need in self.device.parts]
            for feed in feeds:
                for load in loads:
                    add(feed, [mode.name for mode in feed.modes if mode.high and self._over(rail)], load, "high")
            for feed in feeds:
                if any(mode.blows for mode in feed.modes) and len([one for one in feeds if self._drives(one)]) < 2:
                    for load in loads:
                        add(load, [mode.name for mode in load.modes if mode.takes == "short"], feed, "short")
        return found

    def _factor(self, mode: Mode, how: str, harmed: bool, harms: list[tuple[str, str, str]]) -> float:
        """What harm done or not done makes of a mode's odds, one on average."""
        if how not in {one for _, _, one in harms}:
            return 1.0
        if (how == "high" and (mode.seating or mode.name == MISSING)) or (how == "short" and not mode.blows):
            return 1.0
        spared = 1.0
        for cause in {cause for cause, _, one in harms if one == how}:
            part = self.device.parts[cause]
            chances = dict(zip(part.states, priors.bought(part, self.state.past), strict=True))
            spared *= 1.0 - sum(chances[name] for one, name, by in harms if one == cause and by == how)
        times = causes.HARMED[how]
        return (times if harmed else 1.0) / (spared + times * (1.0 - spared))

    def _drives(self, part: Part) -> bool:
        return any(mode.high for mode in part.modes)

    def _over(self, rail: str) -> bool:
        """Whether the rail once read above its 5.25 V."""
        tests = [test.id for test in self.device.tests.values() if test.senses == RailVoltage(rail)]
        events = (line.event for line in self.lines if isinstance(line.event, ev.Read))
        return any(one.test in tests and parse_reading(one.reading).value > 5.25 for one in events)

    def _bought(self, axis: int) -> None:
        """Weighs each course by the chance of the state that its part was bought in."""
        part = self.parts[axis]
        blows = [one for one in self.blows if one[1] == part.zone and self._struck(part, one[0])]
        harms = [(cause, mode, how) for cause, mode, victim, how in self._harms() if victim == part.id]
        involved = [axis, *sorted({self.place[cause] for cause, _, _ in harms})]
        involved += [len(self.parts) + len(self.device.functions) + self.blows.index(one) for one in blows]
        shape = [self.weights.shape[one] for one in involved]
        table = np.empty(shape)
        for index in product(*(range(count) for count in shape)):
            where = dict(zip(involved, index, strict=True))
            severity = dict(zip((event for event, _ in blows), index[len(index) - len(blows) :], strict=True))
            first = {one: self.courses[one][state][1][0] for one, state in where.items() if one < len(self.parts)}
            bought = {self.parts[one].id: self.parts[one].states[state] for one, state in first.items()}
            hows = {how for cause, mode, how in harms if bought[cause] == mode}
            harm = np.array(
                [prod(self._factor(m, how, how in hows, harms) for how in causes.HARMED) for m in part.modes]
            )
            worth = {event: causes.SEVERITIES[state] for event, state in severity.items()}
            table[index] = priors.bought(part, self.state.past, worth, harm)[first[axis]]
        order = np.argsort(involved)
        full = [self.weights.shape[one] if one in involved else 1 for one in range(self.axes)]
        self.weights = self.weights * table.transpose(order).reshape(full)

    # ---- what the log does --------------------------------------------------------------------------------------

    def _act(self, event: ev.Event, age: tuple[int, ...], before: State) -> None:
        """Keeps what was under power before, if the input stayed on while the hand was in there."""
        kept = isinstance(event, (ev.Unplugged, ev.Plugged)) and event.live and bool(self.latching)
        if kept:
            cold = Moment(age, before.removed, before.unplugged, self._split(before), not before.open_steps, False)
            last = self.powered or replace(cold, spell=(0, story.A_MOMENT))
            self.since = tuple(dict.fromkeys((*self.since, replace(last, since=()))))
        else:
            self.since = ()
        self.powered = None

    @property
    def latching(self) -> list[str]:
        return [name for name, of in self.device.functions.items() if of.under_short == "latched-off"]

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

    def _sensing(self, test: Test, age: tuple[int, ...], state: State) -> Moment:
        """The moment of a test in the log."""
        if test.power == "off":
            self.since, self.powered = (), None
        moment = self._moment(test, age, state, not state.open_steps)
        if test.power != "off":
            self.powered = moment
        self.made.append((test.id, self._matters(test, moment)))
        return moment

    def _moment(self, test: Test, age: tuple[int, ...], state: State, closed: bool) -> Moment:
        since = self.since if test.power != "off" else ()
        moment = Moment(age, state.removed, state.unplugged, self._split(state), closed, test.warm, since=since)
        again = self.made.count((test.id, self._matters(test, moment)))
        return replace(moment, spell=(again, max(test.runs, story.A_MOMENT)))

    def _spells(self, moments: list[Moment]) -> list[tuple[str, int, tuple[int, float]]]:
        """Each part with a fault that comes and goes, at each age, in each spell that it was or can be watched in."""
        passing = [part.id for part in self.parts if any(mode.shows for mode in part.modes)]
        every = [one for moment in moments for one in (*moment.since, moment)]
        found = ((name, moment.age[self.place[name]], moment.spell) for moment in every for name in passing)
        return list(dict.fromkeys((name, age, spell) for name, age, spell in found if spell is not None))

    def _come_and_go(self, axis: int, name: str, age: int, minutes: float) -> None:
        """Weighs 'shows' and 'is away' (which nothing else can be) by the state that the part is in."""
        away = [0.0, *(np.exp(-minutes / mode.shows) if mode.shows else 0.0 for mode in self.device.parts[name].modes)]
        chances = np.array(away)[self.then(name, age)]
        both = np.stack([1.0 - chances, chances], axis=-1)
        shape = [1] * self.axes
        shape[self.place[name]], shape[axis] = both.shape
        self.weights = self.weights * both.reshape(shape)

    def _split(self, state: State) -> frozenset[str]:
        lost: set[str] = set()
        for pair in self.device.married:
            if len({state.origin.get(name) for name in pair.parts}) > 1:
                lost |= set(pair.spoils)
        return frozenset(lost)

    def now(self, test: Test) -> Moment:
        """The moment at which a test would be made now; one that needs the unit closed is made closed."""
        return self._moment(test, self.age, self.state, test.closed or not self.state.open_steps)

    def used(self, warm: bool) -> Moment:
        """The unit as it will be used: all that is out on purpose put back, harvested parts gone."""
        return Moment(self.age, self.state.harvested, frozenset(), self._split(self.state), True, warm)

    def _grouped(self, sensed: list[tuple[Test, str, Moment]]) -> list[list[tuple[Test, str, Moment]]]:
        """The same test of the same thing again goes to the group of the first."""
        groups: dict[object, list[tuple[Test, str, Moment]]] = {}
        for test, outcome, moment in sensed:
            groups.setdefault((test.id, self._matters(test, moment)), []).append((test, outcome, moment))
        return list(groups.values())

    def _matters(self, test: Test, moment: Moment) -> object:
        """All of a moment that the test could rest on, but for its spell."""
        parts, functions = self._reach(test)
        conditions = {mode.when for part in parts for mode in part.modes}
        if isinstance(test.senses, (PartModes, AnyMode)):
            conditions = set()
        names = {part.id for part in parts}
        plugs = {plug for part in parts for plug in self.device.plugs_of[part.id]}
        return (
            tuple((part.id, moment.age[self.place[part.id]]) for part in parts if part.id not in moment.absent),
            frozenset(moment.unplugged & (names | plugs)) if functions else None,
            frozenset(moment.split & functions),
            moment.closed if conditions & {"closed", "open"} else None,
            moment.warm if conditions & {"warm", "cold"} else None,
            tuple(self._matters(test, one) for one in moment.since) if functions & set(self.latching) else None,
        )

    def _reach(self, test: Test) -> tuple[list[Part], set[str]]:
        """Parts and functions that a test could rest on."""
        match test.senses:
            case PartModes(part=name):
                return [self.device.parts[name]], set()
            case AnyMode(modes=modes):
                return [self.device.parts[name] for name, _ in modes], set()
            case RailToGround(function=rail):
                return [part for part in self.parts if rail in part.on], {rail}
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

    def behaviour(self, moment: Moment, latched: frozenset[str] = frozenset()) -> dict[tuple[str, str], Rows]:
        """By (function, level | short | high | pulsing): its value for every state of every part and every unknown."""
        how = (moment.absent, moment.unplugged, moment.split, moment.closed, moment.warm, frozenset[str](), latched)
        if how not in self._behaviour:
            functions = list(self.device.functions)
            unknown = 2 if self.device.unknown_per_function else 1
            shape = [len(part.states) for part in self.parts] + [unknown] * len(functions)
            found = {
                (name, of): np.zeros(shape, int) for name in functions for of in ("level", "short", "high", "pulsing")
            }
            found |= {(name, str(k)): np.zeros(shape, int) for name in functions for k in range(self._groups(name))}
            for index in product(*(range(count) for count in shape)):
                states = dict(zip(self.parts, index[: len(self.parts)], strict=True))  # type: ignore[arg-type]
                unknowns = zip(functions, index[len(self.parts) :], strict=True)
                world = World(
                    {part.id: part.states[state] for part, state in states.items() if state},
                    frozenset(),
                    frozenset(name for name, on in unknowns if on),
                    *how,
                )
                behaviour = behave(self.device, world)
                for name in functions:
                    found[name, "level"][index] = behaviour.level[name]
                    found[name, "short"][index] = name in behaviour.shorted
                    found[name, "high"][index] = name in behaviour.high
                    found[name, "pulsing"][index] = name in behaviour.pulsing
                for (name, number), best in behaviour.groups.items():
                    found[name, str(number)][index] = best
            self._behaviour[how] = found
        return self._behaviour[how]

    def rows(self, test: Test, moment: Moment, latched: frozenset[str] = frozenset()) -> Rows:
        """Row of the test's table for every state of every part and every unknown."""
        sensed = test.senses
        shape = next(iter(self.behaviour(moment).values())).shape
        match sensed:
            case PartModes(part=name):
                return np.broadcast_to(
                    self.along(self.place[name], np.arange(shape[self.place[name]]), len(shape)), shape
                )
            case AnyMode(modes=modes):
                none = np.ones(shape, int)
                for name, bad in modes:
                    if name not in moment.absent:
                        clear = [int(state not in bad) for state in self.device.parts[name].states]
                        none = none * self.along(self.place[name], np.array(clear), len(shape))
                return none
            case RailToGround(function=name):
                return 1 - self.behaviour(moment)[name, "short"]
        found = self.behaviour(moment, latched)
        level = found[sensed.function, "level"]
        if isinstance(sensed, RailVoltage):
            over = (found[sensed.function, "high"] == 1) & (level == Level.GOOD)
            pulses = 4 if self.high(test) else 3
            return np.where(found[sensed.function, "pulsing"] == 1, pulses, np.where(over, 3, level))
        return level

    def table(self, test: Test, outcome: str) -> Array:
        """P(outcome | row)."""
        sensed = test.senses
        if isinstance(sensed, (RailVoltage, RailToGround)):
            return sensing.reading_likelihood(self.device, test, outcome)
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
        return sensing.reading_table(self.device, test)

    def high(self, test: Test) -> bool:
        """Whether a fault can drive the rail up."""
        if not isinstance(test.senses, RailVoltage):
            return False
        feeds = self.device.functions[test.senses.function].needs
        return any(m.high for name in feeds if name in self.device.parts for m in self.device.parts[name].modes)

    def sensed(self, test: Test, moment: Moment) -> Rows:
        """Row of the test's table for every course of events."""
        if isinstance(test.senses, (PartModes, AnyMode)):
            moment = replace(moment, spell=None)  # what is there, whether it shows or not
        result = self.in_force(self.rows(test, moment), moment)
        if isinstance(test.senses, (FunctionLevel, RailVoltage)) and moment.since:
            rails = self.latching
            shorted = [self._ever_shorted(rail, moment) for rail in rails]
            for on in product((False, True), repeat=len(rails)):
                latched = frozenset(rail for rail, one in zip(rails, on, strict=True) if one)
                here = np.logical_and.reduce([one == which for one, which in zip(shorted, on, strict=True)])
                result = np.where(here, self.in_force(self.rows(test, moment, latched), moment), result)
        return result

    def _ever_shorted(self, rail: str, moment: Moment) -> NDArray[np.bool_]:
        """For every course of events, whether a rail was shorted while the input was on, before a moment."""
        each = (self.in_force(self.behaviour(one)[rail, "short"] == 1, one) for one in moment.since)
        return np.logical_or.reduce(list(np.broadcast_arrays(*each)))

    def likelihood(self, group: list[tuple[Test, str, Moment]]) -> Array:
        """Of a test with its repeats. Those that sensed the same share the error of the first; if their answers differ,
        their mean counts. What comes and goes is drawn anew in another spell, for a test of the part itself, too."""
        test, _, first = group[0]
        if isinstance(test.senses, PartModes) and test.senses.part in first.absent:
            return np.ones(1)  # nothing there to test
        rows = np.array(np.broadcast_arrays(*(self.sensed(test, moment) for _, _, moment in group)))
        tables = [self.table(test, outcome) for _, outcome, _ in group]
        result = np.ones(rows.shape[1:])
        sensed = self.device.parts[test.senses.part].modes if isinstance(test.senses, PartModes) else ()
        for row in range(len(tables[0])):
            spells: dict[object, list[int]] = {}
            for number, (_, _, moment) in enumerate(group):
                anew = sensed and row and sensed[row - 1].shows
                spells.setdefault(moment.spell if anew else None, []).append(number)
            for alike in spells.values():
                there = rows[alike] == row
                chances = np.array([tables[number][row] for number in alike]).reshape(-1, *(1 for _ in result.shape))
                count = there.sum(axis=0)
                mean = (there * chances).sum(axis=0) / np.maximum(count, 1)
                result *= np.where(count > 0, mean, 1.0)
        return result

    def _look(self, name: str, seen: list[ev.Saw]) -> Array:
        """What looks at one part in one state come to: the worst condition, by the closest look that found it."""
        part = self.device.parts[name]
        condition = sensing.worst(part, [one.condition for one in seen])
        odds = {None: 1.0} | {degree: faulty / fine for degree, (fine, faulty) in sensing.DEGREES.items()}
        telling = [(one.look != "glance", odds[one.degree], one) for one in seen if one.condition == condition]
        closest = max(telling, key=lambda one: one[:2])[2]
        weights = sensing.look_table(part, closest.look)[:, sensing.LOOKS.index(condition)]
        if closest.degree and condition != "fine":
            fine, faulty = sensing.DEGREES[closest.degree]
            by_fault = [max(0.0, one - weights[0]) for one in weights]
            weights = np.array([fine * min(one, weights[0]) for one in weights]) + faulty * np.array(by_fault)
        return weights

    # ---- sums ---------------------------------------------------------------------------------------------------

    def along(self, axis: int, values: NDArray[np.generic], axes: int | None = None) -> NDArray[np.generic]:
        return values.reshape([-1 if one == axis else 1 for one in range(axes or self.axes)])

    def _weigh(self, axis: int, values: Array) -> None:
        self.weights = self.weights * self.along(axis, values)

    def then(self, name: str, age: int) -> list[int]:
        return [states[age] for _, states in self.courses[self.place[name]]]

    def in_force(self, values: NDArray[np.generic], moment: Moment) -> NDArray[np.generic]:
        """Values by what each part does, for every course of events: a fault that is away in the spell is none."""
        index = []
        for axis, part in enumerate(self.parts):
            states = self.along(axis, np.array(self.then(part.id, moment.age[axis])))
            key = (part.id, moment.age[axis], moment.spell)
            if key in self.spells:
                away = self.along(self.axes - len(self.spells) + self.spells.index(key), np.array([False, True]))
                passing = np.array([False, *(mode.shows is not None for mode in part.modes)])
                states = np.where(away & passing[states], 0, states)
            index.append(states)
        unknowns = range(len(self.parts), values.ndim)
        index += [self.along(axis, np.arange(values.shape[axis])) for axis in unknowns]
        return values[tuple(index)]

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

    def _groups(self, function: str) -> int:
        return len(self.device.functions[function].any_of)

    def _stands_on(self, name: str) -> set[str]:
        """The parts that a part, or a function, stands on."""
        if name in self.device.parts:
            return {name}
        of = self.device.functions[name]
        parts = {load for rail in (name, *of.spoiled_by) for load in self.device.loads_of[rail]}
        needs = [*of.needs, *of.spoiled_by, *(one for group in of.any_of for one in group)]
        return parts.union(*(self._stands_on(need) for need in needs))

    def group_out(self, function: str, number: int) -> NDArray[np.bool_]:
        """Whether no member of a group is good, as the unit will be used."""
        moment = self.used(True)
        return self.in_force(self.behaviour(moment)[function, str(number)], moment) < Level.GOOD

    def _below(self, function: str) -> set[str]:
        of = self.device.functions[function]
        needs = [need for need in of.needs if need in self.device.functions]
        return {function}.union(*(self._below(need) for need in needs))

    def level_now(self, name: str, warm: bool) -> Rows:
        moment = self.used(warm)
        return self.in_force(self.behaviour(moment)[name, "level"], moment)

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
        groups = {
            (function, number)
            for wanted in self.wanted
            for function in self._below(wanted)
            for number, group in enumerate(self.device.functions[function].any_of)
            if any(name in self._stands_on(member) for member in group)
        }
        failing = [(given * self.group_out(*group)).sum() / given.sum() for group in groups]
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
