"""Hard rules and cautions. What a rule forbids is never proposed, whatever it would be worth."""

from __future__ import annotations

import math
from collections.abc import Iterable, Set
from dataclasses import dataclass
from functools import lru_cache

from knowngood.handbook.charge import discharge_time
from knowngood.handbook.quantities import Expected, format_minutes, format_quantity
from knowngood.log.state import State
from knowngood.maps.device import Charge, Device, HazardRule

EVERYTHING = "everything else"
"""What a rule forbids that only lets its own part go out."""

UNCOVERED = frozenset({"missing", "broken-off"})
"""Conditions of a cover that leave open what it should cover."""

TOLERANCE = 0.1
"""Limits up to this far below the nominal are a tolerance round one voltage; further apart, a range of voltages."""

SHOWN_DIGITS = 4
"""Digits that a quantity is shown with."""

StandIns = frozenset[str] | None
"""Parts in whose place the bench can put another; None: every part that its kind has another for."""


@dataclass(frozen=True)
class Act:
    """What a move does to the unit, as far as rules care."""

    power: str = "off"
    feeds: str | None = None
    """The one rail or part that alone gets the power; None: the unit."""
    touches: frozenset[str] = frozenset()
    near: frozenset[str] = frozenset()
    """Further parts that hands or probes come near: see ``hands_near``."""
    takes_out: str | None = None
    """The part that the move removes or replaces."""
    discharges: str | None = None
    """The part whose charge the move lets off and measures."""
    ends: bool = False
    """The unit leaves the bench: no rule of the bench stands in the way."""
    ships: bool = False
    """It leaves whole, for somebody else to carry and keep."""
    stated: frozenset[str] = frozenset()
    """Rules whose precaution is shown with the move."""


@dataclass(frozen=True)
class Breach:
    """A rule that a move would break, on which part (None: the whole unit), and what would lift it."""

    hazard: str
    rule: HazardRule
    part: str | None
    wait: str = ""
    """How long a charge takes to be gone, where the map says what the part stores."""

    def __str__(self) -> str:
        return f"{self.rule.why} {self.wait}".strip()


def breaches(device: Device, state: State, act: Act, stand_ins: StandIns = None) -> list[Breach]:
    """Every hard rule that an act would break in this state (the way to it open); empty if it may be done."""
    if act.ends and not act.ships:
        return []
    standing = _standing(device, state, act)
    first_out = {one.part for one in standing if one.rule.forbids == EVERYTHING and one.part}
    return [
        one
        for one in standing
        if not (one.rule.forbids == EVERYTHING and _on_the_way_out(device, state, act, first_out))
        and not (one.rule.id in act.stated and _suffices(device, state, act, one, stand_ins))
    ]


def precautions(device: Device, state: State, act: Act, stand_ins: StandIns = None) -> dict[str, str]:
    """For each rule whose precaution lets the act be done all the same: that precaution, in words."""
    found: dict[str, str] = {}
    for one in _standing(device, state, act):
        if _suffices(device, state, act, one, stand_ins):
            found[one.rule.id] = _in_words(device, act, one.rule)
    if act.feeds in device.functions:  # the limits stand with an injection whether or not a short is known
        rules = (rule for hazard in device.hazards.values() for rule in hazard.rules)
        found |= {
            one.id: _in_words(device, act, one) for one in rules if one.precaution and one.precaution.when == "injected"
        }
    return found


def hands_near(
    device: Device, handled: Iterable[str], own: Iterable[str], opens: Iterable[str], closes: Iterable[str]
) -> frozenset[str]:
    """Parts that hands come near: the assemblies of what is handled, what the steps opened and closed unplug and
    remove, and, where the work itself names a hazard of touch, what carries it in the same place (else anywhere)."""
    near = {one for step in (*opens, *closes) for one in (*device.steps[step].unplugs, *device.steps[step].removes)}
    handled = tuple(handled)
    for part in handled:
        near |= set(device.within(part)[1:])
    for name in own:
        if not any(rule.if_touched for rule in device.hazards[name].rules):
            continue
        carriers = {part.id for part in device.parts.values() if name in part.hazards}
        zones = {device.parts[part].zone for part in handled}
        if not carriers & (near | set(handled)):
            near |= {one for one in carriers if device.parts[one].zone in zones} or carriers
    return frozenset(near)


def _standing(device: Device, state: State, act: Act) -> list[Breach]:
    """Rules that hold for an act and that no fact lifts, precautions not looked at."""
    return [
        Breach(name, rule, part, (_wait(device, name, part) if part else ""))
        for name, rule, part in device.hard_rules
        if _holds(state, act, rule, part) and not _lifted(device, state, act, rule, part)
    ]


def _holds(state: State, act: Act, rule: HazardRule, part: str | None) -> bool:
    if rule.if_seen and not (part and set(rule.if_seen) & set(state.seen.get(part, ()))):
        return False
    if rule.if_wet and not state.wet:
        return False
    if rule.if_power and act.power not in rule.if_power:
        return False
    if rule.if_touched and part not in act.touches | act.near:
        return False
    return not (rule.if_short and not state.shorted)


def _lifted(device: Device, state: State, act: Act, rule: HazardRule, part: str | None) -> bool:
    facts = {
        # What was seen is seen on the part that sits there now, wherever that one came from.
        "replaced": part in state.origin and not rule.if_seen,
        "removed": part in state.removed,
        "discharged": part in state.discharged,
        "dried": not state.wet,
        "covered": not state.open_steps and _covers_on(device, state),
        "apart": act.feeds in device.parts,
        "unplugged": part is not None and (act.takes_out == part or off_its_plugs(device, state, part)),
    }
    return any(facts[fact] for fact in rule.unless)


def off_its_plugs(device: Device, state: State, part: str) -> bool:
    """Whether a part hangs on plugs and all of them are apart: unplugged, or taken apart by a step that is open."""
    plugs = device.plugs_of[part]
    return bool(plugs) and set(plugs) <= state.apart


def _covers_on(device: Device, state: State) -> bool:
    """Whether all that the access steps take off is on and whole."""
    covers = {part for step in device.steps.values() for part in step.removes}
    return not covers & state.removed and not any(UNCOVERED & set(state.seen.get(part, ())) for part in covers)


def _on_the_way_out(device: Device, state: State, act: Act, first_out: Set[str]) -> bool:
    """Whether an act takes out one of these parts, or lets off a charge that opening the way to one comes near."""
    if act.takes_out in first_out:
        return True
    behind = [one for part in first_out if (one := device.parts[part].behind)]
    ways = {step for one in behind for step in (*device.path_to[one], *device.way_in(state.open_steps, one))}
    return act.discharges is not None and act.discharges in hands_near(device, first_out, (), ways, ())


def _suffices(device: Device, state: State, act: Act, breach: Breach, stand_ins: StandIns) -> bool:
    """Whether the precaution of a rule is enough for the act."""
    if breach.rule.precaution is None:
        return False
    if breach.rule.precaution.when == "injected":
        return act.power == "bench" and act.feeds in state.shorted
    if breach.part is None or device.parts[breach.part].swap is None:
        return breach.part is not None
    return stand_ins is not None and breach.part not in stand_ins


def _in_words(device: Device, act: Act, rule: HazardRule) -> str:
    assert rule.precaution is not None
    rail = device.functions.get(act.feeds or "")
    volts = at_most(rail.nominal) if rail and rail.nominal else ""
    return rule.precaution.do.replace("{rail}", rail.what if rail else "").replace("{volts}", volts)


def at_most(rail: Expected) -> str:
    """The voltage that a rail may be fed: its nominal, or the low end where the map gives a range; never rounded up."""
    one = rail.low >= (1.0 - TOLERANCE) * rail.nominal
    most = rail.nominal if one else rail.low
    digits = 10.0 ** (SHOWN_DIGITS - 1 - math.floor(math.log10(most)))
    return format_quantity(math.floor(most * digits * (1.0 + 1e-12)) / digits, rail.unit)


def cautions(device: Device, state: State, act: Act, own: Iterable[str]) -> tuple[str, ...]:
    """Caution texts that an act calls for: its own, those of what it touches, and of live power with parts open."""
    named = list(own)
    for part in sorted(act.touches):
        named += device.parts[part].hazards
    if act.power != "off" and state.open_steps:
        named += [
            name for part in device.parts.values() for name in part.hazards if name in ("mains", "moving", "laser")
        ]
    if act.power != "off" and act.feeds is None and not state.powered:
        named.append("first-power")
    if act.power != "off" or act.touches:
        named += [name for name, so in (("wet", state.wet), ("short", bool(state.shorted))) if so]
    live = {"mains"} if act.power == "mains" else set()
    wanted = [name for name in dict.fromkeys(named) if name != "mains" or live or act.touches]
    near = {act.discharges} | ((act.touches | act.near) - state.discharged - state.removed)
    charged = [part for part in device.charged if part in near]
    return tuple(
        " ".join(
            filter(
                None,
                (
                    device.hazards[name].caution,
                    *(_wait(device, name, part) for part in charged),
                ),
            )
        )
        for name in wanted
        if name in device.hazards
    )


def _wait(device: Device, hazard: str, part: str) -> str:
    """How long the charge of a part takes to be gone by the figures of the map, and that it must be measured; "" where
    the map gives none."""
    carrier, about = device.parts[part], device.hazards[hazard]
    if carrier.charge is None or about.safe_below is None or hazard not in carrier.hazards:
        return ""
    falls = _falls(carrier.charge, about.safe_below, about.discharge_through)
    return f"{carrier.what}, {falls}" if falls else ""


@lru_cache(maxsize=256)
def _falls(charge: Charge, safe: float, through: float | None) -> str:
    held = f"{format_quantity(charge.capacitance, 'F')} at {format_quantity(charge.charged_to, 'V')}"
    ways = [(f"its own bleed of {format_quantity(charge.bleed, 'ohm')}", charge.bleed)] if charge.bleed else []
    ways += [(format_quantity(through, "ohm"), through)] if through else []
    if not ways:
        return ""
    times = ", ".join(
        f"in {_at_least(discharge_time(charge.capacitance, ohms, charge.charged_to, safe))} through {way}"
        for way, ohms in ways
    )
    own = "a bleed resistor may have failed" if charge.bleed else "nothing drains it by itself"
    return f"{held}, falls below {format_quantity(safe, 'V')} {times}. Measure it: {own}."


def _at_least(seconds: float) -> str:
    """A time to wait, rounded up."""
    return f"{math.ceil(seconds)} s" if seconds <= 90.0 else format_minutes(math.ceil(seconds / 60.0))
