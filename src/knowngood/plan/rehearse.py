"""Rehearsal: hidden faults are drawn from the map, and a policy works on the unit through its log alone.

Every draw takes a generator; unit n of a seed is the same unit whatever the policy and the number of processes, and
what a move gives on it rests on what is asked and how often, not on what was asked before. A policy sees the log and
nothing else; what its moves give is drawn from the hidden world by ``belief.evaluate`` and the same tables that the
belief uses, so a rehearsal shows how well the planning works if the map is right, and no more.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from hashlib import sha256

import numpy as np

from knowngood.belief import priors, sensing
from knowngood.belief.evaluate import World, behave, sensed_row
from knowngood.belief.story import split_by
from knowngood.errors import TooLargeError
from knowngood.handbook.quantities import Money
from knowngood.log import events as ev
from knowngood.log.state import Line, Replay, made_by_closing, redrawn_by_fitting, replay
from knowngood.maps.device import Device, Part, RailToGround, RailVoltage, Test
from knowngood.maps.words import FINE, Level
from knowngood.plan.choose import advise
from knowngood.plan.moves import Move
from knowngood.plan.terms import Terms

LONGEST_JOB = 120
"""Moves after which a rehearsed unit is given up, so that no policy can run for ever."""

Policy = Callable[[Device, Replay, Terms], Move]


def planner(device: Device, log: Replay, terms: Terms) -> Move:
    """The program's own advice."""
    return advise(device, log, terms).best.move


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
    """A drawn unit: its true faults, and what the bench sees of them."""

    def __init__(self, device: Device, past: tuple[str, ...], draw: np.random.Generator) -> None:
        self.device, self.draw = device, draw
        self.modes: dict[str, str] = {}
        for part in device.parts.values():
            self._set(part, priors.bought(part, past), draw)
        chance = device.unknown_per_function
        self.unknown = frozenset(name for name in device.functions if draw.random() < chance)
        self.at_start = dict(self.modes)
        self._seed, self._asked = int(draw.integers(2**63)), Counter[str]()
        self.lines: list[Line] = []
        self._replayed = replay(device, ())
        self._shown: dict[tuple[str, int | str], str] = {}
        self._serial: dict[str, int] = {}
        self.log(ev.Bought(map=device.id, price=Money(device.worth.working.currency, 0), past=past))

    def log(self, event: ev.Event) -> None:
        """Adds a line, and does to the hidden parts what the hand does."""
        before = self.replayed.state
        self.lines.append(Line(len(self.lines) + 1, "", event))
        match event:
            case ev.Closed(step=step):
                self._touch(made_by_closing(self.device, before, step))
            case ev.Mended(part=name, remedy=remedy_name):
                part = self.device.parts[name]
                remedy = part.remedy(remedy_name)
                assert remedy is not None
                self._set(
                    part, priors.mended(part, remedy)[self._state(part)], self._chance("mended", name, remedy_name)
                )
            case ev.Fitted(part=name, origin=origin):
                self._fit(self.device.parts[name], origin)
            case _:
                pass

    @property
    def replayed(self) -> Replay:
        if self._replayed.seq < len(self.lines):
            self._replayed = replay(self.device, self.lines)
        return self._replayed

    def world(self, *, closed: bool, warm: bool) -> World:
        state = self.replayed.state
        split = split_by(self.device, state)
        return World(self.modes, self.unknown, state.removed, state.unplugged, split, closed, warm)

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
            for behaviour in [behave(self.device, self.world(closed=True, warm=warm))]
            for name in self.device.wanted
        )

    def carry_out(self, move: Move) -> None:
        """Does a move, access first, and logs each thing that was done or found."""
        for step in move.closes:
            if step in self.replayed.state.open_steps:
                self.log(ev.Closed(step=ev.ALL))
                break
        for step in move.opens:
            self.log(ev.Opened(step=step))
        if move.test is not None:
            self.log(self._outcome(move.test))
        elif move.kind == "look":
            self.log(ev.Saw(part=move.target, condition=self._look(self.device.parts[move.target])))
        else:
            self.log(ev.parse(move.log if move.kind != "discharge" else f"{move.log} 1 V"))

    def _outcome(self, test: Test) -> ev.Event:
        state = self.replayed.state
        world = self.world(closed=state.closed, warm=test.warm)
        high = isinstance(test.senses, RailVoltage) and self.device.can_be_high(test.senses.function)
        row = sensed_row(self.device, test, world, high=high)
        assert row is not None, "a test of a part that is not there was proposed"
        shown = self._shown.get((test.id, row))
        if shown is None:
            shown = self._shown[test.id, row] = self._draw_outcome(test, row, high)
        if test.verb == "read":
            return ev.Read(test=test.id, reading=shown)
        return ev.parse(f"{test.verb} {test.id} {shown}")

    def _draw_outcome(self, test: Test, row: int, high: bool) -> str:
        if isinstance(test.senses, (RailVoltage, RailToGround)):
            states = sensing.reading_states(test, high=high)
            return sensing.sample_reading(self.device, test, states[row], self._chance(test.id, row), high=high)
        table = sensing.outcome_table(self.device, test)
        return test.outcomes[int(self._chance(test.id, row).choice(len(test.outcomes), p=table[row]))]

    def _look(self, part: Part) -> str:
        key = (f"saw {part.id}", self._serial.get(part.id, 0))
        if key not in self._shown:
            row = sensing.look_table(part, None)[self._state(part)]
            self._shown[key] = sensing.LOOKS[int(self._chance(*key).choice(len(row), p=row))]
        return self._shown[key]

    def _state(self, part: Part) -> int:
        return part.states.index(self.modes.get(part.id, FINE))

    def _chance(self, *asked: object) -> np.random.Generator:
        """The draw for what is asked, and for how often it was: its own, so that other draws do not move it."""
        what = " ".join(map(str, asked))
        self._asked[what] += 1
        key = sha256(f"{what} {self._asked[what]}".encode()).digest()
        return np.random.default_rng([self._seed, int.from_bytes(key[:8])])

    def _set(self, part: Part, chances: priors.Vector, draw: np.random.Generator) -> None:
        state = part.states[int(draw.choice(len(chances), p=chances))]
        if state == FINE:
            self.modes.pop(part.id, None)
        else:
            self.modes[part.id] = state

    def _fit(self, part: Part, origin: str) -> None:
        if origin != ev.BACK:
            chances = priors.swapped(part, priors.fitted(part, origin))[self._state(part)]
            self._set(part, chances, self._chance("fitted", part.id, origin))
            self._serial[part.id] = self._serial.get(part.id, 0) + 1
        self._touch(redrawn_by_fitting(self.device, part.id, origin))

    def _touch(self, connections: Iterable[str]) -> None:
        for connection in sorted(connections):
            part = self.device.parts[connection]
            transition = priors.touched(part)
            if transition is not None:
                self._set(part, transition[self._state(part)], self._chance("touched", connection))


def drawn_unit(unit: int, device: Device, past: tuple[str, ...], seed: int) -> HiddenUnit:
    """Unit n of a seed, as it comes to the bench."""
    return HiddenUnit(device, past, np.random.default_rng([seed, unit]))


def rehearse_unit(
    unit: int, device: Device, terms: Terms, past: tuple[str, ...], seed: int, policy: Policy = planner
) -> Rehearsed:
    """One drawn unit worked on by a policy until it leaves the bench."""
    hidden = drawn_unit(unit, device, past, seed)
    moves, materials, exit_ = 0, 0.0, "given-up"
    while moves < LONGEST_JOB:
        try:
            move = policy(device, hidden.replayed, terms)
        except TooLargeError:
            break  # a long log can outgrow the tables; the unit is given up as parts, and the summary says how often
        moves += 1
        materials += move.materials
        if move.act.ends:
            exit_ = {"sell": "working", "sell-as-is": "as-is", "part-out": "parts"}[move.kind]
            if exit_ == "as-is" and hidden.replayed.state.open_steps:
                hidden.log(ev.Closed(step=ev.ALL))
            hidden.log(ev.parse(move.log))
            break
        hidden.carry_out(move)
    works = hidden.works()
    minutes = hidden.replayed.state.minutes + (terms.list_minutes if exit_ in ("working", "as-is") else 0.0)
    brings = {"working": terms.working, "as-is": terms.as_is}.get(exit_, terms.parts)
    back = terms.come_back if exit_ == "working" and not works else 0.0
    net = brings - back - materials - minutes * terms.rate
    lines = tuple(ev.render(line.event) for line in hidden.lines)
    return Rehearsed(exit_, works, moves, minutes, materials, net, lines)
