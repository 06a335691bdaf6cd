"""Where other parts for a unit could come from: the shelf, and units that are given up and still hold them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable
from contextlib import suppress

from knowngood.bench import gists
from knowngood.bench.donors import as_fitted, belief, on_shelf
from knowngood.bench.passages import StockPart
from knowngood.bench.promises import of_others
from knowngood.bench.reservations import reserved
from knowngood.bench.revisions import NOT_KNOWN, Reader, known_for, misfit
from knowngood.bench.stock import Logs, moves_about, stock
from knowngood.bench.store import Store
from knowngood.bench.work import replayed
from knowngood.errors import ContradictionError, TooLargeError
from knowngood.log.state import Replay, State
from knowngood.maps.device import Device
from knowngood.money.choices import Donor, Supply
from knowngood.plan.terms import InStock

GIVEN_UP = ("parts", "donor")
"""Plans for a unit by which it may give its parts."""


def supply(store: Store, device: Device, unit: str) -> Supply:
    """What could come into a unit of this map: a part fits where the same map names it.

    Left out are parts that are reserved for another unit, those known to be of a revision that does not fit, and donors
    whose log says what cannot be.
    """
    log, taken = replayed(store, unit)[1], of_others(reserved(store), unit)
    loose: dict[str, list[InStock]] = defaultdict(list)
    for one, states in on_shelf(store, fitting(store, device, unit, log)).items():
        loose[one.part].append(InStock(one.unit, device.parts[one.part].price.forgone, tuple(map(float, states))))
    donors = []
    maps = store.names()
    for other in gists.may_hold_parts(store):
        if other != unit and maps[other] == device.id:
            with suppress(ContradictionError, TooLargeError):
                if found := _donor(store, other, device, log, donor=other.startswith("D"), taken=taken):
                    donors.append(found)
    return Supply(loose, tuple(donors))


def fitting(store: Store, device: Device, unit: str, log: Replay | None) -> dict[StockPart, str]:
    """Parts on the shelf that may go into a unit, each with what is to be said of whether it fits; nothing if it does.

    Left out are those that came out of the unit, that are reserved for another, or that do not fit by its log.
    """
    taken, fits = of_others(reserved(store), unit), {}
    there = [
        one
        for one in stock(store)
        if one.map_name == device.id
        and one.unit != unit
        and one.part in device.parts
        and (one.unit, one.part) not in taken
    ]
    places = {one.part: known_for(log, one.part) if log else None for one in there}
    compared = [one for one in there if places[one.part]]  # else nothing is to be held against what it is
    read = _reader(store, compared)
    for one in there:
        part, was = device.parts[one.part], places[one.part]
        revision = read.of(one) if was else None
        if not misfit(part, revision, was):
            fits[one] = NOT_KNOWN if part.revisions and not (revision and was) else ""
    return fits


def _reader(store: Store, parts: Iterable[StockPart]) -> Reader:
    units, logs = {one.unit for one in parts}, Logs(store)
    logs.read(units)
    return Reader(logs, moves_about(store, units, shelf=False))


def may_give(state: State, *, donor: bool) -> bool:
    """Whether a unit may give its parts: it was bought for them, was parted out, or is to be by the plan."""
    if state.exit is not None:
        return state.exit == "parts"
    return donor or state.planned in GIVEN_UP


def _donor(
    store: Store, unit: str, device: Device, into: Replay, *, donor: bool, taken: Collection[tuple[str, str]]
) -> Donor | None:
    theirs, log = replayed(store, unit)
    if not may_give(log.state, donor=donor):
        return None
    now = belief(store, unit)
    states = {}
    for part in theirs.parts.values():
        there = part.id in device.parts and part.id not in log.state.removed and (unit, part.id) not in taken
        revision = log.state.revisions.get(part.id)
        if there and not misfit(device.parts[part.id], revision, known_for(into, part.id)):
            chances = dict(zip(part.states, map(float, now.slot(now.posterior, part)[0]), strict=True))
            carried = as_fitted(chances, device.parts[part.id])
            if carried is not None:
                states[part.id] = tuple(map(float, carried))
    return Donor(unit, theirs, log.state, states)
