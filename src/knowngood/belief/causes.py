"""Why parts of a bought unit fail together: a hidden severity of each past event in each zone, and faults that harm.

All of it is about the unit as it was bought. A fall is hard or mild for everything in the corner it struck, so a part
found hurt there raises its neighbours. A rail that was driven too high has hurt what hangs on it, and a short has blown
the fuse that feeds it; both stay so when the cause is gone. What a rail has hurt is asked once the log holds a reading
above its limits: before that it is part of everybody's base odds, and a hidden variable for each rail, shared by all
that hangs on it, would make the tables of every log ten times as large.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Generator, Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from graphlib import TopologicalSorter
from itertools import product

import numpy as np
from numpy.typing import NDArray

from knowngood.belief import priors
from knowngood.maps.device import ByContent, Device, Part, by_content

HARD = 0.3
"""Chance that an event was hard on a zone (common practice, no source)."""

SEVERITIES = (4.0 / 7.0, 2.0)
"""What a mild and a hard event make of the odds by its multiplier, one on average (common practice, no source)."""

TOO_HIGH, SHORTED = "high", "short"

STRUCK = 4.0
"""How severe an event was shows on parts whose odds it makes at least so many times as high; others tell too little for
what one more variable costs in every table (our choice)."""

HARMED = {TOO_HIGH: 10.0, SHORTED: 50.0}
"""By what the odds rise of parts on a rail that was driven too high (the trade says 5 to 20), and of a fuse to blow
that feeds a short (common practice, no source). A part's base odds are those of all units, harmed or not."""


@dataclass(frozen=True)
class Link:
    """One hidden variable: its chances given its parents, shape (states of each parent..., own states)."""

    name: str
    table: NDArray[np.float64]
    parents: tuple[str, ...] = ()
    part: str | None = None
    """The part whose state it is; None for what is behind several parts, and for what a part shows for a while."""
    seq: int | None = None
    """The line that brought it; None as bought."""


def first(part: str) -> str:
    """Name of the variable of the part that was bought."""
    return f"{part}#0"


def bought(device: Device, past: Iterable[str], over: Iterable[str] = ()) -> tuple[Link, ...]:
    """The variables of a bought unit, each after its parents. ``over`` are rails that read above their limits."""
    return _bought(by_content(device), tuple(dict.fromkeys(past)), frozenset(over))


@lru_cache(maxsize=256)
def _bought(key: ByContent, events: tuple[str, ...], over: frozenset[str]) -> tuple[Link, ...]:
    return tuple(_links_of(key.device, events, over))


def _links_of(device: Device, events: tuple[str, ...], over: frozenset[str]) -> Iterator[Link]:
    severities = _severities(device, events)
    for event, zone in dict.fromkeys(one for each in severities.values() for one in each):
        yield Link(_severity(event, zone), np.array([1.0 - HARD, HARD]))
    harms = _harms(device, over)
    sources = {part: {cause for cause, _ in causes} for part, causes in _by_part(harms).items()}
    for name in TopologicalSorter({part: sources.get(part, set()) for part in device.parts}).static_order():
        part = device.parts[name]
        hits, chances = [], {}
        for how in HARMED:
            harm = harms.get((name, how), ())
            hit = yield from _hit(device, name, how, harm)
            if hit:
                hits.append((how, hit))
                chances[how] = _chance(device, events, harm)
        local = severities[name]
        parents = (*(_severity(*one) for one in local), *(hit for _, hit in hits))
        shape = (2,) * len(parents)
        table = np.empty((*shape, len(part.states)))
        for index in product(*(range(2) for _ in parents)):
            hard = {event: SEVERITIES[state] for (event, _), state in zip(local, index, strict=False)}
            harmed = {how: bool(state) for (how, _), state in zip(hits, index[len(local) :], strict=True)}
            table[index] = priors.bought(part, events, hard, _harm(part, harmed, chances))
        yield Link(first(name), table, parents, name)


def _severity(event: str, zone: str) -> str:
    return f"{event}@{zone}"


def _severities(device: Device, events: tuple[str, ...]) -> dict[str, list[tuple[str, str]]]:
    """For each part the events that struck it and another part of its zone."""
    struck: defaultdict[tuple[str, str], list[str]] = defaultdict(list)
    for part in device.parts.values():
        for event in events:
            if part.zone is not None and part.times(event) >= STRUCK:
                struck[event, part.zone].append(part.id)
    found: dict[str, list[tuple[str, str]]] = {part: [] for part in device.parts}
    for where, hurt in struck.items():
        for name in hurt if len(hurt) > 1 else ():
            found[name].append(where)
    return found


Harms = dict[tuple[str, str], tuple[tuple[str, frozenset[str]], ...]]
"""For each harmed part and how: the parts that do it, and the modes in which they do."""


def _harms(device: Device, over: frozenset[str]) -> Harms:
    """Who harms whom. A ring of parts that harm each other is cut at its last link, in the order of the map."""
    before: dict[str, set[str]] = {part: set() for part in device.parts}
    """For each part all that may have harmed it, over any number of links."""
    harms: defaultdict[tuple[str, str], dict[str, frozenset[str]]] = defaultdict(dict)
    for cause, modes, victim, how in _harmful(device, over):
        if victim == cause or victim in before[cause]:
            continue
        harms[victim, how][cause] = modes
        reached = before[cause] | {cause}
        for part, known in before.items():
            if part == victim or victim in known:
                known |= reached
    return {key: tuple(causes.items()) for key, causes in harms.items()}


def _harmful(device: Device, over: frozenset[str]) -> Iterator[tuple[str, frozenset[str], str, str]]:
    for rail, function in device.functions.items():
        loads = [device.parts[load] for load in device.loads_of[rail]]
        feeds = [device.parts[need] for need in function.needs if need in device.parts]
        for feed in feeds:
            drives = frozenset(mode.name for mode in feed.modes if mode.high)
            for load in loads if drives and rail in over else ():
                yield feed.id, drives, load.id, TOO_HIGH
        for feed in feeds:
            # Behind a second converter a short is limited, and no fuse before the first one blows.
            converters = sum(any(mode.high for mode in one.modes) for one in feeds)
            for load in loads if converters <= 1 and any(mode.blows for mode in feed.modes) else ():
                shorts = frozenset(mode.name for mode in load.modes if mode.takes == "short")
                if shorts:
                    yield load.id, shorts, feed.id, SHORTED


def _by_part(harms: Harms) -> dict[str, list[tuple[str, frozenset[str]]]]:
    found: defaultdict[str, list[tuple[str, frozenset[str]]]] = defaultdict(list)
    for (part, _), causes in harms.items():
        found[part] += causes
    return found


def _hit(
    device: Device, victim: str, how: str, causes: Iterable[tuple[str, frozenset[str]]]
) -> Generator[Link, None, str | None]:
    """Whether any of its causes harmed a part, one variable more for each of them; returns the last one's name."""
    name: str | None = None
    for cause, modes in causes:
        does = np.array([float(state in modes) for state in device.parts[cause].states])
        link = f"{how}>{victim}<{cause}"
        if name is None:
            yield Link(link, np.stack([1.0 - does, does], axis=-1), (first(cause),))
        else:
            either = np.maximum.outer(np.array([0.0, 1.0]), does)
            yield Link(link, np.stack([1.0 - either, either], axis=-1), (name, first(cause)))
        name = link
    return name


def _chance(device: Device, events: Iterable[str], causes: Iterable[tuple[str, frozenset[str]]]) -> float:
    """How probable it is that any of the causes is there, by their own odds."""
    none = 1.0
    for cause, modes in causes:
        part = device.parts[cause]
        chances = priors.bought(part, events)
        none *= 1.0 - sum(chances[part.states.index(mode)] for mode in modes)
    return 1.0 - none


def _harm(part: Part, harmed: Mapping[str, bool], chances: Mapping[str, float]) -> NDArray[np.float64]:
    """What being harmed or not makes of the odds of each mode, one on average: too much voltage of any that is not a
    matter of the hand, a short of those in which a fuse is blown."""
    factors = np.ones(len(part.modes))
    for how, state in harmed.items():
        factor = (HARMED[how] if state else 1.0) / (1.0 + chances[how] * (HARMED[how] - 1.0))
        for index, mode in enumerate(part.modes):
            if mode.blows if how == SHORTED else not mode.by_hand:
                factors[index] *= factor
    return factors
