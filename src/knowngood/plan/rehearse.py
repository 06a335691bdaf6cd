"""Rehearsal: hidden faults are drawn from the map, and a policy works on the unit through its log alone.

Every draw takes a generator; unit n of a seed is the same unit whatever the policy and the number of processes, and
what a move gives on it rests on what is asked and how often, not on what was asked before. A policy sees the log and
nothing else; what its moves give is drawn from the hidden world by ``belief.evaluate`` and the same tables that the
belief uses, so a rehearsal shows how well the planning works if the map is right, and no more.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Hashable, Iterable, Mapping
from dataclasses import dataclass
from hashlib import sha256

import numpy as np

from knowngood.belief import causes, sensing
from knowngood.belief.cases import Effort
from knowngood.belief.configuration import Configuration
from knowngood.belief.evaluate import World, behave, sensed_row
from knowngood.belief.reach import reach
from knowngood.belief.story import Seen, tell
from knowngood.belief.terms import unknown_of
from knowngood.errors import TooLargeError
from knowngood.handbook.quantities import Money
from knowngood.log import events as ev
from knowngood.log.state import Line, Replay, replay
from knowngood.maps.device import Device, Part, RailToGround, RailVoltage, Test
from knowngood.maps.words import Level
from knowngood.plan.choose import advise
from knowngood.plan.moves import Move, done_by, way_there
from knowngood.plan.terms import Terms

LONGEST_JOB = 120
"""Moves after which a rehearsed unit is given up, so that no policy can run for ever."""

Policy = Callable[[Device, Replay, Terms], Move]


def planner(device: Device, log: Replay, terms: Terms) -> Move:
    """The program's own advice; a unit whose log outgrows one piece is given up."""
    return advise(device, log, terms, effort=Effort.ONE_PIECE).best.move


@dataclass(frozen=True)
class Rehearsed:
    """How one drawn unit went under a policy."""

    exit: str
    """working, as-is, parts, or 'given-up' if the job ran too long or its log outgrew exact inference."""
    works: bool
    """Whether everything promised really works at the end."""
    moves: int
    minutes: float
    materials: float
    net: float
    """What the way out brings, less materials, minutes at the bench's rate, and the loss if it comes back."""
    lines: tuple[str, ...]


class HiddenUnit:
    """A drawn unit: its true faults, and what the bench sees of them.

    What is hidden are the very variables that the belief has of the log (``Story.links``), each drawn once its line is
    there, given those it depends on.
    """

    def __init__(
        self, device: Device, past: tuple[str, ...], draw: np.random.Generator, over: Iterable[str] | None = None
    ) -> None:
        """``over``: rails that may have hurt what hangs on them; any, if not given."""
        chance = device.unknown_per_function
        self._begin(device, frozenset(name for name in device.functions if draw.random() < chance), draw)
        self._draw(causes.bought(device, past, device.functions if over is None else over))
        self.log(ev.Bought(map=device.id, price=Money(device.worth.working.currency, 0), past=past))
        self.at_start = self.modes

    @classmethod
    def given(
        cls, device: Device, lines: Iterable[Line], assignment: Mapping[str, int], draw: np.random.Generator
    ) -> HiddenUnit:
        """A unit of which lines are known already: what is hidden is an ``assignment`` of the belief's variables.

        What was tried or seen before would be found again, as long as nothing is done to the unit.
        """
        self = cls.__new__(cls)
        self._begin(device, frozenset(name for name in device.functions if assignment[unknown_of(name)]), draw)
        self.values.update(assignment)
        for line in lines:
            self.log(line.event)
        for item in self.story.evidence:
            if isinstance(item, Seen):
                self._shown[f"saw {item.part}", item.variable] = item.condition
            elif (row := self._row(item.test, item.configuration)) is not None:
                self._shown[item.test.id, item.key, row] = item.outcome
        self.at_start = self.modes
        return self

    def _begin(self, device: Device, unknown: frozenset[str], draw: np.random.Generator) -> None:
        self.device, self.unknown, self.draw = device, unknown, draw
        self._seed, self._asked = int(draw.integers(2**63)), Counter[str]()
        self.values: dict[str, int] = {}
        """The state of each hidden variable."""
        self.lines: list[Line] = []
        self._shown: dict[Hashable, str] = {}

    def log(self, event: ev.Event) -> None:
        """Adds a line, and does to the hidden parts what the hand does."""
        self.lines.append(Line(len(self.lines) + 1, "", event))
        self.replayed = replay(self.device, self.lines)
        self.story = tell(self.device, self.replayed)
        self._draw(self.story.links)

    def _draw(self, links: Iterable[causes.Link]) -> None:
        for link in links:
            if link.name not in self.values:
                chances = link.table[tuple(self.values[parent] for parent in link.parents)]
                self.values[link.name] = int(self._chance(link.name).choice(len(chances), p=chances))

    @property
    def modes(self) -> dict[str, str]:
        """The faulty parts, with their mode."""
        states = ((part, self.values[variable]) for part, variable in self.story.now.items())
        return {part: self.device.parts[part].states[state] for part, state in states if state}

    def world(self, configuration: Configuration) -> World:
        """What the unit is like in a configuration."""
        self._draw(self.story.shown.values())
        slots = {part: self.values[slot] for part, slot in configuration.slots if slot is not None}
        return World(
            {part: self.device.parts[part].states[state] for part, state in slots.items() if state},
            frozenset(part for part, shown in configuration.shown if not self.values[shown]),
            self.unknown,
            frozenset(part for part, slot in configuration.slots if slot is None),
            configuration.unplugged,
            configuration.split,
            configuration.closed,
            configuration.warm,
            configuration.fed,
            frozenset(
                rail for before in configuration.since for rail in behave(self.device, self.world(before)).shorted
            ),
        )

    @property
    def faults(self) -> tuple[str, ...]:
        """What was wrong at the start, in words."""
        faults = tuple(f"{part}: {mode}" for part, mode in sorted(self.at_start.items()))
        return faults + tuple(f"{name}: something the map does not know" for name in sorted(self.unknown))

    def works(self) -> bool:
        """Whether every wanted function is good, closed, cold and warm."""
        return all(
            behaviour.level[name] == Level.GOOD
            for warm in (False, True)
            for behaviour in [behave(self.device, self.world(self.story.as_used(warm=warm)))]
            for name in self.device.wanted
        )

    def carry_out(self, move: Move) -> None:
        """Does a move, access first, and logs each thing that was done or found."""
        for event in way_there(move, self.replayed.state):
            self.log(event)
        if move.test is not None:
            self.log(self._outcome(move.test))
        elif move.kind == "look":
            self.log(ev.Saw(part=move.target, condition=self._look(self.device.parts[move.target])))
        else:
            self.log(done_by(move))

    def _outcome(self, test: Test) -> ev.Event:
        configuration = self.story.configuration_of(test)
        row = self._row(test, configuration)
        assert row is not None, "a test of a part that is not there was proposed"
        # The same test of the same thing errs the same way.
        key = (test.id, reach(self.device, test).of(configuration), row)
        if key not in self._shown:
            self._shown[key] = self._draw_outcome(test, row)
        shown = self._shown[key]
        if test.verb == "read":
            return ev.Read(test=test.id, reading=shown)
        return ev.parse(f"{test.verb} {test.id} {shown}")

    def _row(self, test: Test, configuration: Configuration) -> int | None:
        return sensed_row(self.device, test, self.world(configuration))

    def _draw_outcome(self, test: Test, row: int) -> str:
        if isinstance(test.senses, (RailVoltage, RailToGround)):
            states = sensing.reading_states(self.device, test)
            return sensing.sample_reading(self.device, test, states[row], self._chance(test.id, row))
        table = sensing.outcome_table(self.device, test)
        return test.outcomes[int(self._chance(test.id, row).choice(len(test.outcomes), p=table[row]))]

    def _look(self, part: Part) -> str:
        variable = self.story.now[part.id]
        key = (f"saw {part.id}", variable)
        if key not in self._shown:
            row = sensing.look_table(part, None)[self.values[variable]]
            self._shown[key] = sensing.LOOKS[int(self._chance(*key).choice(len(row), p=row))]
        return self._shown[key]

    def _chance(self, *asked: object) -> np.random.Generator:
        """The draw for what is asked, and for how often it was: its own, so that other draws do not move it."""
        what = " ".join(map(str, asked))
        self._asked[what] += 1
        key = sha256(f"{what} {self._asked[what]}".encode()).digest()
        return np.random.default_rng([self._seed, int.from_bytes(key[:8])])


WAYS_OUT = {"sell": "working", "sell-as-is": "as-is", "part-out": "parts"}
"""The way out that a move takes which ends the job."""


def drawn_unit(unit: int, device: Device, past: tuple[str, ...], seed: int) -> HiddenUnit:
    """Unit n of a seed, as it comes to the bench."""
    return HiddenUnit(device, past, np.random.default_rng([seed, unit]))


def rehearse_unit(
    unit: int, device: Device, terms: Terms, past: tuple[str, ...], seed: int, policy: Policy = planner
) -> Rehearsed:
    """One drawn unit worked on by a policy until it leaves the bench."""
    found = OnTheBench(drawn_unit(unit, device, past, seed), terms).go_on(policy)
    assert found is not None, "a job ends after LONGEST_JOB moves"
    return found


class OnTheBench:
    """A drawn unit being worked on. Minutes that its log holds already are spent, and count for nothing."""

    def __init__(self, hidden: HiddenUnit, terms: Terms) -> None:
        self.hidden, self.terms = hidden, terms
        self.moves, self.materials = 0, 0.0
        self._spent = hidden.replayed.state.minutes

    def go_on(self, policy: Policy, moves: int = LONGEST_JOB) -> Rehearsed | None:
        """Works by a policy until the unit leaves the bench, or until so many moves were made in all: then None.

        Making the way to a move is a move; the policy is asked again when it is made.
        """
        hidden = self.hidden
        while self.moves < moves:
            try:
                move = policy(hidden.device, hidden.replayed, self.terms)
            except TooLargeError:
                return self._gone("given-up")  # as parts, and the summary says how often
            self.moves += 1
            if move.act.ends:
                exit_ = WAYS_OUT[move.kind]
                if exit_ == "as-is" and hidden.replayed.state.open_steps:
                    hidden.log(ev.Closed(step=ev.ALL))
                hidden.log(ev.parse(move.log))
                return self._gone(exit_)
            if way := way_there(move, hidden.replayed.state):
                # What is worth doing once the way is open is another question.
                for event in way:
                    hidden.log(event)
                continue
            self.materials += move.materials
            hidden.carry_out(move)
        return self._gone("given-up") if moves >= LONGEST_JOB else None

    @property
    def minutes(self) -> float:
        """Hands-on minutes since it came to the bench."""
        return self.hidden.replayed.state.minutes - self._spent

    @property
    def cost(self) -> float:
        """Materials and minutes so far, in money."""
        return self.materials + self.minutes * self.terms.rate

    def _gone(self, exit_: str) -> Rehearsed:
        terms, works = self.terms, self.hidden.works()
        minutes = self.minutes + (terms.list_minutes if exit_ in ("working", "as-is") else 0.0)
        net = brings(terms, exit_, works=works) - self.materials - minutes * terms.rate
        lines = tuple(ev.render(line.event) for line in self.hidden.lines)
        return Rehearsed(exit_, works, self.moves, minutes, self.materials, net, lines)


def brings(terms: Terms, exit_: str, *, works: bool) -> float:
    """What a unit brings by its way out, less the loss if it comes back."""
    if exit_ == "working":
        return terms.working - (0.0 if works else terms.come_back)
    return terms.as_is if exit_ == "as-is" else terms.parts
