"""Parts that moved between units, derived from the logs alone: what lies on the shelf, and what came from where."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from knowngood.log import events as ev
from knowngood.log.state import Line, Replay, replay
from knowngood.maps.device import Device

Log = tuple[Device, list[Line]]
Taking = ev.Fitted | ev.Vended | ev.Scrapped | ev.Disposed


@dataclass(frozen=True)
class StockPart:
    """A part that was harvested: which, what it is, from which unit by which line, by which map, when."""

    part: str
    what: str
    unit: str
    seq: int
    map_name: str
    time: str


@dataclass(frozen=True)
class Moves:
    """What the logs together say of parts that moved. Keys are (unit, sequence number) of the line that took one off
    the shelf: fitted, or in its own unit's log sold by itself, scrapped or disposed."""

    shelf: tuple[StockPart, ...]
    taken: dict[tuple[str, int], StockPart]
    unexplained: dict[tuple[str, int], Taking]
    """Taken from a unit whose log has no such part leaving it, or not so many."""


@dataclass(frozen=True)
class Left:
    """A part that a line put onto the shelf."""

    came: StockPart

    @property
    def of(self) -> tuple[str, str]:
        """The unit that the part left, and its name."""
        return self.came.unit, self.came.part


@dataclass(frozen=True)
class Took:
    """A line that takes a part off the shelf, and the unit that the part is to have left."""

    source: str
    unit: str
    seq: int
    time: str
    part: str
    text: str
    """The line as written."""

    @property
    def of(self) -> tuple[str, str]:
        """The unit that the part is to have left, and its name."""
        return self.source, self.part


Passage = Left | Took


def passages(unit: str, device: Device, told: Replay) -> Iterator[Passage]:
    """The parts that one unit's log puts onto the shelf and takes off it, in the order of its lines."""
    out: set[str] = set()
    for line in told.lines:
        match line.event:
            case ev.Harvested(part=part):
                out.add(part)
                yield Left(StockPart(part, device.parts[part].what, unit, line.seq, device.id, line.time))
            case ev.Fitted(part=part, origin=origin) as event:
                # What was harvested and goes back into its own unit leaves the shelf, too.
                source = unit if origin == ev.BACK and part in out else origin
                out.discard(part)
                if source[:1].isupper():
                    yield Took(source, unit, line.seq, line.time, part, ev.render(event))
            case ev.Vended(part=part) | ev.Scrapped(part=part) as event if part != ev.UNIT:
                yield Took(unit, unit, line.seq, line.time, part, ev.render(event))
            case ev.Disposed(part=part) as event if part in out:  # else it lay on the bench, and never on the shelf
                out.discard(part)
                yield Took(unit, unit, line.seq, line.time, part, ev.render(event))
            case _:
                pass


def joined(given: Iterable[Passage]) -> Moves:
    """Joins each part that left a unit with the line that took it off the shelf, the first left with the first taken.

    Times are not compared: a harvest that was undone and logged again later still is that part's. Parts of one name out
    of one unit have nothing to do with any other, so the passages of some of them are enough for these.
    """
    left: dict[tuple[str, str], list[StockPart]] = defaultdict(list)
    put: dict[tuple[str, str], list[Took]] = defaultdict(list)
    for one in given:
        if isinstance(one, Left):
            left[one.of].append(one.came)
        else:
            put[one.of].append(one)
    taken: dict[tuple[str, int], StockPart] = {}
    unexplained: dict[tuple[str, int], Taking] = {}
    shelf: list[StockPart] = []
    for key, parts in left.items():
        parts.sort(key=lambda one: one.seq)
        shelf += parts[len(put.get(key, ())) :]
    for key, takes in put.items():
        for index, one in enumerate(sorted(takes, key=lambda one: (one.time, one.unit, one.seq))):
            if index < len(left.get(key, ())):
                taken[one.unit, one.seq] = left[key][index]
            else:
                event = ev.parse(one.text)
                assert isinstance(event, Taking)
                unexplained[one.unit, one.seq] = event
    return Moves(in_stock_order(shelf), taken, unexplained)


def moves(logs: Mapping[str, Log]) -> Moves:
    """All that these logs say of parts that moved."""
    told = ((unit, device, replay(device, lines)) for unit, (device, lines) in logs.items())
    return joined(one for log in told for one in passages(*log))


def in_stock_order(parts: Iterable[StockPart]) -> tuple[StockPart, ...]:
    """By name, then by when they came."""
    return tuple(sorted(parts, key=lambda one: (one.part, one.time, one.unit, one.seq)))
