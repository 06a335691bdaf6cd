"""Which line of the logs shows a part to work."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from knowngood.bench.stays import Stay
from knowngood.errors import QuantityError
from knowngood.handbook.quantities import parse_quantity
from knowngood.log import events as ev
from knowngood.maps.device import AnyMode, Device, FunctionLevel, PartModes, RailVoltage, Test
from knowngood.maps.words import HARMLESS


@dataclass(frozen=True)
class Shown:
    """The line that shows the part to work."""

    unit: str
    seq: int
    line: str


def shown_to_work(stayed: Iterable[Stay]) -> Shown | None:
    """The last line that shows a part to work in its place, with nothing since that could have changed that.

    What changes it: a remedy or a hurt seen on it, washing the unit, a rail of it that read too high, and the same test
    with another outcome.
    """
    found: Shown | None = None
    by_test = ""
    for stay in stayed:
        part = stay.came.part
        on, over = set(stay.device.parts[part].on), stay.lines[0][1].over
        for line, before in stay.lines:
            if on & (before.over - over):
                found, over = None, before.over
            match line.event:
                case ev.Tried(test=name) | ev.Found(test=name) | ev.Read(test=name):
                    if part in shows(stay.device, line.event) - before.removed:
                        found, by_test = Shown(stay.unit, line.seq, ev.render(line.event)), name
                    elif name == by_test:
                        found = None
                case _ if _changes(line.event, part):
                    found = None
                case _:
                    pass
        since = (line.event for line in stay.since if isinstance(line.event, ev.Saw))
        if on & (stay.state.over - over) or any(_changes(event, part) for event in since):
            found = None
    return found


def _changes(event: ev.Event, part: str) -> bool:
    match event:
        case ev.Mended(part=of):
            return of == part
        case ev.Saw(part=of, condition=condition):
            return of == part and condition not in HARMLESS
        case _:
            return isinstance(event, (ev.Began, ev.Dried))


def shows(device: Device, event: ev.Tried | ev.Found | ev.Read) -> frozenset[str]:
    """The parts that a test shows to work: none if it did not give its best outcome."""
    test = device.tests[event.test]
    match test.senses, event:
        case RailVoltage(function=rail), ev.Read(reading=reading):
            return _needed_for(device, test, rail) if _within(device, rail, reading) else frozenset()
        case FunctionLevel(function=function), ev.Tried(outcome=outcome) | ev.Found(outcome=outcome):
            return _needed_for(device, test, function) if outcome == test.outcomes[0] else frozenset()
        case PartModes(part=part), ev.Found(outcome=outcome):
            return frozenset({part}) if outcome == test.outcomes[0] else frozenset()
        case AnyMode(modes=modes), ev.Found(outcome=outcome):
            return frozenset(part for part, _ in modes) if outcome == test.outcomes[0] else frozenset()
        case _:
            return frozenset()


def _needed_for(device: Device, test: Test, function: str) -> frozenset[str]:
    """The parts that a function rests on in a test, without those in whose place the bench supply feeds it."""
    fed = device.needed(test.feeds) if test.feeds in device.functions else ()
    return frozenset(device.needed(function)) - frozenset(fed)


def _within(device: Device, rail: str, reading: str) -> bool:
    expected = device.functions[rail].nominal
    try:
        return expected is not None and expected.low <= parse_quantity(reading, "V") <= expected.high
    except QuantityError:
        return False
