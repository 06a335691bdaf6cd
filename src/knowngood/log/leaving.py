"""What of a unit's log bears on whether it may leave: the safety test under way, data removed, locks, overrides."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from knowngood.log import events as ev
from knowngood.maps.device import Device
from knowngood.maps.shape import similar

Leave = ev.Stated | ev.Inspected | ev.Measured | ev.Wiped | ev.Checked | ev.Overrode

MAINS = "mains"
"""The hazard of a part that mains voltage is on."""

COVERS = ("enclosure", "cosmetic-shell")
"""Kinds of part that keep hands away from mains."""

UNDER_MAINS: tuple[str, ...] = ("protective-current", "touch-current", "function")
"""Steps of the safety test that put mains voltage on the unit; earth path and insulation come before them."""

OPENING = (ev.Opened, ev.Met, ev.Began, ev.Dried, ev.Received, ev.Returned)
"""Events that end a safety test whatever they are about: the case opened, by a step of the map or one that was met, the
unit washed, or come from elsewhere."""

HANDLING = (ev.Removed, ev.Harvested, ev.Fitted, ev.Mended, ev.Discharged, ev.Used)
"""Events that lay hands on a part."""


@dataclass(frozen=True)
class Void:
    """Why the safety test no longer counts: the line that ended it."""

    seq: int
    line: str


@dataclass(frozen=True)
class SafetyLog:
    """The safety test that is under way or done. It begins with the visual inspection."""

    stated: Mapping[str, ev.Stated] = field(default_factory=dict)
    """By topic: class, cord, metal."""
    inspected: Mapping[str, tuple[int, str]] = field(default_factory=dict)
    """By what was inspected: the last line and its outcome."""
    measured: tuple[tuple[int, ev.Measured], ...] = ()
    """Every reading since the test began; none is dropped because another was taken later."""
    void: Void | None = None
    """What ended the test before; None once another has begun."""

    @property
    def begun(self) -> bool:
        return bool(self.inspected)

    def seqs(self, step: str) -> tuple[int, ...]:
        """The lines that record a step of the test."""
        if step in self.inspected:
            return (self.inspected[step][0],)
        return tuple(seq for seq, event in self.measured if event.quantity == step)


@dataclass(frozen=True)
class Leaving:
    """What is so after some line of the log."""

    test: SafetyLog = field(default_factory=SafetyLog)
    wiped: Mapping[str, tuple[int, ev.Wiped]] = field(default_factory=dict)
    """By part whose data was removed: the line that says so."""
    lock: ev.Checked | None = None
    overrode: Mapping[str, int] = field(default_factory=dict)
    """By matter that was overridden: the line. An act on the unit ends it."""
    unwiped: frozenset[str] = frozenset()
    """Parts that may hold data, out because another one took their place: they lie on the bench, and no line says that
    their data was removed."""

    used: frozenset[str] = frozenset()
    """Parts that may hold data of a buyer who had the unit and sent it back, new as they were."""

    def after(self, device: Device, event: Leave, seq: int) -> Leaving:
        """What is so after an event that fits."""
        test = self.test
        match event:
            case ev.Stated(topic=topic):
                return replace(self, test=replace(test, stated={**test.stated, topic: event}))
            case ev.Inspected(what="visual", outcome=outcome):
                return replace(self, test=SafetyLog(test.stated, {"visual": (seq, outcome)}))
            case ev.Inspected(what=what, outcome=outcome):
                return replace(self, test=replace(test, inspected={**test.inspected, what: (seq, outcome)}))
            case ev.Measured():
                return replace(self, test=replace(test, measured=(*test.measured, (seq, event))))
            case ev.Wiped(part=part):
                inside = (one for one in device.data_parts if part in (ev.UNIT, *device.within(one)))
                parts = (part, *inside)
                wiped = {**self.wiped, **dict.fromkeys(parts, (seq, event))}
                return replace(self, wiped=wiped, unwiped=self.unwiped - set(parts), used=self.used - set(parts))
            case ev.Checked():
                return replace(self, lock=event) if event.lock else self
            case ev.Overrode(matter=matter):
                return replace(self, overrode={**self.overrode, matter: seq})

    def acted(self, device: Device, event: ev.Event, seq: int) -> Leaving:
        """What is left of it after an act on the unit."""
        test, wiped, unwiped, used = self.test, self.wiped, self.unwiped, self.used
        if test.begun and _ends(device, event):
            test = SafetyLog(test.stated, void=Void(seq, ev.render(event)))
        if isinstance(event, ev.Returned):  # its buyer used it
            return Leaving(test, unwiped=unwiped, used=frozenset(device.data_parts))
        if isinstance(event, ev.Fitted) and event.origin != ev.BACK:
            came = {event.part, *device.carries[event.part]}
            inside = came & set(device.data_parts)
            unwiped |= inside - wiped.keys()
            used -= inside
            wiped = {part: one for part, one in wiped.items() if part not in came | {ev.UNIT}}
        return replace(self, test=test, wiped=wiped, unwiped=unwiped, used=used, overrode={})

    def misfit(self, device: Device, event: Leave, ajar: tuple[str, ...]) -> str | None:
        """Why an event does not fit, or None."""
        match event:
            case ev.Wiped(part=part) if part != ev.UNIT and part not in device.parts:
                return f"There is no part '{part}' on this map. {similar(part, device.parts)}"
            case ev.Inspected() | ev.Measured():
                return self._out_of_turn(device, event, ajar)
            case _:
                return None

    def _out_of_turn(self, device: Device, event: ev.Inspected | ev.Measured, ajar: tuple[str, ...]) -> str | None:
        if ajar:
            return (
                f"'{ajar[0]}' is open, and the safety test is made last, with all covers on. "
                "Log 'closed all' first; a reading on the way is 'noted ...'."
            )
        step = event.what if isinstance(event, ev.Inspected) else event.quantity
        if step == "visual":
            return None
        if not self.test.begun:
            return "The safety test begins with a look at case, cord and plug. Log 'inspected visual passed' first."
        if self.test.inspected["visual"][1] == "failed":
            return (
                f"The look at it failed (line {self.test.inspected['visual'][0]}): it is not measured and not powered. "
                "Mend it, then log 'inspected visual passed'."
            )
        class_ = self.protection(device)
        if class_ == "none":
            return "Of which protection class is it? The map does not say: log 'stated class I' (or II, III) first."
        if step == "protective-earth" and class_ in ("II", "III"):
            return (
                f"Class {class_} does not rely on an earth: an earth pin of class II may be functional only. "
                "If it is of class I, log 'stated class I'."
            )
        if step in UNDER_MAINS and class_ != "III":
            first = self._before_mains(class_)
            if first:
                return (
                    f"'{step}' puts mains on the unit, and before that comes {first}. Log 'measured {first} ...' first."
                )
        if isinstance(event, ev.Measured) and event.quantity == "insulation" and event.voltage is None:
            return "At which voltage? For example: measured insulation 20 Mohm by fluxa at 500 V"
        return None

    def _before_mains(self, protection: str) -> str | None:
        """What is still to be measured before the unit may be powered, if anything is."""
        metal = self.test.stated.get("metal")
        bare = protection == "II" and metal is not None and metal.value == "none"
        needed = (*(("protective-earth",) if protection == "I" else ()), *(() if bare else ("insulation",)))
        return next((one for one in needed if not self.test.seqs(one)), None)

    def protection(self, device: Device) -> str:
        """Protection class, as found on the unit, else as its map claims."""
        found = self.test.stated.get("class")
        return found.value if found else device.protection_class


def _ends(device: Device, event: ev.Event) -> bool:
    """Whether an act ends a safety test: the case was opened, or hands were on a part that mains is on, or a cover."""
    if isinstance(event, OPENING):
        return True
    if isinstance(event, (ev.Unplugged, ev.Plugged)):
        return MAINS in device.parts[event.connection].hazards
    if isinstance(event, HANDLING) and event.part is not None:
        inside = (device.parts[part] for part in device.within(event.part))
        return any(MAINS in one.hazards or one.kind in COVERS for one in inside)
    return False
