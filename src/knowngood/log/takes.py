"""What an event takes of hands: by its own words, else by the map's figures."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from knowngood.log import events as ev
from knowngood.log.connections import shut
from knowngood.maps.device import Device

if TYPE_CHECKING:
    from knowngood.log.state import State


LOOK_MINUTES = 0.5
"""Hands-on time of a look where the log gives none (common practice, no source)."""

DISCHARGE_MINUTES, DRY_MINUTES, TAKE_OUT_MINUTES = 3.0, 25.0, 5.0
"""The same to let off a charge and measure it, to wash and dry a unit, to take a part out."""

DRY_CHECK_MINUTES = 1.0
"""Hands-on time to look that it is dry."""

PLUG_MINUTES = 1.0
"""The same to unplug a connection, or to make one again."""


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
            return sum(device.steps[one].close_minutes for one in shut(state, step))
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


def taken(device: Device, state: State, before: State, event: ev.Event) -> State:
    """The state with the minutes of an event counted, which was ``before`` it."""
    if event.minutes is not None:
        return replace(state, minutes_logged=state.minutes_logged + event.minutes)
    if isinstance(event, ev.Worked):
        return replace(state, minutes_logged=state.minutes_logged + event.work)
    return replace(state, minutes_assumed=state.minutes_assumed + expected_minutes(device, before, event))
