"""Where a part came from and what the logs say of it: a part on the shelf, or one that is still in a donor."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from itertools import islice

from knowngood.bench import gists, loose, reservations
from knowngood.bench.donors import Origins
from knowngood.bench.history import history
from knowngood.bench.loose import Stocked
from knowngood.bench.passages import StockPart
from knowngood.bench.revisions import Reader
from knowngood.bench.shown import Shown, shown_to_work
from knowngood.bench.stays import Stay, stays
from knowngood.bench.stock import Logs, stock
from knowngood.bench.store import Store
from knowngood.errors import ContradictionError, LineError, NotFoundError, TooLargeError
from knowngood.log import events as ev
from knowngood.log.remembered import replay
from knowngood.log.state import Replay
from knowngood.maps.shape import nearest, similar
from knowngood.maps.words import FINE, MISSING

EXITS_WITH_PARTS = (None, "parts")
"""Of a donor: its parts are there as long as it was not sold whole."""


READ_AHEAD = 60
"""Logs that are read in one go."""


@dataclass(frozen=True)
class SeenOn:
    """A condition found on the part."""

    unit: str
    seq: int
    condition: str
    degree: str | None


@dataclass(frozen=True)
class Facts:
    """What is known of one part."""

    came: StockPart
    inside: bool
    """Still in the unit; ``came`` then names the line it would leave by, and the time the unit was bought."""
    route: tuple[str, ...]
    """The units it was in, oldest first, after ``new`` or ``used`` for one that was bought loose."""
    history: str
    """What happened to it there, in words; empty where no line and no belief says anything."""
    seen: tuple[SeenOn, ...]
    mended: tuple[str, ...]
    tested: Shown | None
    good: float | None
    """Chance that nothing is wrong with it; None where its unit's log says what cannot be."""
    place: str
    revision: str | None
    married: tuple[str, ...]
    """The parts it only works with."""
    reserved_for: tuple[str, ...]


@dataclass(frozen=True)
class Narrowed:
    """What a person asks of the stock: all of it where all are empty."""

    parts: frozenset[str] = frozenset()
    units: frozenset[str] = frozenset()
    lots: frozenset[str] = frozenset()
    map_name: str | None = None

    @property
    def all(self) -> bool:
        return not (self.parts or self.units or self.lots or self.map_name)

    def takes(self, came: StockPart) -> bool:
        """Whether a part is asked for; not if only lots are."""
        return (
            not (self.lots and not self.parts and not self.units)
            and (not self.parts or came.part in self.parts)
            and (not self.units or came.unit in self.units)
            and (not self.map_name or came.map_name == self.map_name)
        )


def narrowed(store: Store, words: Sequence[str], map_name: str | None = None) -> tuple[Narrowed, list[str]]:
    """What is asked for by names of parts, units and lots, and a map's; and the words that are lines instead.

    Raises LineError for a name that is none, NotFoundError for a map that no unit has.
    """
    if not words and map_name is None:
        return Narrowed(), []
    units = store.names()
    one_of = {map_of: unit for unit, map_of in units.items()}
    if map_name is not None and map_name not in one_of:
        raise NotFoundError(f"No unit was bought by a map '{map_name}'. {similar(map_name, one_of)}")
    names = {part for unit in one_of.values() for part in store.device(unit).parts} if words else set()
    lots = loose.lots(store)
    found: dict[str, set[str]] = {"parts": set(), "units": set(), "lots": set()}
    lines = []
    for word in words:
        name = "-".join(word.lower().split())
        if name in names:
            found["parts"].add(name)
        elif name.upper() in units:
            found["units"].add(name.upper())
        elif name.upper() in lots:
            found["lots"].add(name.upper())
        elif loose.is_line(word):
            lines.append(word)
        else:
            known = {*names, *units, *lots}
            raise LineError(
                f"No part, unit or lot '{word}' in stock. {similar(name, known)} "
                f"To put loose parts there, say how many: {Stocked.example}",
                nearest(name, known),
            )
    kept = {sort: frozenset(one) for sort, one in found.items()}
    return Narrowed(kept["parts"], kept["units"], kept["lots"], map_name), lines


@dataclass(frozen=True)
class Donor:
    """A unit with parts in it that may be taken."""

    unit: str
    map_name: str
    place: str
    parts: int


@dataclass(frozen=True)
class Stock:
    """What there is: on the shelf, and in donors."""

    shelf: tuple[Facts, ...]
    inside: tuple[Facts, ...]
    """Parts still in donors, if something was asked for; to list all would be long, and take long."""
    donors: tuple[Donor, ...]
    more: bool = False
    """There is more of one of these than the part of the list that was asked for."""


def stock_facts(store: Store, asked: Narrowed, first: int = 0, most: int | None = None) -> Stock:
    """What is known of each part that was asked for; with ``most`` of so many at once of each list, from ``first`` on.
    What is thought through and read grows with these, and little with what lies there."""
    end = None if most is None else first + most + 1  # one more tells whether there are any
    shelf = [one for one in stock(store) if asked.takes(one)][first:end]
    logs = Logs(store)
    given_up = [unit for unit in gists.given_up(store) if not asked.units or unit in asked.units]
    held = [*islice(_holding(logs, given_up, asked), first, end)]
    inside = [] if asked.all else [*islice(_parts_inside(logs, given_up, asked), first, end)]
    logs.read(one.unit for one in shelf[:most])
    about = {one.unit for one in (*shelf[:most], *inside[:most])}
    origins = Origins.of(store, about, shelf=False, logs=logs)
    reserved = reservations.reserved(store)
    return Stock(
        tuple(_facts(origins, reserved, one, inside=False) for one in shelf[:most]),
        tuple(_facts(origins, reserved, one, inside=True) for one in inside[:most]),
        tuple(held[:most]),
        most is not None and max(len(shelf), len(inside), len(held)) > most,
    )


def _holding(logs: Logs, units: Sequence[str], asked: Narrowed) -> Iterator[Donor]:
    """The donors that hold a part that was asked for."""
    for unit in _read_ahead(logs, units):
        parts = _inside(logs, unit)
        if any(asked.takes(one) for one in parts):
            device, lines = logs[unit]
            yield Donor(unit, device.id, place_of(replay(device, lines)), len(parts))


def _parts_inside(logs: Logs, units: Sequence[str], asked: Narrowed) -> Iterator[StockPart]:
    return (one for unit in _read_ahead(logs, units) for one in _inside(logs, unit) if asked.takes(one))


def _read_ahead(logs: Logs, units: Sequence[str]) -> Iterator[str]:
    """The units, with their logs read many at a time, as far as anybody asks for them."""
    for first in range(0, len(units), READ_AHEAD):
        logs.read(units[first : first + READ_AHEAD])
        yield from units[first : first + READ_AHEAD]


def _inside(logs: Logs, unit: str) -> list[StockPart]:
    """The parts that a donor, or a unit that was parted, still holds."""
    device, lines = logs[unit]
    told = replay(device, lines)
    if told.state.exit not in EXITS_WITH_PARTS or not (unit.startswith("D") or told.state.exit == "parts"):
        return []
    return [
        StockPart(part.id, part.what, unit, told.seq + 1, device.id, lines[0].time)
        for part in device.parts.values()
        if not told.state.harvested.intersection(device.within(part.id))
        and told.state.seen.get(part.id, ())[-1:] != (MISSING,)
    ]


def _facts(origins: Origins, reserved: reservations.Reserved, came: StockPart, inside: bool) -> Facts:
    stayed, device = stays(origins, came), origins.logs[came.unit][0]
    good: float | None = None
    with suppress(ContradictionError, TooLargeError):
        chances = origins.when_it_left(came)
        there = 1.0 if inside else 1.0 - chances.get(MISSING, 0.0)  # what is in the hand is not missing
        good = chances[FINE] / there if there > 0.0 else None
    partners = (one for group in device.moving_together if came.part in group.parts for one in group.parts)
    return Facts(
        came,
        inside,
        tuple(name for one in stayed for name in (one.bought, one.unit) if name),
        "; ".join(text for one in stayed if (text := history(origins, one))),
        tuple(_seen(stayed)),
        tuple(_mended(stayed)),
        shown_to_work(stayed),
        good,
        place_of(origins.told(came.unit)) if inside else place_on_shelf(stayed[-1]),
        Reader(origins.logs, origins.moved).of(came),
        tuple(one for one in partners if one != came.part),
        tuple(dict.fromkeys(unit for one in stayed for unit in reserved.get((one.unit, came.part), ()))),
    )


def _seen(stayed: Iterable[Stay]) -> Iterable[SeenOn]:
    for stay in stayed:
        for line in (*(line for line, _ in stay.lines), *stay.since):
            if isinstance(line.event, ev.Saw) and line.event.part == stay.came.part:
                yield SeenOn(stay.unit, line.seq, line.event.condition, line.event.degree)


def _mended(stayed: Iterable[Stay]) -> Iterable[str]:
    for stay in stayed:
        for line, _ in stay.lines:
            if isinstance(line.event, ev.Mended) and line.event.part == stay.came.part:
                yield line.event.remedy


def place_on_shelf(stay: Stay) -> str:
    """Where a part that left lies, as was said when it was harvested or since; empty if no line says so."""
    place = ""
    for line in (*(line for line, _ in stay.lines[-1:]), *stay.since):
        match line.event:
            case ev.Harvested(part=of, place=str(where)) | ev.Put(part=of, place=where) if of == stay.came.part:
                place = where
            case _:
                pass
    return place


def place_of(told: Replay) -> str:
    """Where a unit lies; empty if no line says so."""
    said = (line.event for line in told.lines)
    places = [event.place for event in said if isinstance(event, ev.Put) and event.part == ev.UNIT]
    return places[-1] if places else ""
