"""How a unit came in: its papers, and what it did before hands went into it. A unit that comes back comes in anew."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

from knowngood.log import events as ev
from knowngood.log.events.intake import SERIAL
from knowngood.maps.device import Device, FunctionLevel
from knowngood.maps.shape import similar

Came = ev.Recorded | ev.Weighed | ev.Disputable | ev.Quarantined | ev.Cleared | ev.Left | ev.Photographed | ev.Marked

HANDS = (
    *(ev.Opened, ev.Unscrewed, ev.Unplugged, ev.Removed, ev.Harvested, ev.Fitted, ev.Mended),
    *(ev.Dried, ev.Used, ev.Discharged),
)
"""Acts of which the first ends intake: what is tried from then on is no longer what was received."""

UNIT_SERIAL = ev.UNIT
"""The key of the serial number on the outside among serials by part."""


@dataclass(frozen=True)
class Try:
    """A function as it was received: the line, and how it worked."""

    seq: int
    outcome: str


@dataclass(frozen=True)
class Intake:
    """What is known of how the unit came in, after some line of the log."""

    began: int = 1
    """The line with which it came in: the purchase, or its return."""
    ended: int | None = None
    """The first act on it."""
    serials: Mapping[str, str] = field(default_factory=dict)
    """By part; ``unit`` is the one on the outside."""
    serials_before: Mapping[str, str] = field(default_factory=dict)
    """Those of the time before it was sold, if it came back."""
    weight: ev.Weighed | None = None
    until: str | None = None
    """The last day to dispute the purchase, ISO 8601."""
    quarantine: tuple[int, str] | None = None
    """The line, and why."""
    tried: Mapping[str, Try] = field(default_factory=dict)
    """By function."""
    untried: Mapping[str, tuple[int, str]] = field(default_factory=dict)
    """By function that was left untried: the line, and why."""
    photos: tuple[tuple[int, ev.Photographed], ...] = ()
    """All that there are of the unit, those before a sale included."""
    marks: tuple[tuple[int, ev.Marked], ...] = ()
    """Those on them. A thing with the same remark is on a photo once: marked again, its mark has moved."""

    @property
    def differs(self) -> tuple[str, ...]:
        """Serials that are not those of when the unit was sold, in words."""
        return tuple(
            f"Serial of '{part}' is {number}, and was {was} when it was sold: is it the same one?"
            for part, number in self.serials.items()
            if (was := self.serials_before.get(part, number)) != number
        )

    def after(self, event: Came, seq: int) -> Intake:
        """What is known after an event that fits."""
        match event:
            case ev.Recorded(part=part, serial=serial):
                return replace(self, serials={**self.serials, part or UNIT_SERIAL: serial})
            case ev.Weighed():
                return replace(self, weight=event)
            case ev.Disputable(until=until):
                return replace(self, until=until)
            case ev.Quarantined(note=why):
                return replace(self, quarantine=(seq, why))
            case ev.Cleared():
                return replace(self, quarantine=None)
            case ev.Left(function=function, note=why):
                return replace(self, untried={**self.untried, function: (seq, why)})
            case ev.Photographed():
                return replace(self, photos=(*self.photos, (seq, event)))
            case ev.Marked():
                others = tuple(one for one in self.marks if _what(one[1]) != _what(event))
                return replace(self, marks=(*others, (seq, event)))

    def tried_now(self, device: Device, event: ev.Tried, seq: int) -> Intake:
        """What is known once a function was tried: it counts as received until the first act."""
        sensed = device.tests[event.test].senses
        if self.ended is not None or not isinstance(sensed, FunctionLevel):
            return self
        return replace(self, tried={**self.tried, sensed.function: Try(seq, event.outcome)})

    def acted(self, seq: int) -> Intake:
        """What is known once hands went into the unit."""
        return self if self.ended is not None else replace(self, ended=seq)

    def returned(self, seq: int) -> Intake:
        """What is known of a unit that came back: it comes in anew. Its photos, their marks and old serials stay."""
        return Intake(seq, serials_before={**self.serials_before, **self.serials}, photos=self.photos, marks=self.marks)

    def misfit(self, device: Device, event: Came, met: Mapping[str, str]) -> str | None:
        """Why an event does not fit, or None. ``met`` are things that the map does not know."""
        match event:
            case ev.Recorded(part=str(part)) if part not in device.parts:
                return f"There is no part '{part}' on this map. {similar(part, device.parts)}"
            case ev.Cleared() if self.quarantine is None:
                return "It is not in quarantine."
            case ev.Left(function=function):
                known = tried_functions(device)
                if function not in known:
                    return f"No function '{function}' that a person tries. {similar(function, known)}"
                if self.ended is not None:
                    return f"Line {self.ended} was the first act on it: the chart of what was received is closed."
                if function in self.tried:
                    return f"'{function}' was tried (line {self.tried[function].seq}: {self.tried[function].outcome})."
            case ev.Photographed(target=target) | ev.Marked(target=target):
                known = shown_on_photos(device, met)
                if target not in known:
                    return f"Nothing is named '{target}' here. {similar(target, known)}"
                files = {photo.file for _, photo in self.photos}
                if isinstance(event, ev.Marked) and event.file not in files:
                    return f"No line says that '{event.file}' is a photo of this unit. {similar(event.file, files)}"
            case _:
                pass
        return None


def shown_on_photos(device: Device, met: Iterable[str] = ()) -> tuple[str, ...]:
    """What a photo, or a mark on it, can be of."""
    return (ev.UNIT, SERIAL, *device.parts, *device.steps, *device.functions, *device.tests, *met)


def _what(mark: ev.Marked) -> tuple[str, str, str]:
    return mark.file, mark.target, mark.note


def tried_functions(device: Device) -> tuple[str, ...]:
    """The functions that a person can try, in the order of the map."""
    senses = [test.senses for test in device.tests.values() if test.verb == "tried"]
    return tuple(dict.fromkeys(one.function for one in senses if isinstance(one, FunctionLevel)))


def before_and_after(photos: Iterable[ev.Photographed]) -> tuple[tuple[ev.Photographed, ev.Photographed], ...]:
    """For each thing that has both: its last photo before the work and its last one after it."""
    last = {(one.target, one.when): one for one in photos if one.when}
    targets = dict.fromkeys(target for target, _ in last)
    return tuple(
        (last[one, "before"], last[one, "after"])
        for one in targets
        if (one, "before") in last and (one, "after") in last
    )
