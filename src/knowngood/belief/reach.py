"""What a test can rest on at all: the parts, functions and conditions that could make it come out differently."""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass
from functools import lru_cache

from knowngood.belief.configuration import Configuration
from knowngood.maps.device import AnyMode, ByContent, Device, PartModes, RailToGround, Test, by_content


@dataclass(frozen=True)
class Reach:
    """Parts and functions that a test could rest on, and whether it matters that the unit is closed, or warm."""

    parts: tuple[str, ...]
    functions: frozenset[str]
    plugs: frozenset[str]
    """Connections whose being unplugged could matter."""
    closed: bool
    warm: bool
    latches: bool = False
    """Whether it matters what was shorted before, since the input was last away."""

    def of(self, configuration: Configuration) -> Hashable:
        """All of a configuration that could matter. Where it is the same, so is what the test senses, but for faults
        that come and go."""
        return (
            tuple(configuration.slot(part) for part in self.parts),
            configuration.unplugged & self.plugs,
            configuration.split & self.functions,
            configuration.fed & self.functions,
            configuration.closed if self.closed else None,
            configuration.warm if self.warm else None,
            tuple(self.of(before) for before in configuration.since) if self.latches else (),
        )


def reach(device: Device, test: Test) -> Reach:
    """The reach of a test, worked out once per device."""
    return _reach(by_content(device), test)


@lru_cache(maxsize=4096)
def _reach(key: ByContent, test: Test) -> Reach:
    device = key.device
    match test.senses:
        case PartModes(part=part):
            return Reach((part,), frozenset(), frozenset(), closed=False, warm=False)
        case AnyMode(modes=modes):
            return Reach(tuple(part for part, _ in modes), frozenset(), frozenset(), closed=False, warm=False)
        case RailToGround(function=rail):
            parts, functions = dict.fromkeys(device.loads_of[rail]), {rail}
        case sensed:
            parts, functions = below(device, sensed.function)
    whens = {mode.when for part in parts for mode in device.parts[part].modes}
    plugs = {plug for part in parts for plug in (part, *device.plugs_of[part])}
    return Reach(
        tuple(parts),
        frozenset(functions),
        frozenset(plug for plug in plugs if device.parts[plug].is_connection),
        closed=bool(whens & {"closed", "open"}),
        warm=bool(whens & {"warm", "cold"}),
        latches=not isinstance(test.senses, RailToGround) and not functions.isdisjoint(device.latching),
    )


def below(device: Device, name: str) -> tuple[dict[str, None], set[str]]:
    """The parts and functions that a function (or a part) rests on, loads of its rails among them."""
    parts: dict[str, None] = {}
    functions: set[str] = set()
    waiting = [name]
    while waiting:
        one = waiting.pop()
        if one in device.parts:
            parts[one] = None
        elif one not in functions:
            functions.add(one)
            of = device.functions[one]
            waiting += [*of.needs, *(member for group in of.any_of for member in group), *of.spoiled_by]
            waiting += device.loads_of[one]
    return parts, functions


def above(device: Device) -> dict[str, tuple[str, ...]]:
    """For each part and function the functions that rest on it, those whose rail it can pull down and itself among
    them, in the map's order."""
    directly: dict[str, list[str]] = {name: [] for name in (*device.parts, *device.functions)}
    for function in device.functions.values():
        for need in (*function.needs, *(member for group in function.any_of for member in group)):
            directly[need].append(function.id)
        for rail in (function.id, *function.spoiled_by):
            for load in device.loads_of[rail]:
                directly[load].append(function.id)
    place = {name: number for number, name in enumerate(device.functions)}
    found: dict[str, tuple[str, ...]] = {}
    for name in (*reversed(device.functions), *device.parts):  # what rests on a function comes after it
        itself = {name} & device.functions.keys()
        found[name] = tuple(sorted(itself.union(*(found[one] for one in directly[name])), key=place.__getitem__))
    return found
