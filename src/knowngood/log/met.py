"""What a teardown came upon, kept apart from what the map knows: nothing is believed or planned by it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Set
from dataclasses import dataclass, field, replace

from knowngood.log import events as ev
from knowngood.log.fasteners import ANY_SORT, sort_of
from knowngood.maps.device import Device
from knowngood.maps.facts import Fact
from knowngood.maps.shape import similar

SORTS = {"part": "a part", "step": "an access step", "plug": "a connection"}
"""What each sort of a ``met`` line is in words."""


@dataclass(frozen=True)
class Met:
    """Name and sort of what was come upon."""

    sorts: Mapping[str, str] = field(default_factory=dict)

    opened: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    """Steps that the map does not know and that are open, in the order in which they were opened, each with the steps
    that it lies behind."""

    @property
    def steps(self) -> tuple[str, ...]:
        """The steps, in the order in which they were met."""
        return tuple(name for name, sort in self.sorts.items() if sort == "step")

    def after(self, device: Device, event: ev.Met) -> Met:
        """What was met after a line that fits; a step is opened by it."""
        met = Met({**self.sorts, event.name: event.sort}, self.opened)
        if event.sort != "step" or event.name in device.steps:
            return met
        others = {step: behind for step, behind in self.opened.items() if step != event.name}
        return replace(met, opened={**others, event.name: event.behind or self.opened.get(event.name, ())})

    def closed(self, steps: Set[str]) -> Met:
        """What is left open once steps are closed: not these, nor what lies behind them."""
        shut = set(steps)
        for step, behind in self.opened.items():  # what lies behind another was opened after it
            shut |= {step} if shut.intersection(behind) else set()
        return replace(self, opened={step: behind for step, behind in self.opened.items() if step not in shut})

    def behind(self, step: str) -> str | None:
        """A step that lies behind another one, was opened after it and is open still, if there is one."""
        order = list(self.opened)
        later = order[order.index(step) + 1 :] if step in order else order
        return next((one for one in later if step in self.opened[one]), None)

    def misfit(self, device: Device, event: ev.Met) -> str | None:
        """Why a line does not fit: a name of two sorts, or one that nothing has. None if it fits."""
        was = self.sorts.get(event.name) or _sort(device, event.name)
        if was and was != event.sort:
            return f"'{event.name}' is {SORTS.get(was, was)} already. Give each its own name."
        for word in ("joins", "latch", "reversible"):
            if event.sort != "plug" and getattr(event, word):
                return f"'{word}' is said of a plug, not of a {event.sort}."
        if event.sort == "step" and (event.kind or event.step):
            return "A step has no kind and comes off with none: say 'behind' which steps it lies."
        if event.sort != "step" and len(event.behind or ()) > 1:
            return f"'{event.name}' lies behind one step: name the one that was opened last."
        steps = {*device.steps, *self.steps}
        for step in (*(event.behind or ()), *((event.step,) if event.step else ())):
            if step == event.name or step not in steps:
                return f"No access step '{step}' to lie behind or come off with. {similar(step, steps - {event.name})}"
        parts = {*device.parts, *(name for name, sort in self.sorts.items() if sort != "step")} - {event.name}
        for part in event.joins or ():
            if part not in parts:
                return f"No part '{part}' to join. {similar(part, parts)} Log 'met part {part}' first, if it is new."
        return None


def _sort(device: Device, name: str) -> str | None:
    if name in device.steps:
        return "step"
    if name in device.parts:
        return "plug" if device.parts[name].is_connection else "part"
    if name in device.functions:
        return "a function of this map"
    return "a test of this map" if name in device.tests else None


# --- what a log says of how the unit hangs together ---


def facts(device: Device, lines: Iterable[tuple[int, ev.Event, Set[str]]]) -> dict[str, Fact]:
    """What effective lines say, by name, in the order in which it was come upon.

    Each line comes with its number and the steps of the map that are open before it.
    """
    found: dict[str, Fact] = {}
    order: list[str] = []
    now: dict[tuple[str, str], int] = {}
    for seq, event, opened in lines:
        match event:
            case ev.Met(name=name):
                fact = found.get(name) or Fact(name, event.sort, seq, order=tuple(order))
                said = {
                    key: value
                    for key in ("kind", "behind", "step", "joins", "latch", "reversible")
                    if (value := getattr(event, key))
                }
                found[name] = replace(fact, seq=seq, met=True, **said)
                if event.sort == "step" and event.minutes is not None:
                    found[name] = replace(found[name], opened=event.minutes)
                if event.sort == "step" and name not in order:
                    order.append(name)
            case ev.Opened(step=step):
                way = device.way_in(opened, step)
                for one in way:
                    found.setdefault(one, Fact(one, "step", seq, order=tuple(order)))
                    order += [one] if one not in order else []
                if len(way) == 1 and event.minutes is not None:
                    found[step] = replace(found[step], opened=event.minutes)
            case ev.Closed(step=step) if event.minutes is not None and step in found:
                found[step] = replace(found[step], closed=event.minutes)
            case ev.Unscrewed(step=step, count=count) | ev.Screwed(step=step, count=count):
                out = isinstance(event, ev.Unscrewed)
                sort = sort_of(device.steps[step], event.sort) if step in device.steps else event.sort or ANY_SORT
                now[step, sort] = max(0, now.get((step, sort), 0) + (count if out else -count))
                fact = found.get(step) or Fact(step, "step", seq, order=tuple(order))
                most = {**fact.out, sort: max(fact.out.get(sort, 0), now[step, sort])}
                found[step] = replace(fact, out=most, counted=seq) if out else fact
            case _:
                pass
    return found
