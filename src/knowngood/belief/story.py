"""The log as the belief sees it: the parts' states over time, and each piece of evidence in its configuration.

A part's slot holds a chain of variables: the state it was bought in, and one more after each act that may change it
(a remedy, another part, a connection made again). A test looks at the variables that were in force when it was made.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from knowngood.belief import priors
from knowngood.log import events as ev
from knowngood.log.state import Replay, State, made_by_closing, redrawn_by_fitting
from knowngood.maps.device import Device, Test

Donors = Mapping[int, NDArray[np.float64]]
"""For the sequence number of a ``fitted`` line: state probabilities that the part brought from its donor."""


@dataclass(frozen=True)
class Link:
    """One variable of a part's chain: a prior (states,), or a transition (before, after) from the one before it."""

    name: str
    part: str
    table: NDArray[np.float64]
    before: str | None = None
    seq: int | None = None
    """The line that brought it; None as bought."""


@dataclass(frozen=True)
class Configuration:
    """What holds during a test: the variable in force in each slot (None: nothing there), and how the unit is."""

    variables: tuple[tuple[str, str | None], ...]
    unplugged: frozenset[str]
    split: frozenset[str]
    """Functions lost because parts that only work together were parted."""
    closed: bool
    warm: bool

    def variable(self, part: str) -> str | None:
        return dict(self.variables)[part]


@dataclass(frozen=True)
class Seen:
    """A look: the condition on the part whose state is ``variable``."""

    seq: int
    text: str
    part: str
    variable: str
    condition: str
    look: str | None


@dataclass(frozen=True)
class Sensed:
    """A test's outcome, or its reading as written, in the configuration it was made in."""

    seq: int
    text: str
    test: Test
    outcome: str
    configuration: Configuration


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
    state: State = field(default_factory=State)

    def configuration(self, *, closed: bool, warm: bool, as_used: bool = False) -> Configuration:
        """The configuration now; ``as_used`` with everything put back that is out on purpose."""
        absent = self.empty if as_used else self.empty | self.state.removed
        unplugged = frozenset() if as_used else self.state.unplugged
        variables = tuple((part, None if part in absent else variable) for part, variable in self.now.items())
        return Configuration(variables, unplugged, split_by(self.device, self.state), closed, warm)


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
    for part in device.parts.values():
        # The past of a unit is a fact about the whole log: learned late, it still holds from the start.
        _start(story, part.id, priors.bought(part, replay.state.past))
    for line, state in zip(replay.lines, replay.before, strict=True):
        # Without its minutes and remark the line is what moves a suspect, and short enough to be shown beside it.
        text = ev.render(line.event.model_copy(update={"minutes": None, "note": ""}))
        told = len(story.links)
        _tell_line(story, line.seq, text, line.event, state, donors or {})
        story.links[told:] = [replace(link, seq=line.seq) for link in story.links[told:]]
    story.state = replay.state
    story.empty = replay.state.harvested
    return story


def _start(story: Story, part: str, prior: NDArray[np.float64]) -> None:
    name = f"{part}#0"
    story.links.append(Link(name, part, prior))
    story.now[part] = name


def _change(story: Story, part: str, transition: NDArray[np.float64] | None) -> None:
    if transition is None:
        return
    before = story.now[part]
    count = int(before.rpartition("#")[2]) + 1
    name = f"{part}#{count}"
    story.links.append(Link(name, part, transition, before))
    story.now[part] = name


def _touch(story: Story, connections: tuple[str, ...] | frozenset[str]) -> None:
    for connection in sorted(connections):
        _change(story, connection, priors.touched(story.device.parts[connection]))


def _tell_line(story: Story, seq: int, text: str, event: ev.Event, state: State, donors: Donors) -> None:
    device = story.device
    match event:
        case ev.Saw(part=part, condition=condition, look=look):
            story.evidence.append(Seen(seq, text, part, story.now[part], condition, look))
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
            _touch(story, redrawn_by_fitting(device, part, origin))
        case _:
            pass


def _sense(story: Story, seq: int, text: str, test: Test, outcome: str, state: State) -> None:
    story.state = state
    configuration = story.configuration(closed=state.closed, warm=test.warm)
    story.evidence.append(Sensed(seq, text, test, outcome, configuration))
