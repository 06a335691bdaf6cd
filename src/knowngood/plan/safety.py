"""An independent check of proposals: which of the promises to the person's hands a proposed move would break.

It proves the rules and the planner, so it shares nothing with them: the promises are sentences, told here from the
lines of the log and the map; what a move does is told from its test, remedy and steps, not from what the move says of
itself. It knows of no worth, and refuses no word that a map may use.
"""

from __future__ import annotations

import re
from collections.abc import Container, Iterable
from dataclasses import dataclass, field
from typing import Protocol

from knowngood.errors import QuantityError
from knowngood.handbook.quantities import parse_quantity
from knowngood.handbook.readings import DIODE_SHORT
from knowngood.log import events as ev
from knowngood.log.state import Replay
from knowngood.maps.device import AnyMode, Device, PartModes, RailToGround, Remedy, Test

SENTENCES = {
    "supply": "No mains on a supply seen dented, cracked, wet or burnt while a known-good one can stand in, and "
    "otherwise only behind isolation and a current limit.",
    "charge": "Stored charge is let off and measured before hands go near it.",
    "cell": "A swollen, punctured or wet cell stops everything else until it is out.",
    "wet": "A unit that got wet has no power until it is dried, and is not washed with its pack plugged in.",
    "laser": "No laser runs uncovered.",
    "short": "A known short gets no power from its own source: injection on that rail alone, limited in current, at or "
    "below its nominal voltage, with the limits shown.",
}
"""What must never be proposed, by a word for it."""

SUPPLY_HURT = {"dented", "cracked", "wet", "burnt"}
CELL_HURT = {"swollen", "punctured", "wet"}
UNCOVERED = {"missing", "broken-off"}
SAFE_VOLTS = 10.0
"""Hands only below (common practice, no source; the sources on both sides of it stand with the hazard)."""

MOST_AMPERES = 3.0
"""Upper end of what a rail is fed to find a short (common practice, no source)."""

HANDS_OFF = ("look", "listen", "smell", "ask", "wait", "open", "close", "discharge", "sell", "sell-as-is")


class Proposal(Protocol):
    """What is read of a proposed move."""

    @property
    def kind(self) -> str: ...
    @property
    def target(self) -> str: ...
    @property
    def opens(self) -> tuple[str, ...]: ...
    @property
    def closes(self) -> tuple[str, ...]: ...
    @property
    def test(self) -> Test | None: ...
    @property
    def remedy(self) -> Remedy | None: ...
    @property
    def precautions(self) -> tuple[str, ...]: ...


class Checker:
    """What a log makes dangerous, and which sentences a move proposed after it would break."""

    def __init__(self, device: Device, told: Replay, stand_ins: Container[str] | None = None) -> None:
        """``stand_ins``: parts in whose place the bench can put a known-good one; None: all that their kind has
        another for."""
        self.device, self.told, self.stand_ins = device, told, stand_ins
        self.known = _facts(device, told)
        self.stores = _stores(device)

    def broken(self, move: Proposal) -> tuple[str, ...]:
        """The words of the sentences that a proposed move would break, none if it is safe."""
        if move.kind == "part-out":
            return ()
        known, gone = self.known, self.told.state.removed
        found = {
            "supply": _supply(self.device, known, move, self.stand_ins),
            "charge": bool(self._hands(move) & self.stores - known.discharged - gone),
            "cell": _cell(self.device, known, self.told, move),
            "wet": known.wet and (_power(move) != "off" or (move.kind == "dry" and self._pack_in())),
            "laser": _laser(self.device, known, self.told, move),
            "short": _short(self.device, known, move),
        }
        return tuple(word for word, so in found.items() if so)

    def _pack_in(self) -> bool:
        """Whether a cell is in the unit with any of the plugs that it hangs on made, or without a plug."""
        now = self.told.state
        for part in self.device.parts.values():
            plugs = {one.id for one in self.device.parts.values() if one.joins and one.joins[0] == part.id}
            off = bool(plugs) and plugs <= now.unplugged | now.loose | now.removed
            if "cell" in part.hazards and part.id not in now.removed and not off:
                return True
        return False

    def _hands(self, move: Proposal) -> set[str]:
        """Parts that hands come near, those that steps take off and put on again among them."""
        steps = {*move.opens, *move.closes}
        if move.kind == "open":
            steps |= set(self.device.way_in(self.told.state.open_steps, move.target))
        elif move.kind == "close":
            steps |= self.told.state.open_steps
        near = {one for step in steps for one in (*self.device.steps[step].unplugs, *self.device.steps[step].removes)}
        return near | _hands(self.device, move, self.stores, near)


# ---- what the log says --------------------------------------------------------------------------------------------


@dataclass
class _Facts:
    seen: dict[str, set[str]] = field(default_factory=dict)
    discharged: set[str] = field(default_factory=set)
    shorted: set[str] = field(default_factory=set)
    wet: bool = False


def _facts(device: Device, told: Replay) -> _Facts:
    known = _Facts({part: set() for part in device.parts})
    for line, before in zip(told.lines, told.before, strict=True):
        match line.event:
            case ev.Bought(past=past) | ev.Offered(past=past):
                known.wet = "wet" in past
            case ev.Past(what="wet") | ev.Began():
                known.wet = True
            case ev.Dried():
                known.wet = False
            case ev.Saw(part=name, condition=condition):
                known.seen[name].add(condition)
                known.wet = known.wet or condition == "wet"
            case ev.Fitted(part=name, origin=origin) if origin != ev.BACK:
                for came in _with_what_sits_on_it(device, name, before.removed - before.harvested):
                    known.seen[came].clear()
                    known.discharged.discard(came)
                    known.shorted -= set(device.parts[came].on)
            case ev.Mended(part=name):
                known.shorted -= set(device.parts[name].on)
            case ev.Discharged(part=name, reading=reading):
                one_node = {name} | _on_one_node(device, name, before.unplugged | before.loose | before.removed)
                known.discharged -= one_node
                if _number(reading, "V") < SAFE_VOLTS:
                    known.discharged |= one_node
            case ev.Read(test=name, reading=reading):
                _read(device, known, device.tests[name], reading)
            case ev.Found(test=name) | ev.Tried(test=name) if device.tests[name].power != "off":
                known.discharged.clear()
            case _:
                pass
    return known


def _with_what_sits_on_it(device: Device, part: str, taken_off: frozenset[str]) -> set[str]:
    """A part and all whose assemblies end in it, but for what was taken off to stay."""
    found, more = {part}, True
    while more:
        on_it = {one.id for one in device.parts.values() if one.parent in found} - found
        found, more = found | on_it, bool(on_it)
    return found - (taken_off - {part})


def _read(device: Device, known: _Facts, test: Test, reading: str) -> None:
    if test.power != "off":
        known.discharged.clear()
    if isinstance(test.senses, RailToGround):
        rail = test.senses.function
        least = DIODE_SHORT if test.senses.diode else device.functions[rail].short_below
        known.shorted.discard(rail)
        if _number(reading, test.senses.unit) < least:
            known.shorted.add(rail)


def _number(reading: str, unit: str) -> float:
    try:
        return abs(parse_quantity(reading, unit))
    except QuantityError:
        return float("inf")


def _on_one_node(device: Device, part: str, apart: frozenset[str]) -> set[str]:
    """What a voltage measured on a part is measured of, too: what hangs on the same rails, all plugged together."""
    rails = [{one.id for one in device.parts.values() if rail in one.on} for rail in device.parts[part].on]
    return {one for loads in rails if not loads & apart for one in loads}


# ---- what the move does -------------------------------------------------------------------------------------------


def _power(move: Proposal) -> str:
    return move.test.power if move.test else "off"


def _hands(device: Device, move: Proposal, stores: set[str], on_the_way: set[str]) -> set[str]:
    """Parts that hands, or a probe with power off, come near in the work itself."""
    near = set(on_the_way)
    on: set[str] = set()
    named: Iterable[str] = ()
    if move.test is not None and move.test.power == "off":
        sensed, named = move.test.senses, move.test.hazards
        if isinstance(sensed, PartModes):
            on = {sensed.part}
        elif isinstance(sensed, AnyMode):
            on = {part for part, _ in sensed.modes}
        elif isinstance(sensed, RailToGround):
            near |= {part.id for part in device.parts.values() if sensed.function in part.on}
    elif move.kind == "dry":  # the whole unit is washed
        near |= set(device.parts)
    elif move.test is None and move.kind not in HANDS_OFF and move.target in device.parts:
        on, named = {move.target}, move.remedy.hazards if move.remedy else ()
    for part in on:
        assemblies: set[str] = set()
        above: str | None = part
        while above is not None and above not in assemblies:
            assemblies.add(above)
            above = device.parts[above].parent
        near |= assemblies
    if "stored-charge" in named and not near & stores:
        zones = {device.parts[part].zone for part in on}
        near |= {store for store in stores if device.parts[store].zone in zones} or stores
    return near


def _stores(device: Device) -> set[str]:
    return {part.id for part in device.parts.values() if "stored-charge" in part.hazards}


# ---- the sentences ------------------------------------------------------------------------------------------------


def _supply(device: Device, known: _Facts, move: Proposal, stand_ins: Container[str] | None) -> bool:
    if _power(move) != "mains":
        return False
    hurt = [part for part in device.parts.values() if "mains" in part.hazards and known.seen[part.id] & SUPPLY_HURT]
    if any(part.swap and (stand_ins is None or part.id in stand_ins) for part in hurt):
        return True
    behind = " ".join(move.precautions)
    return bool(hurt) and not ("isolating transformer" in behind and "current limit" in behind)


def _cell(device: Device, known: _Facts, told: Replay, move: Proposal) -> bool:
    hurt = {
        part.id
        for part in device.parts.values()
        if "cell" in part.hazards and known.seen[part.id] & CELL_HURT and part.id not in told.state.removed
    }
    if not hurt or (move.kind in ("take-out", "replace") and move.target in hurt):
        return False
    if move.kind == "discharge":  # nothing else than a charge that lies on the way to the cell
        behind = [one for cell in hurt if (one := device.parts[cell].behind)]
        opened = told.state.open_steps
        ways = {step for one in behind for step in (*device.path_to[one], *device.way_in(opened, one))}
        by_the_way = {one for step in ways for one in (*device.steps[step].unplugs, *device.steps[step].removes)}
        return move.target not in by_the_way | {device.parts[cell].parent for cell in hurt}
    return True


def _laser(device: Device, known: _Facts, told: Replay, move: Proposal) -> bool:
    lasers = [part for part in device.parts.values() if "laser" in part.hazards and part.id not in told.state.removed]
    if not lasers or _power(move) == "off":
        return False
    covers = {part for step in device.steps.values() for part in step.removes}
    off = covers & told.state.removed or any(known.seen[part] & UNCOVERED for part in covers)
    return bool((told.state.open_steps | set(move.opens)) - set(move.closes) or off)


def _short(device: Device, known: _Facts, move: Proposal) -> bool:
    test = move.test
    if test is None or test.power == "off":
        return False
    rail = device.functions.get(test.feeds or "")
    if rail is not None and not (test.power == "bench" and rail.nominal and _limited(move, rail.nominal.nominal)):
        return True
    return bool(known.shorted) and test.feeds not in known.shorted and test.feeds not in device.parts


def _limited(move: Proposal, nominal: float) -> bool:
    """Whether a voltage at or below the nominal and a limit of the current are stated with a move."""
    behind = " ".join(move.precautions)
    volts = [_number(text, "V") for text in re.findall(r"\d[\d.]* [mk]?V\b", behind)]
    amperes = [_number(text, "A") for text in re.findall(r"\d[\d.]* m?A\b", behind)]
    return bool(volts and amperes) and max(volts) <= nominal and max(amperes) <= MOST_AMPERES
