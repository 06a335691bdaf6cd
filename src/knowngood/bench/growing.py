"""A map grown from the teardown that a unit's log tells."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from knowngood.bench.learning import write
from knowngood.bench.store import Store
from knowngood.bench.work import replayed
from knowngood.errors import LineError, NotFoundError
from knowngood.log.met import facts
from knowngood.log.state import Replay
from knowngood.maps import load, load_text
from knowngood.maps.device import Device
from knowngood.maps.growing import Grown, grow
from knowngood.maps.schema import NAME
from knowngood.maps.shape import as_name

EVERY_PROPOSAL = "all"
"""What a person says to take every kind that is proposed."""


@dataclass(frozen=True)
class Growth:
    """A map as a unit's log would have it."""

    device: Device
    told: Replay
    grown: Grown
    file: str
    """What grew: a file, or the map by which the unit was bought."""
    name: str
    met: int
    """How many steps, parts and plugs the log says something of."""


def grown(store: Store, unit: str, yes: Iterable[str], into: Path | None = None) -> Growth:
    """The map of a unit with what its log met, written to ``into`` if that is given.

    A file that is there already grows itself, so what another unit or a hand brought into it stays. Raises
    NotFoundError, MapError for a file that is no map, LineError for a yes that is none.
    """
    device, told = replayed(store, unit)
    said = [one.partition("=") for one in yes if one != EVERY_PROPOSAL]
    for name, equals, kind in said:
        if not (name and equals and kind):
            raise LineError(f"'{name}{equals}{kind}' is no yes. Say NAME=KIND, as exhaust-fan=fan, or all.")
    text, file, name = device.text, f"map {device.id}", device.id
    there = _there(into, device) if into else None
    if there is not None:
        text, file, name = there.text, str(into), there.id
    if load_text(text, file).starter:
        name = _named(into) if into else f"{device.id}-{store.unit_id(unit).lower()}"
    opened = (before.open_steps for before in told.before)
    lines = ((line.seq, line.event, steps) for line, steps in zip(told.lines, opened, strict=True))
    told_of = facts(device, lines)
    found = grow(
        text,
        file,
        told_of,
        {one: kind for one, _, kind in said},
        agreed=EVERY_PROPOSAL in yes,
        name=name,
        unit=store.unit_id(unit),
    )
    if into is not None:
        write(found.changed, into)
    return Growth(device, told, found, file, name, len(told_of))


def _there(into: Path, device: Device) -> Device | None:
    """The map that a file holds already. Raises NotFoundError if it did not grow from the map of the unit."""
    if not into.exists():
        return None
    there = load(str(into))
    lacks = [one for one in (*device.parts, *device.steps, *device.functions) if one not in _names(there)]
    if lacks:
        raise NotFoundError(
            f"'{into}' holds the map '{there.id}', which did not grow from '{device.id}': it lacks '{lacks[0]}'. Name "
            "another file."
        )
    return there


def _names(device: Device) -> set[str]:
    return {*device.parts, *device.steps, *device.functions}


def _named(into: Path) -> str:
    if not re.match(NAME, into.stem):
        raise NotFoundError(
            f"The map is named after its file, and '{into.stem}' is no name: lower-case words joined by hyphens. Write "
            f"it into '{as_name(into.stem)}.yaml'."
        )
    return into.stem
