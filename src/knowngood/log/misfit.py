"""Why an event does not fit the state of a unit: such a line is kept, flagged, and without effect."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from knowngood.handbook.quantities import format_minutes
from knowngood.log import events as ev
from knowngood.maps.access import reached
from knowngood.maps.device import BENCH, Device

if TYPE_CHECKING:
    from knowngood.log.state import State


A_MOMENT = 0.5
"""Minutes by which two clocks may differ."""

LEFT_WHOLE = ("working", "as-is")
"""Ways out by which a unit left whole."""


def misfit(device: Device, state: State, event: ev.Event) -> str | None:
    """Why an event does not fit the state, or None. Names are taken to exist (``lines.understand`` sees to that)."""
    match event:
        case ev.Removed(part=part) | ev.Harvested(part=part) | ev.Fitted(part=part) if part not in device.parts:
            return _no_part(part)
        case ev.Mended(part=part) | ev.Saw(part=part) | ev.Used(part=str(part)) if part not in device.parts:
            return _no_part(part)
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
            if part in state.removed:
                return f"'{part}' is out already."
        case ev.Harvested(part=part):
            if part in state.harvested:
                return f"'{part}' has left this unit already."
        case ev.Put(part=part, place=place):
            if part != ev.UNIT and part not in device.parts:
                return _no_part(part)
            if part != ev.UNIT and part not in state.harvested:
                return f"'{part}' has not left this unit. If it has, log 'harvested {part} in {place}'."
        case ev.Fitted(part=part, origin=origin):
            if origin == ev.BACK and part not in state.removed:
                return f"'{part}' is not out, so it cannot go back. For another one say where it is from."
        case ev.Mended(part=part):
            if part in state.removed:
                return f"'{part}' is out; a remedy is logged where the part sits. Fit it first, or log it as replaced."
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
                return _no_part(part)
        case _:
            pass
    return None


def _no_part(part: str) -> str:
    return f"There is no part '{part}' on this map."


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
