"""What is held back as it is logged: a sale that would hurt someone or hand on data, a cell thrown away or sent hurt, a
reading by no known tester."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import cast

from knowngood.bench.instruments import instruments
from knowngood.bench.store import Store
from knowngood.errors import LineError
from knowngood.log import events as ev
from knowngood.log.events.release import RuleSet
from knowngood.log.remembered import replay
from knowngood.log.state import Line
from knowngood.maps.device import Device
from knowngood.maps.shape import nearest, similar
from knowngood.proof.release import (
    Stop,
    cells_thrown_away,
    damaged_cells,
    hard_stops,
    wiping_of_a_part,
    wiping_stops,
)
from knowngood.proof.safety_test import safety_test


def measured(store: Store, text: str, event: ev.Measured, rules: str) -> ev.Measured:
    """A reading of the safety test with its rule set, the bench's own if it names none. Raises LineError."""
    names = sorted({one.name for one in instruments(store)})
    if event.instrument not in names:
        there = similar(event.instrument, names) if names else "There are none yet."
        raise LineError(
            f"'{text}': the bench's log knows no instrument '{event.instrument}'. {there} "
            f'Add it: knowngood bench instrument {event.instrument} --calibrated 2026-03-01 --uncertainty "5 %"',
            nearest(event.instrument, names),
        )
    if event.rules is None and rules == "none":
        raise LineError(
            f"'{text}': by which rules? Limits differ by up to 10 times and are never mixed. Write 'under german' or "
            "'under british' behind it, or set it once: knowngood bench set safety-rules german"
        )
    return event.model_copy(update={"rules": event.rules or cast("RuleSet", rules)})


def may_go(store: Store, text: str, device: Device, lines: Sequence[Line], event: ev.Event) -> None:
    """Raises LineError if a line lets the unit, or a part of it, go in a way that nothing overrides."""
    found = tuple(_stops(store, device, lines, event))
    if found:
        raise LineError(f"'{text}': " + " ".join(sentence(one) for one in found))


def sentence(stop: Stop) -> str:
    """What stops it and what would be right, in words."""
    return f"{stop.says[:1].upper()}{stop.says[1:]}. What would be right: {stop.right}."


def _stops(store: Store, device: Device, lines: Sequence[Line], event: ev.Event) -> Iterable[Stop]:
    told = replay(device, lines)
    match event:
        case ev.Sold(how=how):
            yield from hard_stops(device, told.state, safety_test(device, told, instruments(store)), how)
        case ev.Dispatched():
            yield from damaged_cells(device, told.state)
        case ev.Scrapped(part=ev.UNIT):
            yield from wiping_stops(device, told.state)
            yield from cells_thrown_away(device, told.state, ev.UNIT)
        case ev.Disposed(part=ev.UNIT):
            yield from wiping_stops(device, told.state)
            yield from damaged_cells(device, told.state)
        case ev.Vended(part=part) | ev.Scrapped(part=part) | ev.Disposed(part=part):
            stop = wiping_of_a_part(device, told.state, part)
            if stop:
                yield stop
            if isinstance(event, ev.Scrapped):
                yield from cells_thrown_away(device, told.state, part)
            elif isinstance(event, ev.Vended):
                yield from damaged_cells(device, told.state, part)
        case _:
            return
