"""The state that replaying a unit's log gives. Pure and total: a line that does not fit is flagged, never an error."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Literal

from knowngood.errors import QuantityError
from knowngood.handbook.quantities import Money, format_minutes, parse_quantity
from knowngood.handbook.readings import DIODE_SHORT, HIGH_UP_TO
from knowngood.log import events as ev
from knowngood.log.coming_back import Sales
from knowngood.log.fasteners import Fasteners
from knowngood.log.incoming import Incoming
from knowngood.log.intake import HANDS, Intake
from knowngood.log.leaving import Leaving
from knowngood.log.listing import Listing
from knowngood.log.met import Met
from knowngood.log.ruled_out import RuledOut
from knowngood.maps.access import reached
from knowngood.maps.device import BENCH, Device, FunctionLevel, RailToGround, RailVoltage, Remedy

LOOK_MINUTES = 0.5
"""Hands-on time of a look where the log gives none (common practice, no source)."""

DISCHARGE_MINUTES, DRY_MINUTES, TAKE_OUT_MINUTES = 3.0, 25.0, 5.0
"""The same to let off a charge and measure it, to wash and dry a unit, to take a part out."""

DRY_WAIT = 24 * 60.0
"""Minutes that a washed unit dries before it may get power, if its line does not say (common practice, no source)."""

DRY_CHECK_MINUTES = 1.0
"""Hands-on time to look that it is dry."""

PLUG_MINUTES = 1.0
"""The same to unplug a connection, or to make one again."""

A_MOMENT = 0.5
"""Minutes by which two clocks may differ."""

LEFT_WHOLE = ("working", "as-is")
"""Ways out by which a unit left whole."""

STORED = "stored-charge"
"""The hazard whose ``safe_below`` says when a charge counts as let off."""

ACTS = (
    *(ev.Opened, ev.Closed, ev.Unplugged, ev.Plugged, ev.Removed, ev.Harvested, ev.Fitted, ev.Mended),
    *(ev.Began, ev.Dried, ev.Past, ev.Received, ev.Returned),
)
"""Events after which what worked before has to be shown again."""


@dataclass(frozen=True)
class Line:
    """One line of a unit's log with what it was computed against."""

    seq: int
    time: str
    event: ev.Event
    bench_seq: int = 0
    map_hash: str = ""
    version: str = ""

    def __str__(self) -> str:
        return f"{self.seq} {self.time} {ev.render(self.event)}"


@dataclass(frozen=True)
class Flag:
    """A line that no longer fits what came before it: kept, shown, and without effect."""

    seq: int
    message: str


@dataclass(frozen=True)
class Booking:
    """One amount of money; ``amount`` is negative for what went out. A ``valuation`` is what a person thought a thing
    worth: no money moved."""

    seq: int
    amount: Money
    what: str
    kind: Literal["cash", "valuation"] = "cash"


@dataclass(frozen=True)
class State:
    """What is so at the bench after some line."""

    past: tuple[str, ...] = ()
    asked_seller: bool = False
    open_steps: frozenset[str] = frozenset()
    unplugged: frozenset[str] = frozenset()
    """Connections taken apart on purpose, by a line of their own: they mask what hangs on them."""
    loose: frozenset[str] = frozenset()
    """Connections that an open step took apart; a test made meanwhile had what it needed plugged in."""
    removed: frozenset[str] = frozenset()
    harvested: frozenset[str] = frozenset()
    origin: dict[str, str] = field(default_factory=dict)
    """Where the part that sits in a slot now came from, if it is not the one that was bought."""
    seen: dict[str, tuple[str, ...]] = field(default_factory=dict)
    """Conditions found on what sits in a slot now, oldest first."""
    touched: tuple[str, ...] = ()
    """Connections made again since purchase, the last touched last."""
    mended: dict[str, tuple[str, ...]] = field(default_factory=dict)
    """Remedies done on what sits in a slot now; a connection that was made again since has none."""
    curing: dict[str, float] = field(default_factory=dict)
    """Parts that were worked on and may not be used yet, with the minutes still to wait."""
    discharged: frozenset[str] = frozenset()
    """Parts whose charge was let off and measured, with no power on the unit since."""
    shorted: frozenset[str] = frozenset()
    """Rails whose last reading to ground was a short."""
    over: frozenset[str] = frozenset()
    """Rails that once read above their limits."""
    wet: bool = False
    """Liquid got in, or something was seen wet, and the unit was not dried since."""
    drying: float | None = None
    """Minutes that the unit still dries since it was washed, 0 once that is over; None if it does not."""
    powered: bool = False
    """The unit had power since it came in and since the last act on it."""
    proven: frozenset[str] = frozenset()
    """Functions that worked when last tried, with no act on the unit since."""
    checked: frozenset[str] = frozenset()
    """General checks before power that were made with no act on the unit since."""
    fasteners: Fasteners = field(default_factory=Fasteners)
    met: Met = field(default_factory=Met)
    declared: frozenset[str] = frozenset()
    prices: dict[str, Money] = field(default_factory=dict)
    """What a way out would bring, where a line says so: working, as-is, parts."""
    ruled_out: RuledOut = field(default_factory=RuledOut)
    incoming: Incoming = field(default_factory=Incoming)
    leaving: Leaving = field(default_factory=Leaving)
    intake: Intake = field(default_factory=Intake)
    sales: Sales = field(default_factory=Sales)
    listing: Listing = field(default_factory=Listing)
    planned: str | None = None
    """What is to become of the unit by the plan of the shelf that was accepted last."""
    revisions: dict[str, str] = field(default_factory=dict)
    """Revision of what sits in a slot now, where it was read off."""
    bookings: tuple[Booking, ...] = ()
    minutes_logged: float = 0.0
    minutes_assumed: float = 0.0
    """Hands-on time by the map's figures, where the lines give none."""
    waited: float = 0.0
    exit: str | None = None
    """How it left the bench: sold ``working`` or ``as-is``, given up for its ``parts``, ``scrapped``. None while it is
    here, or here again."""

    @property
    def minutes(self) -> float:
        return self.minutes_logged + self.minutes_assumed

    @property
    def apart(self) -> frozenset[str]:
        """Connections that are not made, and what is out."""
        return self.unplugged | self.loose | self.removed

    @property
    def closed(self) -> bool:
        return not self.open_steps

    def is_out(self, part: str) -> bool:
        """Whether such a part of the unit is out of it: it, or the one that another took the place of."""
        return part in self.removed or part in self.origin or self.exit in ("parts", "scrapped")

    @property
    def ajar(self) -> tuple[str, ...]:
        """The steps that are open, those that were met and are on no map among them."""
        return (*sorted(self.open_steps), *self.met.opened)


@dataclass(frozen=True)
class Replay:
    """A log replayed: ``before[i]`` is the state before ``lines[i]``; ``state`` the state after all."""

    lines: tuple[Line, ...]
    before: tuple[State, ...]
    state: State
    flags: tuple[Flag, ...]
    seq: int
    """Sequence number of the last line, undone ones and undos included; 0 for an empty log."""
    now: str = ""
    """The time at which ``state`` is so, if time went by since the last line."""


def effective(lines: Iterable[Line]) -> tuple[list[Line], list[Flag]]:
    """The lines that hold: those not taken back, without the undos and redos themselves."""
    kept = list(lines)
    by_seq = {line.seq: line for line in kept}
    undone: set[int] = set()
    flags: list[Flag] = []
    for line in kept:
        event = line.event
        if isinstance(event, (ev.Undid, ev.Redid)):
            target = by_seq.get(event.line)
            if target is None or event.line >= line.seq or isinstance(target.event, (ev.Undid, ev.Redid)):
                flags.append(Flag(line.seq, f"There is no line {event.line} that could be taken back."))
            elif isinstance(event, ev.Undid):
                undone.add(event.line)
            else:
                undone.discard(event.line)
    plain = [one for one in kept if one.seq not in undone and not isinstance(one.event, (ev.Undid, ev.Redid))]
    return plain, flags


def as_of(told: Replay, now: str) -> Replay:
    """The log as it stands some time after its last line, with what cured meanwhile."""
    lain = minutes_between(told.lines[-1].time, now)
    return replace(told, state=rested(told.state, lain), now=now)


def considered(device: Device, told: Replay, events: Iterable[ev.Event]) -> Replay:
    """The log with lines after its last that are only thought of, at the time at which it is looked at."""
    lines = [Line(told.seq + number, told.now, event) for number, event in enumerate(events, start=1)]
    return replace(replay(device, [*told.lines, *lines]), now=told.now)


def replay(device: Device, lines: Iterable[Line]) -> Replay:
    """The state before each effective line, and after all of them."""
    given = list(lines)
    plain, flags = effective(given)
    state = State()
    before: list[State] = []
    last: Line | None = None
    for line in plain:
        before.append(state)
        problem = misfit(device, state, line.event)
        if problem:
            flags.append(Flag(line.seq, problem))
        if not problem:
            state = after(device, rested(state, _lain(last, line)), line.event, line.seq)
        last = line
    fitting = {flag.seq for flag in flags}
    kept = [(line, state_before) for line, state_before in zip(plain, before, strict=True) if line.seq not in fitting]
    return Replay(
        tuple(line for line, _ in kept),
        tuple(state_before for _, state_before in kept),
        state,
        tuple(flags),
        max((line.seq for line in given), default=0),
    )


def _lain(last: Line | None, line: Line) -> float:
    """Minutes that the unit lay between two lines, by their times; those that the second says itself are left out."""
    lain = minutes_between(last.time, line.time) if last else 0.0
    return max(0.0, lain - line.event.wait) if isinstance(line.event, ev.Waited) else lain


def minutes_between(earlier: str, later: str) -> float:
    """Minutes from one time of a log to another; none where a time is not given."""
    try:
        return max(0.0, (datetime.fromisoformat(later) - datetime.fromisoformat(earlier)).total_seconds() / 60.0)
    except ValueError:
        return 0.0


def rested(state: State, minutes: float) -> State:
    """The state after time without hands."""
    if not state.curing and not state.drying:
        return state
    left = {part: wait - minutes for part, wait in state.curing.items() if wait - minutes > 0.0}
    return replace(state, curing=left, drying=max(0.0, state.drying - minutes) if state.drying else state.drying)


def misfit(device: Device, state: State, event: ev.Event) -> str | None:
    """Why an event does not fit the state, or None. Names are taken to exist (``lines.understand`` sees to that)."""
    match event:
        case ev.Opened(step=step):
            if step not in device.steps:
                return f"There is no access step '{step}' on this map."
            if step in state.open_steps:
                return f"'{step}' is open already."
        case ev.Closed(step=step):
            if step == ev.ALL:
                return None if state.open_steps or state.met.opened else "Nothing is open."
            if step in state.met.opened:
                inner = state.met.behind(step)
                return f"'{inner}' lies behind '{step}' and is still open. Close it first." if inner else None
            if step not in state.open_steps:
                return f"'{step}' is not open."
            left = state.open_steps - {step}
            behind = sorted(one for one in left if not reached(device.steps[one], left))
            if behind:
                return f"'{behind[0]}' lies behind '{step}' and is still open. Close it first."
        case ev.Unplugged(connection=connection):
            if connection not in device.parts:
                return f"There is no connection '{connection}' on this map."
            if connection in state.unplugged:
                return f"'{connection}' is unplugged already."
        case ev.Plugged(connection=connection):
            if connection not in state.unplugged | state.loose:
                return f"'{connection}' is not unplugged."
        case ev.Removed(part=part):
            if part not in device.parts:
                return f"There is no part '{part}' on this map."
            if part in state.removed:
                return f"'{part}' is out already."
        case ev.Harvested(part=part):
            if part not in device.parts:
                return f"There is no part '{part}' on this map."
            if part in state.harvested:
                return f"'{part}' has left this unit already."
        case ev.Put(part=part, place=place):
            if part != ev.UNIT and part not in device.parts:
                return f"There is no part '{part}' on this map."
            if part != ev.UNIT and part not in state.harvested:
                return f"'{part}' has not left this unit. If it has, log 'harvested {part} in {place}'."
        case ev.Fitted(part=part, origin=origin):
            if part not in device.parts:
                return f"There is no part '{part}' on this map."
            if origin == ev.BACK and part not in state.removed:
                return f"'{part}' is not out, so it cannot go back. For another one say where it is from."
        case ev.Mended(part=part):
            if part not in device.parts:
                return f"There is no part '{part}' on this map."
            if part in state.removed:
                return f"'{part}' is out; a remedy is logged where the part sits. Fit it first, or log it as replaced."
        case ev.Saw(part=part) | ev.Used(part=str(part)):
            if part not in device.parts:
                return f"There is no part '{part}' on this map."
        case ev.Read(test=test) | ev.Found(test=test) | ev.Tried(test=test):
            if test not in device.tests:
                return f"There is no test '{test}' on this map."
            return _no_bench(device, state, event) if isinstance(event, ev.Tried) and event.bench else None
        case ev.Dried() if state.drying and state.drying > A_MOMENT:
            left_over = format_minutes(math.ceil(state.drying))
            return f"It still dries, {left_over} to go. If less is enough, log 'began drying for TIME' with what is."
        case ev.Lacks() | ev.Has() | ev.Deferred() | ev.Resumed():
            return state.ruled_out.misfit(device, event)
        case ev.Reserved() | ev.Ordered() | ev.Arrived() | ev.Released():
            return state.incoming.misfit(device, event)
        case ev.Met():
            return state.met.misfit(device, event)
        case ev.Unscrewed(step=step) | ev.Screwed(step=step):
            if step in state.met.steps and step not in device.steps:
                return None
            return state.fasteners.misfit(device, state.open_steps, event)
        case ev.Stated() | ev.Inspected() | ev.Measured() | ev.Wiped() | ev.Checked() | ev.Overrode():
            return state.leaving.misfit(device, event, state.ajar)
        case ev.Scrapped(part=ev.UNIT) | ev.Disposed(part=ev.UNIT):
            if state.exit in LEFT_WHOLE:
                return f"It was sold {state.exit.replace('-', ' ')}."
        case ev.Disposed(part=part) if part in device.parts and not state.is_out(part):
            return f"'{part}' is still in the unit. Log 'removed {part}' first, or 'harvested {part}'."
        case ev.Recorded() | ev.Weighed() | ev.Disputable() | ev.Quarantined() | ev.Cleared() | ev.Left():
            return state.intake.misfit(device, event, state.met.sorts)
        case ev.Photographed() | ev.Marked():
            return state.intake.misfit(device, event, state.met.sorts)
        case ev.Sold() | ev.Dispatched() | ev.Returned() | ev.Refunded() | ev.Caused():
            return state.sales.misfit(device, event, state.exit in LEFT_WHOLE)
        case ev.Identified(part=part) | ev.Vended(part=part) | ev.Scrapped(part=part) | ev.Disposed(part=part):
            if part not in device.parts:
                return f"There is no part '{part}' on this map."
        case _:
            pass
    return None


def packs_off(device: Device, state: State) -> bool:
    """Whether no pack is joined to the unit."""
    return all(not state.apart.isdisjoint((pack, *device.plugs_of[pack])) for pack in device.packs)


def _no_bench(device: Device, state: State, event: ev.Tried) -> str | None:
    """Why no bench supply can have stood in the place of the pack."""
    if not device.fed_on_bench or device.tests[event.test].power not in ("battery", BENCH):
        return "A bench supply stands in the place of a pack, and this is not tried on one. Leave 'on bench' out."
    if not packs_off(device, state):
        plug = next((plug for pack in device.packs for plug in device.plugs_of[pack]), device.packs[0])
        return f"The pack is plugged in: a bench supply beside it would charge it. Log 'unplugged {plug}' first."
    return None


def after(device: Device, state: State, event: ev.Event, seq: int) -> State:
    """The state after an event that fits."""
    act = isinstance(event, ACTS) or (isinstance(event, ev.Met) and event.sort == "step")
    acted = replace(state, proven=frozenset(), checked=frozenset(), powered=False) if act else state
    if isinstance(event, HANDS):
        acted = replace(acted, intake=acted.intake.acted(seq))
    if act or isinstance(event, (ev.Discharged, ev.Used)):
        acted = replace(acted, leaving=state.leaving.acted(device, event, seq))
        if isinstance(event, (ev.Received, ev.Returned)):  # back again: it will be shown to other buyers
            acted = replace(acted, listing=Listing())
    elif isinstance(event, (ev.Stated, ev.Inspected, ev.Measured, ev.Wiped, ev.Checked, ev.Overrode)):
        acted = replace(acted, leaving=state.leaving.after(device, event, seq))
    elif isinstance(event, (ev.Graded, ev.Listed)):
        acted = replace(acted, listing=state.listing.after(event, seq, state.declared))
    return _money(_minutes(device, _bench(device, acted, event, seq), state, event), event, seq)


def _bench(device: Device, state: State, event: ev.Event, seq: int) -> State:
    match event:
        case ev.Bought(past=past) | ev.Offered(past=past):
            return replace(state, past=tuple(dict.fromkeys((*state.past, *past))), wet=state.wet or "wet" in past)
        case ev.Past(what=what):
            return replace(state, past=tuple(dict.fromkeys((*state.past, what))), wet=state.wet or what == "wet")
        case ev.Asked():
            return replace(state, asked_seller=True)
        case ev.Saw(part=part, condition=condition):
            seen = {**state.seen, part: (*state.seen.get(part, ()), condition)}
            return replace(state, seen=seen, wet=state.wet or condition == "wet")
        case ev.Opened(step=step):
            path = device.way_in(state.open_steps, step)
            loose = {one for each in path for one in device.steps[each].unplugs}
            return replace(state, open_steps=state.open_steps | set(path), loose=state.loose | loose)
        case ev.Closed(step=step):
            steps = _shut(state, step)
            made = made_by_closing(device, state, step)
            return replace(
                state,
                met=state.met.closed({*state.met.opened} if step == ev.ALL else {step}),
                open_steps=state.open_steps - steps,
                fasteners=state.fasteners.closed(device, steps),
                loose=state.loose - made,
                touched=_last(state.touched, sorted(made)),
                mended=_anew(state, made),
            )
        case ev.Met():
            return replace(state, met=state.met.after(device, event))
        case ev.Unscrewed(step=step) | ev.Screwed(step=step):
            if step not in device.steps:  # one that was met: counted for the map that grows from it
                return state
            return replace(state, fasteners=state.fasteners.after(device, state.open_steps, event))
        case ev.Checked(what=what, lock=None):
            return replace(state, checked=state.checked | {what})
        case ev.Unplugged(connection=connection):
            return replace(state, unplugged=state.unplugged | {connection})
        case ev.Plugged(connection=connection):
            return replace(
                state,
                unplugged=state.unplugged - {connection},
                loose=state.loose - {connection},
                touched=_last(state.touched, [connection]),
                mended=_anew(state, {connection}),
            )
        case ev.Removed(part=part):
            return replace(state, removed=state.removed | {part})
        case ev.Harvested(part=part):
            return replace(state, removed=state.removed | {part}, harvested=state.harvested | {part})
        case ev.Fitted(part=part, origin=origin):
            came = (part, *brought_along(device, state, part, origin))
            again = state if origin == ev.BACK else _renewed(device, state, came)
            origins = again.origin if origin == ev.BACK else {**again.origin, **dict.fromkeys(came, origin)}
            return replace(
                again,
                removed=again.removed - set(came),
                harvested=again.harvested - set(came),
                origin=origins,
                touched=_last(again.touched, made_by_fitting(device, part)),
                mended=_anew(again, redrawn_by_fitting(device, part, origin)),
                curing=again.curing if origin == ev.BACK else _cures(again, part, device.parts[part].swap),
                incoming=again.incoming if origin == ev.BACK else again.incoming.fitted(part, origin),
            )
        case ev.Mended(part=part, remedy=remedy):
            touched = [part] if device.parts[part].is_connection else []
            # What was seen stays: a hurt part that was worked on is still the hurt part to the hard rules.
            return replace(
                state,
                shorted=_still_short(device, state, part),
                touched=_last(state.touched, touched),
                mended={**state.mended, part: (*state.mended.get(part, ()), remedy)},
                curing=_cures(state, part, device.parts[part].remedy(remedy)),
            )
        case ev.Discharged(part=part, reading=reading):
            node = one_node(device, state, part)
            safe = _let_off(device, reading)
            return replace(state, discharged=state.discharged | node if safe else state.discharged - node)
        case ev.Began(wait=wait):
            return replace(state, wet=True, drying=DRY_WAIT if wait is None else wait)
        case ev.Dried():
            return replace(state, wet=False, drying=None)
        case ev.Declared(function=function):
            return replace(state, declared=state.declared | {function})
        case ev.Recorded() | ev.Weighed() | ev.Disputable() | ev.Quarantined() | ev.Cleared() | ev.Left():
            return replace(state, intake=state.intake.after(event, seq))
        case ev.Photographed() | ev.Marked():
            return replace(state, intake=state.intake.after(event, seq))
        case ev.Returned():
            # What its buyer stored in it, and locked, is nobody's business here.
            return replace(
                state, exit=None, intake=state.intake.returned(seq), sales=state.sales.after(event, seq), planned=None
            )
        case ev.Dispatched() | ev.Refunded() | ev.Caused():
            return replace(state, sales=state.sales.after(event, seq))
        case ev.Tried() if state.exit is None:
            tried = replace(state, intake=state.intake.tried_now(device, event, seq))
            return _after_power(device, _proven(device, tried, event.test, event.outcome), event.test)
        case ev.Read(test=name, reading=reading):
            return _after_power(device, _rails(device, state, name, reading), name)
        case ev.Tried(test=name, outcome=outcome) | ev.Found(test=name, outcome=outcome):
            return _after_power(device, _proven(device, state, name, outcome), name)
        case ev.Priced(how=how, price=price):
            return replace(state, prices={**state.prices, how: price})
        case ev.Lacks() | ev.Has() | ev.Deferred() | ev.Resumed():
            return replace(state, ruled_out=state.ruled_out.after(event))
        case ev.Reserved() | ev.Ordered() | ev.Arrived() | ev.Released():
            return replace(state, incoming=state.incoming.after(event))
        case ev.Planned(way=way):
            return replace(state, planned=way)
        case ev.Identified(part=part, revision=revision):
            return replace(state, revisions={**state.revisions, part: revision})
        case ev.Waited(wait=wait):
            return replace(rested(state, wait), waited=state.waited + wait)
        case ev.Sold(how=how):
            return replace(state, exit=how, sales=state.sales.after(event, seq))
        case ev.Parted():
            return replace(state, exit="parts")
        case ev.Scrapped(part=ev.UNIT) | ev.Disposed(part=ev.UNIT):
            return replace(state, exit="scrapped")
        case _:
            return state


def made_by_closing(device: Device, state: State, step: str) -> frozenset[str]:
    """Connections that closing a step (or ``all``) makes again."""
    steps = _shut(state, step)
    return frozenset(one for each in steps for one in device.steps[each].unplugs) & state.loose


def _shut(state: State, step: str) -> frozenset[str]:
    """The steps of the map that closing a step (or ``all``) shuts: none, if it was met."""
    return state.open_steps if step == ev.ALL else state.open_steps & {step}


def made_by_fitting(device: Device, part: str) -> tuple[str, ...]:
    """Connections that fitting a part makes again: itself if it is one, and those it hangs on."""
    return tuple(one for one in (part, *device.plugs_of[part]) if device.parts[one].is_connection)


def brought_along(device: Device, state: State, part: str, origin: str) -> tuple[str, ...]:
    """What comes with another part because it sits on it. What was taken off on purpose, to go onto the other one, is
    still out."""
    kept = state.removed - state.harvested
    return () if origin == ev.BACK else tuple(one for one in device.carries[part] if one not in kept)


def redrawn_by_fitting(device: Device, part: str, origin: str) -> tuple[str, ...]:
    """Of these, the ones whose seating is drawn afresh: a new connection brings its own odds of that."""
    return tuple(one for one in made_by_fitting(device, part) if one != part or origin == ev.BACK)


def _still_short(device: Device, state: State, part: str) -> frozenset[str]:
    """Shorted rails after an act on a part: it can only have cleared the short of a rail that the part hangs on."""
    return frozenset(rail for rail in state.shorted if part not in device.loads_of[rail])


def _renewed(device: Device, state: State, parts: Sequence[str]) -> State:
    shorted = state.shorted
    for part in parts:
        shorted &= _still_short(device, state, part)
    return replace(
        state,
        seen={**state.seen, **dict.fromkeys(parts, ())},
        mended=_anew(state, parts),
        curing={one: left for one, left in state.curing.items() if one not in parts},
        shorted=shorted,
        discharged=state.discharged - set(parts),
        revisions={one: revision for one, revision in state.revisions.items() if one not in parts},
    )


def _cures(state: State, part: str, remedy: Remedy | None) -> dict[str, float]:
    """What cures after a remedy on a part: the other parts that did before, and this one as long as the remedy says."""
    others = {one: left for one, left in state.curing.items() if one != part}
    return {**others, part: remedy.wait} if remedy and remedy.wait else others


def _anew(state: State, parts: Iterable[str]) -> dict[str, tuple[str, ...]]:
    """What was mended, these parts left out: nothing was done to them yet as they are now."""
    again = set(parts)
    return {part: done for part, done in state.mended.items() if part not in again}


def _after_power(device: Device, state: State, test: str) -> State:
    """A test that powers the unit charges the stores again."""
    done = device.tests[test]
    if done.power == "off":
        return state
    return replace(state, discharged=frozenset(), powered=state.powered or done.feeds is None)


def _let_off(device: Device, reading: str) -> bool:
    """Whether a voltage measured on a store lets hands near it; one that cannot be read does not."""
    safe = device.hazards[STORED].safe_below or 0.0
    try:
        return abs(parse_quantity(reading, "V")) < safe
    except QuantityError:
        return False


def one_node(device: Device, state: State, part: str) -> frozenset[str]:
    """The part and what shares its charge: the loads of its rails, if no connection among them is apart."""
    node = {part}
    for rail in device.parts[part].on:
        loads = device.loads_of[rail]
        if state.apart.isdisjoint(loads):
            node |= set(loads)
    return frozenset(node)


def _proven(device: Device, state: State, test: str, outcome: str) -> State:
    sensed, best = device.tests[test].senses, device.tests[test].outcomes[0]
    if not isinstance(sensed, FunctionLevel):
        return state
    function = {sensed.function}
    return replace(state, proven=state.proven | function if outcome == best else state.proven - function)


def _rails(device: Device, state: State, test: str, reading: str) -> State:
    """What a reading says of a rail: shorted to ground, or above its limits."""
    sensed = device.tests[test].senses
    if not isinstance(sensed, (RailToGround, RailVoltage)):
        return state
    try:
        value = parse_quantity(reading, sensed.unit) if not reading.startswith("OL") else float("inf")
    except QuantityError:
        return state
    rail = device.functions[sensed.function]
    if isinstance(sensed, RailVoltage):
        nominal = rail.nominal  # what is higher still is no rail, but a slip
        above = nominal is not None and nominal.high < abs(value) <= HIGH_UP_TO * nominal.nominal
        return replace(state, over=state.over | {rail.id}) if above else state
    short = abs(value) < (DIODE_SHORT if sensed.diode else rail.short_below)
    return replace(state, shorted=state.shorted | {rail.id} if short else state.shorted - {rail.id})


def _last(touched: tuple[str, ...], again: Sequence[str]) -> tuple[str, ...]:
    return (*(one for one in touched if one not in again), *again)


def expected_minutes(device: Device, state: State, event: ev.Event) -> float:
    """Hands-on time of an event by the map's figures."""
    match event:
        case ev.Saw():
            return LOOK_MINUTES
        case ev.Read(test=test) | ev.Found(test=test) | ev.Tried(test=test):
            return device.tests[test].minutes
        case ev.Opened(step=step):
            return sum(device.steps[one].open_minutes for one in device.way_in(state.open_steps, step))
        case ev.Closed(step=step):
            return sum(device.steps[one].close_minutes for one in _shut(state, step))
        case ev.Mended(part=part, remedy=name):
            remedy = device.parts[part].remedy(name)
            return remedy.minutes if remedy else 0.0
        case ev.Fitted(part=part, origin=origin):
            swap = device.parts[part].swap
            return swap.minutes if swap and origin != ev.BACK else 0.0
        case ev.Removed():
            return TAKE_OUT_MINUTES
        case ev.Discharged():
            return DISCHARGE_MINUTES
        case ev.Began():
            return DRY_MINUTES
        case ev.Dried():
            return DRY_MINUTES if state.drying is None else DRY_CHECK_MINUTES
        case ev.Unplugged() | ev.Plugged():
            return PLUG_MINUTES
        case ev.Worked(work=work):
            return work
        case _:
            return 0.0


def _minutes(device: Device, state: State, before: State, event: ev.Event) -> State:
    if event.minutes is not None:
        return replace(state, minutes_logged=state.minutes_logged + event.minutes)
    if isinstance(event, ev.Worked):
        return replace(state, minutes_logged=state.minutes_logged + event.work)
    return replace(state, minutes_assumed=state.minutes_assumed + expected_minutes(device, before, event))


def _money(state: State, event: ev.Event, seq: int) -> State:
    kind: Literal["cash", "valuation"] = "cash"
    match event:
        case ev.Bought(price=price):
            amount, what = -price, "purchase"
        case ev.Fitted(part=part, origin=origin, price=price) if price:
            amount, what = -price, f"{part} from {origin}"
            kind = "valuation" if origin[:1].isupper() else "cash"  # a unit is not paid for its part
        case ev.Mended(part=part, remedy=remedy, price=price) if price:
            amount, what = -price, f"{part}: {remedy}"
        case ev.Ordered(part=part, supplier=supplier, price=price):
            amount, what = -price, f"{part} from {supplier}"
        case ev.Paid(amount=paid, what=reason):
            amount, what = -paid, reason
        case ev.Got(amount=got, what=reason):
            amount, what = got, reason
        case ev.Sold(price=price, how=how):
            amount, what = price, f"sold {how}"
        case ev.Vended(part=part, price=price):
            amount, what = price, f"{part} sold by itself"
        case ev.Dispatched(carrier=carrier, price=price) if price:
            amount, what = -price, f"sent with {carrier}"
        case ev.Refunded(amount=back):
            amount, what = -back, "refunded to the buyer"
        case ev.Parted(worth=worth):
            amount, what, kind = worth, "parts, as valued", "valuation"
        case _:
            return state
    return replace(state, bookings=(*state.bookings, Booking(seq, amount, what, kind)))


def last_effective(lines: Iterable[Line]) -> Line | None:
    """The line that an undo takes back: the last that holds, but never the purchase."""
    plain, _ = effective(lines)
    return next((line for line in reversed(plain) if not isinstance(line.event, (ev.Bought, ev.Offered))), None)


def last_undone(lines: Iterable[Line]) -> Line | None:
    """The line that a redo brings back: the last taken back, unless a new line came after the undo."""
    given = list(lines)
    undone: list[int] = []
    for line in given:
        if isinstance(line.event, ev.Undid):
            undone.append(line.event.line)
        elif isinstance(line.event, ev.Redid):
            undone = [one for one in undone if one != line.event.line]
        else:
            undone = []
    return next((line for line in given if undone and line.seq == undone[-1]), None)
