"""What a part brings along from the unit it came out of: the chances of its states as that unit's log left them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from functools import cache, partial

import numpy as np
from numpy.typing import NDArray

from knowngood.belief.believe import Belief, as_sold, believe
from knowngood.belief.cases import Effort
from knowngood.belief.priors import bought
from knowngood.belief.sensing import Measuring
from knowngood.belief.story import Donors
from knowngood.bench.passages import Moves, StockPart
from knowngood.bench.references import measuring
from knowngood.bench.stock import Logs, moves_about
from knowngood.bench.store import Store
from knowngood.bench.work import replayed
from knowngood.errors import ContradictionError, KnowngoodError, TooLargeError
from knowngood.log import events as ev
from knowngood.log.remembered import replay
from knowngood.log.state import Line, Replay, effective
from knowngood.maps.device import Device, Part
from knowngood.maps.words import MISSING

Vector = NDArray[np.float64]
Fit = tuple[str, int]

NOTHING_FOUND = (
    *(ev.Bought, ev.Opened, ev.Unplugged, ev.Removed, ev.Harvested, ev.Put, ev.Identified, ev.Noted, ev.Asked),
    *(ev.Received, ev.Unscrewed, ev.Screwed, ev.Graded, ev.Listed, ev.Clapped, ev.Hid),
    *(ev.Recorded, ev.Weighed, ev.Disputable, ev.Quarantined, ev.Cleared, ev.Left, ev.Photographed, ev.Marked),
    *(ev.Dispatched, ev.Disposed, ev.Refunded, ev.Caused),
    *(ev.Paid, ev.Got, ev.Worked, ev.Waited, ev.Priced, ev.Sold, ev.Parted, ev.Planned, ev.Vended, ev.Scrapped),
    *(ev.Reserved, ev.Ordered, ev.Arrived, ev.Released, ev.Lacks, ev.Has, ev.Deferred, ev.Resumed),
)
"""Lines that change no chance of any part. A log of only these, of a unit without a past (which ties its parts), leaves
each part as it was when bought."""


def belief(store: Store, unit: str, *, effort: Effort = Effort.CASES) -> Belief:
    """The belief of a unit now, its parts from donors with what the donors' logs say of them.

    Raises what ``believe`` raises.
    """
    device, told = replayed(store, unit)
    donors, judged_by = donor_priors(store, unit), measuring(store, unit)
    return believe(device, told, donors=donors, measuring=judged_by, effort=effort)


def donor_priors(store: Store, unit: str) -> Donors:
    """For each ``fitted`` line that took a part from a unit: the chances of the part's states as it came, (states,).

    Of a unit that came back also those of its parts as it was sold. Raises what ``believe`` raises.
    """
    name = store.unit_id(unit)
    lines = store.lines(name)
    found: Donors = {}
    if any(isinstance(line.event, ev.Fitted) and line.event.origin[:1].isupper() for line in lines):
        origins = Origins.of(store, [name], shelf=False)
        found = origins.brought(name, origins.logs[name][0], effective(lines)[0], frozenset())
    if any(isinstance(line.event, ev.Returned) for line in lines):
        device = store.device(name)
        return as_sold(device, replay(device, lines), found, measuring(store, name))
    return found


def on_shelf(store: Store, parts: Iterable[StockPart]) -> dict[StockPart, Vector]:
    """For each part on the shelf: the chances of its states as its unit's log left them, (states,).

    Parts of which the log says what cannot be are left out.
    """
    given = list(parts)
    units = {one.unit for one in given}
    origins = Origins.of(store, units, shelf=False)
    origins.logs.read(units)
    found: dict[StockPart, Vector] = {}
    for came in given:
        part = origins.logs[came.unit][0].parts[came.part]
        with suppress(ContradictionError, TooLargeError):
            prior = as_fitted(origins.when_it_left(came), part)
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


@dataclass(frozen=True)
class Origins:
    """What the logs of units say of parts that left them. Each belief is made once: parts that left one unit with
    nothing found out in between share it."""

    logs: Logs
    moved: Moves
    judged_by: Callable[[str], Measuring]
    """What the readings of a unit mean."""
    made: dict[tuple[str, int, frozenset[Fit]], Belief | KnowngoodError] = field(default_factory=dict)
    replays: dict[str, Replay] = field(default_factory=dict)

    @classmethod
    def of(cls, store: Store, units: Iterable[str] = (), *, shelf: bool = True, logs: Logs | None = None) -> Origins:
        """For these units of a store and with ``shelf`` for what lies there, with all that their parts came from;
        ``logs`` are those that were read already."""
        moved = moves_about(store, units, shelf=shelf)
        return cls(Logs(store) if logs is None else logs, moved, cache(partial(measuring, store)))

    def told(self, unit: str) -> Replay:
        """The log of a unit replayed, once."""
        if unit not in self.replays:
            self.replays[unit] = replay(*self.logs[unit])
        return self.replays[unit]

    def brought(self, unit: str, device: Device, lines: list[Line], under_way: frozenset[Fit]) -> Donors:
        """The priors of the fitted ones among the lines of a unit. A fit that is ``under_way`` already is left to its
        default, so that parts logged in a circle between units come to an end."""
        found: dict[int | tuple[int, str], Vector] = {}
        for line in lines:
            came = self.moved.taken.get((unit, line.seq))
            if came is None or came.unit == unit or (unit, line.seq) in under_way:
                continue
            part = device.parts[came.part]
            prior = as_fitted(self.when_it_left(came, under_way | {(unit, line.seq)}), part)
            if prior is not None:
                found[line.seq] = prior
        return found

    def when_it_left(self, came: StockPart, under_way: frozenset[Fit] = frozenset()) -> dict[str, float]:
        """Chances by state of a part when it was harvested, from what its unit's log held before that line.

        Raises what ``believe`` raises.
        """
        then = self.belief_when_it_left(came, under_way)
        part = self.logs[came.unit][0].parts[came.part]
        # What was taken out first and harvested later is in the hand, though its slot is empty.
        chances = bought(part, ()) if then is None else then.posterior[then.story.now[part.id]][0]
        return dict(zip(part.states, (float(chance) for chance in chances), strict=True))

    def belief_when_it_left(self, came: StockPart, under_way: frozenset[Fit] = frozenset()) -> Belief | None:
        """The belief of a unit when a part left it; None while nothing was known but that it was bought.

        Raises what ``believe`` raises.
        """
        device, log = self.logs[came.unit]
        lines = effective(log)[0]
        telling = (line.seq for line in lines if line.seq < came.seq and not isinstance(line.event, NOTHING_FOUND))
        last = max(telling, default=lines[0].seq)
        # What is known of a unit's past is true of it from the start, however late it was learned.
        before = [line for line in lines if line.seq <= last or isinstance(line.event, ev.Past)]
        told = replay(device, before)
        if not told.state.past and all(isinstance(line.event, NOTHING_FOUND) for line in told.lines):
            return None
        key = (came.unit, last, under_way)
        if key not in self.made:
            try:
                brought = self.brought(came.unit, device, before, under_way)
                self.made[key] = believe(device, told, donors=brought, measuring=self.judged_by(came.unit))
            except (ContradictionError, TooLargeError) as error:
                self.made[key] = error
        made = self.made[key]
        if isinstance(made, ContradictionError):
            where = f"In {came.unit}, where '{came.part}' came from: {made}"
            raise ContradictionError(where, made.lines, made.recheck)
        if isinstance(made, KnowngoodError):
            raise made
        return made


def as_fitted(chances: Mapping[str, float], part: Part) -> Vector | None:
    """The chances by state name carried over to a part's states. What is in the hand is not missing. None if no state
    with any chance is common to both."""
    carried = np.array([0.0 if state == MISSING else chances.get(state, 0.0) for state in part.states])
    total = carried.sum()
    return carried / total if total > 0 else None
