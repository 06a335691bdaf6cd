"""What eyes found on a unit and nobody has put right: the flaws that a grade rests on and a listing names."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from knowngood.log import events as ev
from knowngood.log.connections import made_by_closing, made_by_fitting
from knowngood.log.state import Replay, State
from knowngood.maps.device import Device, Part
from knowngood.maps.words import FINE

NOT_SEATED = frozenset({"unseated", "loose", "misaligned"})
"""Conditions of a connection that are over once it was made again."""

SMALL_THINGS = ("fasteners", "accessory")
"""Kinds that are no part of how a unit looks."""


@dataclass(frozen=True)
class Flaw:
    """A condition seen on a part as it sits in the unit now."""

    part: str
    what: str
    condition: str
    degree: str | None
    seq: int
    outside: bool
    """It can be seen with the unit closed."""
    mended: int | None = None
    """The line of a remedy against it, since."""

    @property
    def lines(self) -> tuple[int, ...]:
        """The lines that tell of it."""
        return (self.seq, self.mended) if self.mended else (self.seq,)


@dataclass(frozen=True)
class Looks:
    """What looking at a unit has brought."""

    flaws: tuple[Flaw, ...]
    """Oldest first."""
    fine: dict[str, int]
    """Parts last seen fine: the line."""
    not_looked: tuple[str, ...]
    """Parts of the outside that nobody looked at as they are now."""


def outside(device: Device) -> tuple[Part, ...]:
    """The parts that make up how a closed unit looks."""
    return tuple(
        part
        for part in device.parts.values()
        if part.behind is None and not part.is_connection and part.kind not in SMALL_THINGS
    )


def looks(device: Device, told: Replay) -> Looks:
    """The flaws that are left after a log, what was seen fine, and what of the outside nobody looked at."""
    seen_closed = {part.id for part in outside(device)}
    found: dict[tuple[str, str], Flaw] = {}
    fine: dict[str, int] = {}
    for line, before in zip(told.lines, told.before, strict=True):
        match line.event:
            case ev.Saw(part=part, condition=condition, look=look) if condition == FINE:
                if look != "glance":  # a glance clears nothing that was seen
                    found = {key: flaw for key, flaw in found.items() if key[0] != part}
                    fine[part] = line.seq
            case ev.Saw(part=part, condition=condition, degree=degree):
                what = device.parts[part].what
                found[part, condition] = Flaw(part, what, condition, degree, line.seq, part in seen_closed)
                fine.pop(part, None)
            case ev.Mended(part=part, remedy=remedy):
                against = _mends(device.parts[part], remedy)
                for (of, condition), flaw in found.items():
                    if of == part and condition in against:
                        found[of, condition] = replace(flaw, mended=line.seq)
            case ev.Fitted(part=part, origin=origin) if origin != ev.BACK:
                inside = {one for one in device.parts if part in device.within(one)}
                found = {key: flaw for key, flaw in found.items() if key[0] not in inside}
                fine = {one: seq for one, seq in fine.items() if one not in inside}
            case ev.Dried():
                found = {key: flaw for key, flaw in found.items() if key[1] != "wet"}
            case _:
                made = set(_made(device, before, line.event))
                found = {key: flaw for key, flaw in found.items() if key[0] not in made or key[1] not in NOT_SEATED}
    looked = {part for part, _ in found} | fine.keys()
    unseen = tuple(part.id for part in outside(device) if part.id not in looked | told.state.harvested)
    return Looks(tuple(sorted(found.values(), key=lambda one: one.seq)), fine, unseen)


def left(told: Replay) -> dict[str, int]:
    """Parts that have left the unit: the last line that says so."""
    gone = {}
    for line in told.lines:
        if isinstance(line.event, ev.Harvested) and line.event.part in told.state.harvested:
            gone[line.event.part] = line.seq
    return gone


def _mends(part: Part, remedy: str) -> frozenset[str]:
    """The conditions that a remedy is against: those that a fault which it cures shows more often than no fault."""
    cures = next((one.cures for one in part.remedies if one.name == remedy), ())
    usual = dict(part.looks)
    cured = {mode for mode, _ in cures}
    shown = (look for mode in part.modes if mode.name in cured for look in mode.looks)
    return frozenset(condition for condition, share in shown if share > usual.get(condition, 0.0))


def _made(device: Device, before: State, event: ev.Event) -> Iterable[str]:
    """Connections that an event makes again."""
    match event:
        case ev.Plugged(connection=connection):
            return (connection,)
        case ev.Closed(step=step):
            return made_by_closing(device, before, step)
        case ev.Fitted(part=part):
            return made_by_fitting(device, part)
        case _:
            return ()
