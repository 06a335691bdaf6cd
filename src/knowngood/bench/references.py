"""What readings are judged by at this bench: the meter at the time of each line, and what known-good units read."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable

from knowngood.belief.sensing import Measuring
from knowngood.bench.settings import read_settings
from knowngood.bench.store import BenchEntry, Store
from knowngood.handbook.quantities import Expected, parse_reading
from knowngood.handbook.readings import Meter, Reference, reference
from knowngood.log import events as ev
from knowngood.log.state import Line, Replay, replay
from knowngood.maps.device import Device

REPAIRS = (ev.Unplugged, ev.Plugged, ev.Removed, ev.Harvested, ev.Fitted, ev.Mended, ev.Began, ev.Dried)
"""Acts before which a unit may have been another: what was read then says nothing of the unit as it was proved."""


def measuring(store: Store, unit: str) -> Measuring:
    """The meter and the references for the readings of a unit; its own are not among them."""
    name = store.unit_id(unit)
    now, by_line = meters(store.bench_lines(), store.lines(name))
    return Measuring(now, by_line, references(store, store.device(name), but_not=name))


def meters(bench: Iterable[BenchEntry], lines: Iterable[Line]) -> tuple[Meter, dict[int, Meter]]:
    """The meter that is set now, and for lines logged before that the one that was set then."""
    entries = list(bench)
    sets = [entry.seq for entry in entries if entry.text.startswith("set meter-")]
    now = read_settings(entries).meter
    older = {line.seq: line.bench_seq for line in lines if any(seq > line.bench_seq for seq in sets)}
    then = {upto: read_settings(entry for entry in entries if entry.seq <= upto).meter for upto in set(older.values())}
    return now, {seq: then[upto] for seq, upto in older.items()}


def references(store: Store, device: Device, *, but_not: str = "") -> dict[str, Reference]:
    """By test: what the known-good units of the same map read. Each unit counts once, by its last reading."""
    same_map = {one.id for one in store.units() if one.map_name == device.id and one.id != but_not}
    values: dict[str, list[float]] = defaultdict(list)
    for unit in store.units_with("read"):
        if unit in same_map:
            of_unit = store.device(unit)
            for test, value in read_when_good(of_unit, replay(of_unit, store.lines(unit))).items():
                if test in device.tests and _mean_the_same(test, value, device, of_unit):
                    values[test].append(value)
    return {test: reference(found) for test, found in values.items()}


def _mean_the_same(test: str, value: float, now: Device, then: Device) -> bool:
    """Whether a reading of an older edition of the map is one of this edition's test: that may have meant another rail
    by the name. Where the limits differ (the map has learned, or was put right), what fits both is the same rail."""
    sensed = now.tests[test].senses
    if sensed != then.tests[test].senses:
        return False
    here, there = (device.functions[sensed.function].nominal for device in (now, then))  # type: ignore[union-attr]
    return here == there or (here is not None and there is not None and _within(here, value) and _within(there, value))


def _within(limits: Expected, value: float) -> bool:
    return limits.low <= value <= limits.high


def known_good(device: Device, log: Replay) -> bool:
    """Whether a unit was proved good: sold as working, or all that is wanted seen to work since the last act on it.

    One that was sold with something declared is none: what stops that may be on any rail.
    """
    state = log.state
    return not state.declared and (state.exit == "working" or set(device.wanted) <= state.proven)


def read_when_good(device: Device, log: Replay) -> dict[str, float]:
    """By test: the last number read since the last repair of a known-good unit, with everything plugged in.

    Overload is no number, and is left out.
    """
    found: dict[str, float] = {}
    if not known_good(device, log):
        return found
    for line, before in zip(reversed(log.lines), reversed(log.before), strict=True):
        if isinstance(line.event, REPAIRS):
            break
        if isinstance(line.event, ev.Read) and not before.unplugged and not before.removed:
            value = abs(parse_reading(line.event.reading).value)
            if math.isfinite(value):
                found.setdefault(line.event.test, value)
    return found
