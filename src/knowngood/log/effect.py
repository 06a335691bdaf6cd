"""What an event that fits makes of the bench: what is open, out, seen, mended, charged, shorted, proven."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from knowngood.errors import QuantityError
from knowngood.handbook.quantities import parse_quantity
from knowngood.handbook.readings import DIODE_SHORT, HIGH_UP_TO
from knowngood.log import events as ev
from knowngood.log.connections import brought_along, made_by_closing, made_by_fitting, redrawn_by_fitting, shut
from knowngood.maps.device import Device, FunctionLevel, RailToGround, RailVoltage, Remedy

if TYPE_CHECKING:
    from knowngood.log.state import State


DRY_WAIT = 24 * 60.0
"""Minutes that a washed unit dries before it may get power, if its line does not say (common practice, no source)."""

STORED = "stored-charge"
"""The hazard whose ``safe_below`` says when a charge counts as let off."""


def rested(state: State, minutes: float) -> State:
    """The state after time without hands."""
    if not state.curing and not state.drying:
        return state
    left = {part: wait - minutes for part, wait in state.curing.items() if wait - minutes > 0.0}
    return replace(state, curing=left, drying=max(0.0, state.drying - minutes) if state.drying else state.drying)


def effect(device: Device, state: State, event: ev.Event, seq: int) -> State:
    """The state of the bench after an event that fits; what it takes and costs is counted elsewhere."""
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
            steps = shut(state, step)
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
