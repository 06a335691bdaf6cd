"""The way to a part: what must be opened or closed first, the minutes of both, and what is to be heeded there.

A step is paid once while it stays open: what lies behind an open step costs no way, closing it is paid when the unit
must be closed, and a test that means something only closed pays for closing all that is open.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from knowngood.log.state import State
from knowngood.maps.device import Device
from knowngood.plan.hazards import Act, cautions

HELD = {"glue": "Glued", "seal": "Sealed", "one-way": "One way"}
"""What holds a step, as it is shown."""


@dataclass(frozen=True)
class Way:
    """Steps to open and steps to close, each in order, with what both take."""

    opens: tuple[str, ...] = ()
    closes: tuple[str, ...] = ()
    minutes: float = 0.0
    """Hands-on."""
    wait: float = 0.0
    """Minutes without hands before it may be opened (cooling)."""
    tools: tuple[str, ...] = ()
    disturbs: tuple[str, ...] = ()
    """Connections that opening takes apart or closing makes again: each may be left unseated."""


def way(device: Device, state: State, behind: str | None, *, closed: bool = False) -> Way:
    """The way to what lies behind a step, or with ``closed`` to a unit that is all closed."""
    opens = device.way_in(state.open_steps, behind) if behind else ()
    closes = tuple(sorted(state.open_steps)) if closed else ()
    minutes = sum(device.steps[one].open_minutes for one in opens)
    minutes += sum(device.steps[one].close_minutes for one in closes)
    wait = sum(device.steps[one].wait for one in opens)
    drivers = dict.fromkeys(each.driver for one in opens for each in device.steps[one].fasteners)
    moved = dict.fromkeys(each for one in (*opens, *closes) for each in device.steps[one].unplugs)
    return Way(opens, closes, minutes, wait, tuple(drivers), tuple(moved))


def closing_minutes(device: Device, state: State) -> float:
    """Hands-on time to close all that is open."""
    return sum(device.steps[step].close_minutes for step in state.open_steps)


def after_access(state: State, opens: Sequence[str], closes: Sequence[str] = ()) -> State:
    """The state at the end of the way."""
    if not opens and not closes:
        return state
    return replace(state, open_steps=(state.open_steps | set(opens)) - set(closes))


def warnings(device: Device, state: State, act: Act, own: Iterable[str], there: Way) -> tuple[str, ...]:
    """Cautions of a move: those of opening the way to it, its own, and those that the act calls for there."""
    on_the_way = [hazard for step in there.opens for hazard in device.steps[step].hazards]
    told = cautions(device, after_access(state, there.opens, there.closes), act, [*on_the_way, *own])
    return (*told, *risks(device, there.opens))


def risks(device: Device, opens: Iterable[str]) -> tuple[str, ...]:
    """What opening these steps may break or spoil, where something holds them."""
    return tuple(
        f"{HELD[step.holds]}: '{step.id}'. {(step.risk or '').rstrip('.')}."
        for step in (device.steps[one] for one in opens)
        if step.holds is not None
    )
