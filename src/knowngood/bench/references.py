"""What readings are judged by at this bench: the meter at the time of each line, and what known-good units read."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from threading import Lock
from weakref import WeakKeyDictionary

from knowngood.belief.sensing import Measuring
from knowngood.bench import gists
from knowngood.bench.settings import read_settings
from knowngood.bench.store import BenchEntry, Store
from knowngood.handbook.quantities import Expected
from knowngood.handbook.readings import Meter, Reference, reference
from knowngood.log.state import Line
from knowngood.maps.device import Device


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
    if store.is_writing:  # what is written may never come to be, so none of it is remembered
        return _Good().references(store, device, but_not)
    with _LOCK:
        good = _KNOWN.setdefault(store, {}).setdefault(device.id, _Good())
    return good.references(store, device, but_not)


class _Good:
    """What the known-good units of one map read: of a log that has not gone on it is not asked again."""

    def __init__(self) -> None:
        self._read: dict[str, tuple[str, dict[str, float]]] = {}
        """By unit: the mark of its map's text, and its readings by test."""
        self._newest = 0
        self._made: dict[str, dict[str, Reference]] = {}
        """By the mark of a map's text: what all of them come to."""
        self._lock = Lock()

    def references(self, store: Store, device: Device, but_not: str) -> dict[str, Reference]:
        """As ``references`` gives it."""
        with self._lock:
            self._look(store, device.id)
            if but_not in self._read:
                return self._counted(store, device, but_not)
            if device.content_hash not in self._made:
                self._made[device.content_hash] = self._counted(store, device, "")
            return self._made[device.content_hash]

    def _look(self, store: Store, map_name: str) -> None:
        units, newest = gists.gone_on(store, self._newest)
        if units:
            said = gists.readings(store, map_name, units if self._newest else None)
            now = {unit: (edition, read) for unit, edition, read in said}
            if any(self._read.get(unit) != now.get(unit) for unit in units):
                self._made = {}
                self._read = {unit: one for unit, one in self._read.items() if unit not in units} | now
            self._newest = newest

    def _counted(self, store: Store, device: Device, but_not: str) -> dict[str, Reference]:
        values: dict[str, list[float]] = defaultdict(list)
        editions = {device.content_hash: device}
        for unit, (edition, read) in self._read.items():
            if unit != but_not:
                if edition not in editions:
                    editions[edition] = store.device(unit)
                for test, value in read.items():
                    if test in device.tests and _mean_the_same(test, value, device, editions[edition]):
                        values[test].append(value)
        return {test: reference(found) for test, found in values.items()}


_KNOWN: WeakKeyDictionary[Store, dict[str, _Good]] = WeakKeyDictionary()
_LOCK = Lock()


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
