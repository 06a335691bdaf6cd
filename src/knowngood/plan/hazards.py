"""Hard rules and cautions. What a rule forbids is never proposed, whatever it would be worth."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from knowngood.log.state import State
from knowngood.maps.device import Device, HazardRule

GLOBAL = ("wet", "short")
"""Hazards of the whole unit: their rules hold whether or not a part carries them."""


@dataclass(frozen=True)
class Act:
    """What a move does to the unit, as far as rules care."""

    power: str = "off"
    touches: frozenset[str] = frozenset()
    closed: bool = False
    takes_out: str | None = None
    """The part that the move removes or replaces."""
    ends: bool = False
    """The unit leaves the bench: no rule of the bench stands in the way."""


@dataclass(frozen=True)
class Breach:
    """A rule that a move would break, on which part (None: the whole unit), and what would lift it."""

    hazard: str
    rule: HazardRule
    part: str | None

    def __str__(self) -> str:
        return self.rule.why


def breaches(device: Device, state: State, act: Act) -> list[Breach]:
    """Every hard rule that an act would break in this state; empty if it may be done."""
    if act.ends:
        return []
    carried: list[tuple[str, str | None]] = [(name, None) for name in GLOBAL if name in device.hazards]
    carried += [(name, part.id) for part in device.parts.values() for name in part.hazards if name not in GLOBAL]
    return [
        Breach(name, rule, part)
        for name, part in carried
        for rule in device.hazards[name].rules
        if _holds(state, act, rule, part) and not _lifted(state, act, rule, part)
    ]


def _holds(state: State, act: Act, rule: HazardRule, part: str | None) -> bool:
    if rule.if_seen and not (part and set(rule.if_seen) & set(state.seen.get(part, ()))):
        return False
    if rule.if_past and not set(rule.if_past) & set(state.past):
        return False
    if rule.if_power and act.power not in rule.if_power:
        return False
    if rule.if_touched and part not in act.touches:
        return False
    if rule.if_short and not state.shorted:
        return False
    if rule.forbids == "everything else":
        return act.takes_out != part
    return True


def _lifted(state: State, act: Act, rule: HazardRule, part: str | None) -> bool:
    facts = {
        # What was seen is seen on the part that sits there now, wherever that one came from.
        "replaced": part in state.origin and not rule.if_seen,
        "removed": part in state.removed,
        "discharged": part in state.discharged,
        "dried": state.dried,
        "closed": act.closed or (not state.open_steps and not act.touches),
    }
    return any(facts[fact] for fact in rule.unless)


def cautions(device: Device, state: State, act: Act, own: Iterable[str]) -> tuple[str, ...]:
    """Caution texts that an act calls for: its own, those of what it touches, and of live power with parts open."""
    named = list(own)
    for part in sorted(act.touches):
        named += device.parts[part].hazards
    if act.power != "off" and state.open_steps:
        named += [
            name for part in device.parts.values() for name in part.hazards if name in ("mains", "moving", "laser")
        ]
    if act.power != "off" or act.touches:
        named += [name for name in GLOBAL if _is_true(state, name)]
    live = {"mains"} if act.power == "mains" else set()
    wanted = [name for name in dict.fromkeys(named) if name != "mains" or live or act.touches]
    return tuple(device.hazards[name].caution for name in wanted if name in device.hazards)


def _is_true(state: State, name: str) -> bool:
    return bool(state.shorted) if name == "short" else "wet" in state.past and not state.dried
