"""The log as the belief sees it: the parts' states over time, and each piece of evidence in its configuration.

A part's slot holds a chain of variables: the state it was bought in, and one more after each act that may change it
(a remedy, another part, a connection made again). A test looks at the variables that were in force when it was made.
A fault that comes and goes shows or does not for a *spell*: all tests that watch for a moment and were made for the
first time share one, those made for the second time another, and so on; a test that watches longer has spells of its
own. So a repeat is news of such faults, and of nothing else. (A spell for each hour at the bench would be truer; but
what has to be told apart grows by the power of the number of spells.)

A unit that a buyer sends back is told from its return on: each part as likely in each of its states as the log left it
when it was sold, then changed by time and by hands of a stranger (``priors.returned``). What the log said of parts
together before is not carried over, as with a part that moves between units (an approximation): all parts twice, as
sold and as returned, would need tables past 2.6 million entries on a starter map.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from knowngood.belief import causes, priors
from knowngood.belief.causes import Link
from knowngood.belief.configuration import Configuration
from knowngood.belief.reach import reach
from knowngood.log import events as ev
from knowngood.log.connections import brought_along, made_by_closing, redrawn_by_fitting
from knowngood.log.state import ACTS, Replay, State
from knowngood.maps.device import BENCH, Device, Test

Donors = Mapping[int | tuple[int, str], NDArray[np.float64]]
"""State probabilities that parts brought along: for the sequence number of a ``fitted`` line, those of the part from
its donor; for that of the last ``returned`` line and a part, those that it had when the unit was sold."""

A_MOMENT = 2.0
"""Minutes for which a test watches what it senses, if its map does not say longer (common practice, no source)."""

Spell = tuple[int, float]
"""How often the same test was made before, and for how many minutes it watches."""

AT_FIRST: Spell = (0, A_MOMENT)


@dataclass(frozen=True)
class Seen:
    """A look: the condition on the part whose state is ``variable``."""

    seq: int
    text: str
    part: str
    variable: str
    condition: str
    look: str | None
    degree: str | None = None


@dataclass(frozen=True)
class Sensed:
    """A test's outcome, or its reading as written, in the configuration it was made in."""

    seq: int
    text: str
    test: Test
    outcome: str
    configuration: Configuration
    key: Hashable
    """All that could matter to the test; see ``reach``. A test with the same key is the same test again."""
    spell: int
    """How often it was made before. In one spell a fault that comes and goes either shows or does not."""


@dataclass
class Story:
    """Everything that a log says about the parts."""

    device: Device
    links: list[Link] = field(default_factory=list)
    evidence: list[Seen | Sensed] = field(default_factory=list)
    now: dict[str, str] = field(default_factory=dict)
    """The variable in force in each slot; that of the part that was taken out, while the slot is empty."""
    empty: frozenset[str] = frozenset()
    """Slots with nothing in them that will go back: harvested parts."""
    later: dict[str, str] = field(default_factory=dict)
    """The variable in force once the unit is used, in slots where something is still to be done (``menu``)."""
    state: State = field(default_factory=State)
    known: dict[Hashable, Configuration] = field(default_factory=dict)
    """The configurations so far, by all that they follow from."""
    shown: dict[str, Link] = field(default_factory=dict)
    """By name what parts show in the spells that were asked for; a belief needs those that a test rested on."""
    made: Counter[tuple[str, Hashable]] = field(default_factory=Counter)
    """How often each test was made, by all that could matter to it."""
    since: tuple[Configuration, ...] = ()
    """The configurations that power went through since the unit's input was last away, before the present one."""
    powered: Configuration | None = None
    """The present one, if a test had power in it."""

    def configuration(
        self,
        *,
        closed: bool,
        warm: bool,
        spell: Spell | None = None,
        fed: frozenset[str] = frozenset(),
        off: bool = False,
    ) -> Configuration:
        """The configuration now, in a spell; without one, in that of tests made for the first time.

        Where a bench supply has ``fed`` rails the packs hang on nothing. With power ``off`` nothing is latched.
        """
        absent, unplugged, spell = self.empty | self.state.removed, self.state.unplugged, spell or AT_FIRST
        if fed:
            unplugged |= {plug for pack in self.device.packs for plug in self.device.plugs_of[pack]}
        split = split_by(self.device, self.state)
        since = () if fed or off else self.since
        # Each change of what sits in a slot is one more link.
        key = (len(self.links), absent, unplugged, split, closed, warm, spell, fed, since)
        if key not in self.known:
            slots = tuple((part, None if part in absent else variable) for part, variable in self.now.items())
            shown = tuple((one, self._shown(one, slot, spell)) for one, slot in slots if slot and one in self._passing)
            self.known[key] = Configuration(slots, shown, unplugged, split, closed, warm, fed, since)
        return self.known[key]

    def as_used(self, *, warm: bool) -> Configuration:
        """The unit closed, with everything put back that is out on purpose, and for so long that every fault shows."""
        now = {part: None if part in self.empty else variable for part, variable in self.now.items()}
        slots = tuple({**now, **self.later}.items())
        return Configuration(slots, (), frozenset(), split_by(self.device, self.state), True, warm)

    def slot_of(self, variable: str) -> str:
        """The variable of a part's state, of which another may be what it shows."""
        return self.shown[variable].parents[0] if variable in self.shown else variable

    def configuration_of(self, test: Test, *, closed: bool | None = None) -> Configuration:
        """The configuration in which a test is made, now or (with ``closed`` as it was) in the line being told."""
        shut = (test.closed or self.state.closed) if closed is None else closed
        fed = self.device.fed_on_bench if test.power == BENCH and test.feeds is None else frozenset()
        off = test.power == "off"
        now = self.configuration(closed=shut, warm=test.warm, fed=fed, off=off)
        spell = self.spell_of(test, reach(self.device, test).of(now))
        if spell == AT_FIRST:
            return now
        return self.configuration(closed=shut, warm=test.warm, spell=spell, fed=fed, off=off)

    def act(self, state: State, *, live: bool) -> None:
        """A hand was in the unit: its input was away, or with ``live`` it was not."""
        if live and self.device.latching:
            self.state = state
            before = self.powered or self.configuration(closed=state.closed, warm=False)
            self.since = tuple(dict.fromkeys((*self.since, replace(before, since=()))))
        else:
            self.since = ()
        self.powered = None

    def spell_of(self, test: Test, key: Hashable) -> Spell:
        """How often the test was made before, with nothing changed that could matter, and how long it watches."""
        return self.made[test.id, key], max(test.runs, A_MOMENT)

    @cached_property
    def _passing(self) -> frozenset[str]:
        return frozenset(part.id for part in self.device.parts.values() if part.comes_and_goes)

    def _shown(self, part: str, slot: str, spell: Spell) -> str:
        """What a part shows in a spell: its state, or nothing wrong while its fault is away."""
        number, minutes = spell
        name = f"{slot}@{number}" if minutes == A_MOMENT else f"{slot}@{number}+{minutes:g}"
        if name not in self.shown:
            table = np.eye(len(self.device.parts[part].states))
            for index, mode in enumerate(self.device.parts[part].modes, start=1):
                if mode.shows is not None:
                    away = float(np.exp(-minutes / mode.shows))
                    table[index, [0, index]] = away, 1.0 - away
            self.shown[name] = Link(name, table, (slot,))
        return name


def split_by(device: Device, state: State) -> frozenset[str]:
    """Functions that a split married group loses for certain: its parts come from different units."""
    lost = [
        married.spoils
        for married in device.married
        if len({state.origin.get(part, ev.BACK) for part in married.parts}) > 1
    ]
    return frozenset(function for functions in lost for function in functions)


def tell(device: Device, replay: Replay, donors: Donors | None = None) -> Story:
    """The story of a replayed log."""
    story = Story(device)
    # The past of a unit is a fact about the whole log: learned late, it still holds from the start.
    back = last_return(replay)
    if back is None:
        story.links = list(causes.bought(device, replay.state.past, replay.state.over))
    else:
        story.links = list(_came_back(device, replay, back, donors or {}))
    story.now = {part: causes.first(part) for part in device.parts}
    for line, state in list(zip(replay.lines, replay.before, strict=True))[0 if back is None else back + 1 :]:
        # Without its minutes and remark the line is what moves a suspect, and short enough to be shown beside it.
        text = ev.render(line.event.model_copy(update={"minutes": None, "note": ""}))
        told = len(story.links)
        if isinstance(line.event, (*ACTS, ev.Discharged)):
            story.act(state, live=isinstance(line.event, (ev.Unplugged, ev.Plugged)) and line.event.live)
        _tell_line(story, line.seq, text, line.event, state, donors or {})
        story.links[told:] = [replace(link, seq=line.seq) for link in story.links[told:]]
    story.state = replay.state
    story.empty = replay.state.harvested
    return story


def last_return(replay: Replay) -> int | None:
    """The index of the last line with which the unit came back from a buyer, if it did."""
    return next(
        (at for at in reversed(range(len(replay.lines))) if isinstance(replay.lines[at].event, ev.Returned)), None
    )


def _came_back(device: Device, replay: Replay, at: int, donors: Donors) -> Iterator[Link]:
    """The parts of a unit that came back; one of which ``donors`` says nothing, as it would have been bought."""
    seq, then = replay.lines[at].seq, replay.before[at]
    since = [one for one in replay.state.past if one not in then.past]
    for part in device.parts.values():
        sold = donors.get((seq, part.id))
        chances = priors.bought(part, then.past) if sold is None else sold
        if part.id not in then.removed:
            chances = chances @ priors.returned(part, since, handled=part.id in then.touched)
        yield Link(causes.first(part.id), chances, part=part.id)


def _change(story: Story, part: str, transition: NDArray[np.float64] | None) -> None:
    if transition is None:
        return
    before = story.now[part]
    count = int(before.rpartition("#")[2]) + 1
    name = f"{part}#{count}"
    story.links.append(Link(name, transition, (before,), part))
    story.now[part] = name


def _touch(story: Story, connections: tuple[str, ...] | frozenset[str]) -> None:
    for connection in sorted(connections):
        _change(story, connection, priors.touched(story.device.parts[connection]))


def _tell_line(story: Story, seq: int, text: str, event: ev.Event, state: State, donors: Donors) -> None:
    device = story.device
    match event:
        case ev.Saw(part=part, condition=condition, look=look, degree=degree):
            story.evidence.append(Seen(seq, text, part, story.now[part], condition, look, degree))
        case ev.Tried(test=name, outcome=outcome, bench=True):
            _sense(story, seq, text, device.tests[name].on_bench, outcome, state)
        case ev.Tried(test=name, outcome=outcome) | ev.Found(test=name, outcome=outcome):
            _sense(story, seq, text, device.tests[name], outcome, state)
        case ev.Read(test=name, reading=reading):
            _sense(story, seq, text, device.tests[name], reading, state)
        case ev.Closed(step=step):
            _touch(story, made_by_closing(device, state, step))
        case ev.Plugged(connection=connection):
            _touch(story, (connection,))
        case ev.Mended(part=part, remedy=name):
            remedy = device.parts[part].remedy(name)
            if remedy is not None:
                _change(story, part, priors.mended(device.parts[part], remedy))
        case ev.Fitted(part=part, origin=origin):
            if origin != ev.BACK:
                fresh = donors.get(seq, priors.fitted(device.parts[part], origin))
                _change(story, part, priors.swapped(device.parts[part], fresh))
                for carried in brought_along(device, state, part, origin):
                    _change(story, carried, priors.carried(device.parts[carried], origin))
            _touch(story, redrawn_by_fitting(device, part, origin))
        case _:
            pass


def _sense(story: Story, seq: int, text: str, test: Test, outcome: str, state: State) -> None:
    story.state = state
    if test.power == "off":
        story.act(state, live=False)
    configuration = story.configuration_of(test, closed=state.closed)
    if test.power not in ("off", BENCH) and test.feeds is None:
        story.powered = configuration
    key = reach(story.device, test).of(configuration)
    story.evidence.append(Sensed(seq, text, test, outcome, configuration, key, story.made[test.id, key]))
    story.made[test.id, key] += 1
