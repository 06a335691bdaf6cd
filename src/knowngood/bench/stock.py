"""Parts that moved between units, derived from the logs alone: what lies on the shelf, and what came from where."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from knowngood.bench.store import Store
from knowngood.log import events as ev
from knowngood.log.state import Line, replay
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


def stock(store: Store) -> list[StockPart]:
    """The parts on the shelf: harvested, and in no unit now."""
    return list(moves(moving_logs(store)).shelf)


def moving_logs(store: Store) -> dict[str, Log]:
    """The logs of all units that gave or got a part, by unit.

    What was sold by itself, scrapped or disposed off the shelf was harvested before, in the same log.
    """
    return {unit: (store.device(unit), store.lines(unit)) for unit in store.units_with("harvested", "fitted")}


def moves(logs: Mapping[str, Log]) -> Moves:
    """Joins each part that left a unit with the line that took it off the shelf, the first left with the first taken.

    Times are not compared: a harvest that was undone and logged again later still is that part's.
    """
    left: dict[tuple[str, str], list[StockPart]] = defaultdict(list)
    put: dict[tuple[str, str], list[tuple[str, str, int, Taking]]] = defaultdict(list)
    for unit, (device, lines) in logs.items():
        out: set[str] = set()
        for line in replay(device, lines).lines:
            match line.event:
                case ev.Harvested(part=part):
                    out.add(part)
                    what = device.parts[part].what
                    left[unit, part].append(StockPart(part, what, unit, line.seq, device.id, line.time))
                case ev.Fitted(part=part, origin=origin) as event:
                    # What was harvested and goes back into its own unit leaves the shelf, too.
                    source = unit if origin == ev.BACK and part in out else origin
                    out.discard(part)
                    if source[:1].isupper():
                        put[source, part].append((line.time, unit, line.seq, event))
                case ev.Vended(part=part) | ev.Scrapped(part=part) as event if part != ev.UNIT:
                    put[unit, part].append((line.time, unit, line.seq, event))
                case ev.Disposed(part=part) as event if part in out:  # else it lay on the bench, and never on the shelf
                    out.discard(part)
                    put[unit, part].append((line.time, unit, line.seq, event))
                case _:
                    pass
    taken: dict[tuple[str, int], StockPart] = {}
    unexplained: dict[tuple[str, int], Taking] = {}
    for key, fits in put.items():
        for index, (_, unit, seq, event) in enumerate(sorted(fits, key=lambda fit: fit[:3])):
            if index < len(left[key]):
                taken[unit, seq] = left[key][index]
            else:
                unexplained[unit, seq] = event
    shelf = [one for key, parts in left.items() for one in parts[len(put.get(key, ())) :]]
    return Moves(_sorted(shelf), taken, unexplained)


def _sorted(parts: Iterable[StockPart]) -> tuple[StockPart, ...]:
    return tuple(sorted(parts, key=lambda one: (one.part, one.time, one.unit, one.seq)))
