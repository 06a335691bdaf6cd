"""What a device does when its faults are known: plain evaluation, one state of the world at a time.

Kept apart from ``wiring`` on purpose: the rehearsal's hidden world and the tests' oracle use this one, so that the
exact inference is checked against something that was not derived from it.
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache

from knowngood.belief.reach import above
from knowngood.belief.sensing import reading_states
from knowngood.handbook.readings import PULSING
from knowngood.maps.device import (
    AnyMode,
    ByContent,
    Device,
    Mode,
    PartModes,
    RailToGround,
    RailVoltage,
    Test,
    by_content,
)
from knowngood.maps.words import HICCUP, Level


@dataclass(frozen=True)
class World:
    """All that decides what a unit does: the mode of each faulty part, the unknown, and the configuration."""

    modes: Mapping[str, str] = field(default_factory=dict)
    """Faulty parts with their mode; a part not named is fine."""
    quiet: frozenset[str] = frozenset()
    """Parts whose fault, if it comes and goes, does not show now."""
    unknown: frozenset[str] = frozenset()
    """Functions stopped by something the map does not know."""
    absent: frozenset[str] = frozenset()
    unplugged: frozenset[str] = frozenset()
    split: frozenset[str] = frozenset()
    closed: bool = True
    warm: bool = True
    fed: frozenset[str] = frozenset()
    """Rails that a bench supply feeds."""
    latched: frozenset[str] = frozenset()
    """Rails that were shorted before, since their input was last away."""

    def mode(self, device: Device, part: str) -> Mode | None:
        """The mode that acts on a part now, or None."""
        if part not in self.modes:
            return None
        mode = device.parts[part].mode(self.modes[part])
        if mode.shows is not None and part in self.quiet:
            return None
        holds = {"closed": self.closed, "open": not self.closed, "warm": self.warm, "cold": not self.warm}
        return mode if mode.when is None or holds[mode.when] else None


@dataclass(frozen=True)
class Behaviour:
    """What a world does: the level of every function, the rails that are shorted, driven high, or pulse."""

    level: dict[str, Level]
    shorted: frozenset[str]
    high: frozenset[str]
    pulsing: frozenset[str]
    """Rails whose supply tries again and again to start into a short."""
    groups: dict[tuple[str, int], Level]
    """Of each function's any-of groups, by their order, the level of the best member."""


def behave(
    device: Device, world: World, *, backups_count: bool = True, among: Sequence[str] | None = None
) -> Behaviour:
    """The behaviour of a world. Without ``backups_count`` every member of an any-of group is needed.

    ``among`` are the functions to work out, in the map's order; the rest must be known to be good.
    """
    named = (device.functions[name] for name in (device.functions if among is None else among))
    functions = [function.fed(world.fed) for function in named] if world.fed else list(named)
    acting = {name: mode for name in world.modes if (mode := world.mode(device, name)) is not None}
    taken = {how: _pulled(device, world, acting, how) for how in ("short", "heavy")}
    shorted = frozenset(rail.id for rail in functions if rail.id in taken["short"])
    latched = world.latched & device.latching
    driving = {name for name, mode in acting.items() if mode.high} - world.absent
    high = frozenset(function.id for function in functions if not driving.isdisjoint(function.needs))
    level: dict[str, Level] = {}
    groups: dict[tuple[str, int], Level] = {}
    pulsing: set[str] = set()

    def given(function: str, need: str) -> Level:
        """What a need of a function leaves of it."""
        if need in level:
            return level[need]
        if need in world.absent or need in world.unplugged:
            return Level.NONE
        return acting[need].limit(function) if need in acting else Level.GOOD

    for function in functions:
        levels = [Level.GOOD, *(given(function.id, need) for need in function.needs)]
        for number, group in enumerate(function.any_of):
            members = [given(function.id, need) for need in group]
            groups[function.id, number] = max(members) if backups_count else min(members)
            levels.append(groups[function.id, number])
        if function.id in world.unknown or function.id in world.split:
            levels.append(Level.NONE)
        if not shorted.isdisjoint(function.spoiled_by):
            levels.append(Level.NONE)
        if function.id in taken["heavy"]:
            levels.append(Level.WEAK)
        if function.id in shorted:
            if function.under_short == HICCUP and min(levels) > Level.NONE:
                pulsing.add(function.id)
            levels.append(function.left)
        if function.id in latched:
            levels.append(Level.NONE)
        level[function.id] = min(levels)
    return Behaviour(level, shorted, high, frozenset(pulsing), groups)


def _pulled(device: Device, world: World, acting: Mapping[str, Mode], how: str) -> set[str]:
    """The rails that parts in these modes pull down: those they hang on, there, and with no plug between."""
    there = (
        name
        for name, mode in acting.items()
        if mode.takes == how
        if name not in world.absent and not {name, *device.plugs_of[name]} & world.unplugged
    )
    return {rail for name in there for rail in device.parts[name].on}


def sensed_row(device: Device, test: Test, world: World) -> int | None:
    """Row of the test's table (see ``sensing``) that this world is in; None if there is nothing there to test."""
    sensed = test.senses
    if isinstance(sensed, PartModes):
        if sensed.part in world.absent:
            return None
        return device.parts[sensed.part].states.index(world.modes.get(sensed.part, "fine"))
    if isinstance(sensed, AnyMode):
        present = (part for part, _ in sensed.modes if part not in world.absent)
        return 0 if any(world.modes.get(part) in dict(sensed.modes)[part] for part in present) else 1
    behaviour = behave(device, world)
    if isinstance(sensed, RailToGround):
        return 0 if sensed.function in behaviour.shorted else 1
    level = int(behaviour.level[sensed.function])
    if isinstance(sensed, RailVoltage):
        states = reading_states(device, test)
        if sensed.function in behaviour.high and level == Level.GOOD:
            return states.index("high")
        if sensed.function in behaviour.pulsing:
            return states.index(PULSING)
    return level


@dataclass(frozen=True)
class Effects:
    """For each part and mode: wanted functions it stops alone, and those it stops only when a backup fails too."""

    alone: dict[tuple[str, str], frozenset[str]]
    with_others: dict[tuple[str, str], frozenset[str]]
    levels: dict[tuple[str, str], dict[str, Level]]
    """The level of every function that this one fault alone keeps from being good."""


@lru_cache(maxsize=16)
def _effects(device_key: ByContent) -> Effects:
    device = device_key.device
    wanted, rests_on = frozenset(device.wanted), above(device)
    alone: dict[tuple[str, str], frozenset[str]] = {}
    with_others: dict[tuple[str, str], frozenset[str]] = {}
    levels: dict[tuple[str, str], dict[str, Level]] = {}
    for part in device.parts.values():
        among = rests_on[part.id]
        backups = any(device.functions[name].any_of for name in among)
        known: dict[Hashable, tuple[dict[str, Level], dict[str, Level]]] = {}
        for mode in part.modes:
            alike = (mode.gives, mode.limits, mode.takes, mode.high, mode.when)
            if alike not in known:
                lost = _lost(device, part.id, mode, among)
                known[alike] = lost, _lost(device, part.id, mode, among, backups_count=False) if backups else lost
            least, at_most = known[alike]
            levels[part.id, mode.name] = least
            alone[part.id, mode.name] = wanted.intersection(least)
            with_others[part.id, mode.name] = wanted.intersection(at_most).difference(least)
    return Effects(alone, with_others, levels)


def _lost(
    device: Device, part: str, mode: Mode, among: Sequence[str], *, backups_count: bool = True
) -> dict[str, Level]:
    """Functions that are not good with this one fault, in the unit as it will be used: closed, cold or warm."""
    lost: dict[str, Level] = {}
    for warm in (False, True) if mode.when in ("cold", "warm") else (True,):
        behaviour = behave(device, World({part: mode.name}, warm=warm), backups_count=backups_count, among=among)
        for name, level in behaviour.level.items():
            if level < Level.GOOD:
                lost[name] = min(level, lost.get(name, level))
    return lost


def effects(device: Device) -> Effects:
    """What each mode alone does to the wanted functions, computed once per device."""
    return _effects(by_content(device))
