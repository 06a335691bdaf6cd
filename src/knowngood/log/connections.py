"""Which connections closing a step or fitting a part makes again, and what another part brings along."""

from __future__ import annotations

from typing import TYPE_CHECKING

from knowngood.log import events as ev
from knowngood.maps.device import Device

if TYPE_CHECKING:
    from knowngood.log.state import State


def made_by_closing(device: Device, state: State, step: str) -> frozenset[str]:
    """Connections that closing a step (or ``all``) makes again."""
    steps = shut(state, step)
    return frozenset(one for each in steps for one in device.steps[each].unplugs) & state.loose


def shut(state: State, step: str) -> frozenset[str]:
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
