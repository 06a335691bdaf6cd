"""What a part brings along from the unit it came out of: the chances of its states as that unit's log left them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from contextlib import suppress
from functools import cache, partial

import numpy as np
from numpy.typing import NDArray

from knowngood.belief.believe import Belief, believe
from knowngood.belief.priors import bought
from knowngood.belief.sensing import Measuring
from knowngood.bench.references import measuring
from knowngood.bench.stock import Log, Moves, StockPart, moves, moving_logs
from knowngood.bench.store import Store
from knowngood.bench.work import replayed
from knowngood.errors import ContradictionError, TooLargeError
from knowngood.log import events as ev
from knowngood.log.state import Line, effective, replay
from knowngood.maps.device import Device, Part
from knowngood.maps.words import MISSING

Vector = NDArray[np.float64]
Fit = tuple[str, int]

NOTHING_FOUND = (ev.Bought, ev.Opened, ev.Unplugged, ev.Removed, ev.Harvested, ev.Paid, ev.Worked, ev.Noted)
"""A log of only these, of a unit without a past (which ties its parts), leaves each part as it was when bought."""


def belief(store: Store, unit: str) -> Belief:
    """The belief of a unit now, its parts from donors with what the donors' logs say of them.

    Raises what ``believe`` raises.
    """
    device, told = replayed(store, unit)
    return believe(device, told, donors=donor_priors(store, unit), measuring=measuring(store, unit))


def donor_priors(store: Store, unit: str) -> dict[int, Vector]:
    """For each ``fitted`` line that took a part from a unit: the chances of the part's states as it came, (states,)."""
    name = store.unit_id(unit)
    lines = store.lines(name)
    if not any(isinstance(line.event, ev.Fitted) and line.event.origin[:1].isupper() for line in lines):
        return {}
    logs = moving_logs(store)
    device, lines = logs[name]
    judged_by = cache(partial(measuring, store))
    return _brought(logs, moves(logs), judged_by, name, device, effective(lines)[0], frozenset())


def on_shelf(store: Store, parts: Iterable[StockPart]) -> dict[StockPart, Vector]:
    """For each part on the shelf: the chances of its states as its unit's log left them, (states,).

    Parts of which the log says what cannot be are left out.
    """
    logs = moving_logs(store)
    moved, judged_by = moves(logs), cache(partial(measuring, store))
    found: dict[StockPart, Vector] = {}
    for came in parts:
        part = logs[came.unit][0].parts[came.part]
        with suppress(ContradictionError, TooLargeError):
            prior = as_fitted(_when_it_left(logs, moved, judged_by, came, frozenset()), part)
            if prior is not None:
                found[came] = prior
    return found


def in_place(store: Store, unit: str, part: Part) -> Vector | None:
    """The chances of the states of ``part`` if it came out of a unit now that still holds one, (states,).

    None if no state with any chance is common to both. Raises what ``believe`` raises.
    """
    now = belief(store, unit)
    held = now.device.parts[part.id]
    chances = now.slot(now.posterior, held)[0]
    return as_fitted(dict(zip(held.states, (float(chance) for chance in chances), strict=True)), part)


def _brought(
    logs: Mapping[str, Log],
    moved: Moves,
    judged_by: Callable[[str], Measuring],
    unit: str,
    device: Device,
    lines: list[Line],
    under_way: frozenset[Fit],
) -> dict[int, Vector]:
    """The priors of the fitted ones among ``lines``. A fit that is ``under_way`` already is left to its default, so
    that parts logged in a circle between units come to an end. ``judged_by`` gives what a unit's readings mean."""
    found: dict[int, Vector] = {}
    for line in lines:
        came = moved.taken.get((unit, line.seq))
        if came is None or came.unit == unit or (unit, line.seq) in under_way:
            continue
        part = device.parts[came.part]
        prior = as_fitted(_when_it_left(logs, moved, judged_by, came, under_way | {(unit, line.seq)}), part)
        if prior is not None:
            found[line.seq] = prior
    return found


def _when_it_left(
    logs: Mapping[str, Log],
    moved: Moves,
    judged_by: Callable[[str], Measuring],
    came: StockPart,
    under_way: frozenset[Fit],
) -> dict[str, float]:
    """Chances by state of a part when it was harvested, from what its unit's log held before that line."""
    device, lines = logs[came.unit]
    # What is known of a unit's past is true of it from the start, however late it was learned.
    before = [line for line in effective(lines)[0] if line.seq < came.seq or isinstance(line.event, ev.Past)]
    part = device.parts[came.part]
    told = replay(device, before)
    if not told.state.past and all(isinstance(line.event, NOTHING_FOUND) for line in told.lines):
        return dict(zip(part.states, (float(chance) for chance in bought(part, ())), strict=True))
    try:
        brought = _brought(logs, moved, judged_by, came.unit, device, before, under_way)
        then = believe(device, told, donors=brought, measuring=judged_by(came.unit))
    except ContradictionError as error:
        raise ContradictionError(
            f"In {came.unit}, where '{came.part}' came from: {error}", error.lines, error.recheck
        ) from None
    chances = then.slot(then.posterior, part)[0]
    return dict(zip(part.states, (float(chance) for chance in chances), strict=True))


def as_fitted(chances: Mapping[str, float], part: Part) -> Vector | None:
    """The chances by state name carried over to a part's states. What is in the hand is not missing. None if no state
    with any chance is common to both."""
    carried = np.array([0.0 if state == MISSING else chances.get(state, 0.0) for state in part.states])
    total = carried.sum()
    return carried / total if total > 0 else None
