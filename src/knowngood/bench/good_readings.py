"""What a unit that was proved good reads, from its own log."""

from __future__ import annotations

import math

from knowngood.handbook.quantities import parse_reading
from knowngood.log import events as ev
from knowngood.log.state import Replay
from knowngood.maps.device import Device

REPAIRS = (ev.Unplugged, ev.Plugged, ev.Removed, ev.Harvested, ev.Fitted, ev.Mended, ev.Began, ev.Dried)
"""Acts before which a unit may have been another: what was read then says nothing of the unit as it was proved."""


def known_good(device: Device, log: Replay) -> bool:
    """Whether a unit was proved good: sold as working, or all that is wanted seen to work since the last act on it.

    One that was sold with something declared is none: what stops that may be on any rail.
    """
    state = log.state
    return not state.declared and (state.exit == "working" or set(device.wanted) <= state.proven)


def read_when_good(device: Device, log: Replay) -> dict[str, float]:
    """By test: the last number read since the last repair of a known-good unit, with everything plugged in.

    Overload is no number, and is left out.
    """
    found: dict[str, float] = {}
    if not known_good(device, log):
        return found
    for line, before in zip(reversed(log.lines), reversed(log.before), strict=True):
        if isinstance(line.event, REPAIRS):
            break
        if isinstance(line.event, ev.Read) and not before.unplugged and not before.removed:
            value = abs(parse_reading(line.event.reading).value)
            if math.isfinite(value):
                found.setdefault(line.event.test, value)
    return found
