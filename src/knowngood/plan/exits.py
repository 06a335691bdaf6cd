"""The ways out and what each is worth: sold working (only when all is shown to work), as it is, or parted out."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from knowngood.belief.believe import Belief
from knowngood.handbook.quantities import percent
from knowngood.log.state import State
from knowngood.maps.device import Device
from knowngood.plan.access import closing_minutes
from knowngood.plan.hazards import Act, breaches, hands_near
from knowngood.plan.moves import Move
from knowngood.plan.ranked import Ranked
from knowngood.plan.terms import Terms

AS_LIKELY_AS_NOT = 0.5
"""From this chance on what the map does not know is the best explanation."""


def exits(device: Device, state: State, terms: Terms, belief: Belief) -> list[Ranked]:
    """The ways out with their worth: sold working (only when all is shown to work), sold as it is, parted out."""
    ways = _as_it_stands(device, state, terms)
    stop = max(worth for _, worth, _, _ in ways)
    if not unproven(belief, state) and not state.open_steps:
        good, work = belief.known_good, terms.list_minutes
        worth = good * terms.working - (1 - good) * terms.come_back - work * terms.rate
        spread = float(np.sqrt(good * (1 - good))) * (terms.working + terms.come_back)
        do = f"Sell it as working: every promised function has been shown ({percent(good)} known good)"
        log = f"sold working for {state.prices.get('working', device.worth.working)}"
        selling = Move("sell", "", do, work, 0.0, Act(ends=True, ships=True), log=log)
        if not breaches(device, state, selling.act):
            ways.append((selling, worth, spread, good))
    said = f"{terms.currency}; the best way out as it is, {stop:.0f}.{_beyond_the_map(belief)}"
    return [
        Ranked(move, move.cost(terms), worth, f"Brings about {worth:.0f} {said}", spread=spread, finishes=good)
        for move, worth, spread, good in ways
    ]


def _beyond_the_map(belief: Belief) -> str:
    """What is to be said where something that the map does not know is as likely as not: it names the functions."""
    chance = 1.0 - belief.no_unknown
    if chance < AS_LIKELY_AS_NOT:
        return ""
    where = sorted(belief.unknown, key=lambda name: -belief.unknown[name])
    names = [belief.device.functions[name].what for name in where if belief.unknown[name] >= AS_LIKELY_AS_NOT / 4]
    within = f", most likely in: {', '.join(names[:3])}" if names else ""
    return f" Something that this map does not know is {percent(chance)} likely{within}: hand it on, or grow the map."


def _as_it_stands(device: Device, state: State, terms: Terms) -> list[tuple[Move, float, float, float]]:
    """Sold as it is, closed first, or parted out: move, worth, spread, chance that it is a unit that works."""
    close, work = closing_minutes(device, state), terms.list_minutes
    whole = Act(near=hands_near(device, (), (), (), state.open_steps), ends=True, ships=True)
    apart = breaches(device, state, replace(whole, touches=frozenset(device.parts)))
    as_is = Move(
        "sell-as-is",
        "",
        "Sell it as it is, with what was found",
        work,
        0.0,
        whole,
        closes=tuple(sorted(state.open_steps)),
        log=f"sold as-is for {state.prices.get('as-is', device.worth.as_is)}",
    )
    parted = Move(
        "part-out",
        "",
        "Stop: part it out",
        0.0,
        0.0,
        Act(ends=True),
        log=f"parted worth {state.prices.get('parts', device.worth.parts)}",
        cautions=tuple(dict.fromkeys(device.hazards[one.hazard].caution for one in apart)),
    )
    ways = [(as_is, terms.as_is - (close + work) * terms.rate, 0.0, 0.0), (parted, terms.parts, 0.0, 0.0)]
    return [way for way in ways if not breaches(device, state, way[0].act)]


def unproven(belief: Belief, state: State) -> tuple[str, ...]:
    """Promised functions that have not been shown to work since the last act on the unit."""
    return tuple(name for name in belief.wanted if name not in state.proven)
