"""What the person rules out for a unit: tools that are not here, parts that are not to be had, what is put off."""

from __future__ import annotations

from dataclasses import dataclass, replace

from knowngood.log import events as ev
from knowngood.maps.device import Device
from knowngood.maps.shape import similar

Wish = ev.Lacks | ev.Has | ev.Deferred | ev.Resumed


@dataclass(frozen=True)
class RuledOut:
    """What holds after some line of the log."""

    tools: frozenset[str] = frozenset()
    """Tools that are not here, in small letters."""
    parts: frozenset[str] = frozenset()
    """Parts that are not to be had."""
    deferred: frozenset[str] = frozenset()
    """Parts, tests and access steps that were put off."""

    def after(self, event: Wish) -> RuledOut:
        """What holds after an event that fits."""
        match event:
            case ev.Lacks(sort="tool", name=name):
                return replace(self, tools=self.tools | {name.lower()})
            case ev.Lacks(name=name):
                return replace(self, parts=self.parts | {name})
            case ev.Has(sort="tool", name=name):
                return replace(self, tools=self.tools - {name.lower()})
            case ev.Has(name=name):
                return replace(self, parts=self.parts - {name})
            case ev.Deferred(name=name):
                return replace(self, deferred=self.deferred | {name})
            case ev.Resumed(name=name):
                return replace(self, deferred=self.deferred - {name})

    def misfit(self, device: Device, event: Wish) -> str | None:
        """Why an event does not fit, or None."""
        match event:
            case ev.Lacks(sort="tool", name=name):
                if name.lower() not in {tool.lower() for tool in device.tools}:
                    return f"Nothing on this map takes a tool '{name}'. {similar(name, device.tools)}"
            case ev.Lacks(name=name):
                if name not in device.parts:
                    return f"There is no part '{name}' on this map. {similar(name, device.parts)}"
            case ev.Has(sort=sort, name=name):
                if name.lower() not in (self.tools if sort == "tool" else self.parts):
                    return f"The {sort} '{name}' was not lacking."
            case ev.Deferred(name=name):
                known = [*device.parts, *device.tests, *device.steps]
                if name not in known:
                    return f"There is no part, test or access step '{name}' on this map. {similar(name, known)}"
            case ev.Resumed(name=name):
                if name not in self.deferred:
                    return f"'{name}' was not put off."
        return None
