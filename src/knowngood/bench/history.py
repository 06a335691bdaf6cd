"""What happened to a part in a unit, in words: the unit's past, and what befell the parts that feed it."""

from __future__ import annotations

from collections.abc import Iterable
from contextlib import suppress
from itertools import count, takewhile

import numpy as np

from knowngood.belief.believe import Belief
from knowngood.bench.donors import Origins
from knowngood.bench.stays import Stay
from knowngood.errors import ContradictionError, TooLargeError
from knowngood.log import events as ev
from knowngood.maps.device import Device
from knowngood.maps.words import HARMLESS

PAST_WORDS = {
    "dropped": "that was dropped",
    "wet": "that got wet",
    "surged": "that had a surge",
    "hot": "that ran hot",
    "aged": "that is old",
    "opened-before": "that somebody had opened before",
}
"""Of a unit with a past: "from a unit that ..."."""

PROBABLE = 0.5
"""Chance above which a fault that nobody saw is told as history, with its chance."""

MOST_TOLD = 3
"""Parts upstream that are told of; more would not be read."""


def history(origins: Origins, stay: Stay) -> str:
    """As "from a unit that was dropped, whose supply was seen burnt (D1 line 3)"; empty if there is nothing to tell.

    Of a unit that it was put in later only what happened since is told.
    """
    part, before = stay.came.part, stay.lines[0][1].over if stay.put_in else frozenset()
    fed_by = upstream(stay.device, part)
    hurt = _hurt(stay, fed_by)
    told = [
        f"whose {rail} once read too high" for rail in stay.device.parts[part].on if rail in stay.state.over - before
    ]
    told += [f"whose {name} was seen {condition} ({stay.unit} line {seq})" for name, (condition, seq) in hurt.items()]
    if not stay.put_in:
        with suppress(ContradictionError, TooLargeError):
            then = origins.belief_when_it_left(stay.came)
            told += _probable(then, [name for name in fed_by if name not in hurt]) if then else []
    more = [f"and {len(told) - MOST_TOLD} more"] if len(told) > MOST_TOLD else []
    past = [] if stay.put_in else [PAST_WORDS[one] for one in origins.told(stay.unit).state.past]
    said = ", ".join([*past, *told[:MOST_TOLD], *more])
    return f"{'by' if stay.put_in else 'from'} a unit {said}" if said else ""


def _hurt(stay: Stay, parts: Iterable[str]) -> dict[str, tuple[str, int]]:
    """By part: the condition that was seen on it last, if it is one that tells, and by which line."""
    among, found = set(parts), {}
    for line, _ in stay.lines:
        match line.event:
            case ev.Saw(part=part, condition=condition) if part in among and condition not in HARMLESS:
                found[part] = (condition, line.seq)
            case _:
                pass
    return found


def _probable(then: Belief, parts: Iterable[str]) -> list[str]:
    """Faults that parts probably had at some time, though nobody saw them."""
    found: list[tuple[float, str]] = []
    known = set(then.posterior.variables)
    for name in parts:
        part = then.device.parts[name]
        own = np.array([False, *(not mode.by_hand for mode in part.modes)])
        times = takewhile(known.__contains__, (f"{name}#{number}" for number in count()))
        worst = max((then.posterior[one][0] * own for one in times), key=np.sum, default=np.zeros(1))
        if (likely := float(worst.sum())) >= PROBABLE:
            mode = part.states[int(worst.argmax())] if worst.max() >= PROBABLE else "faulty"
            likely = float(worst.max()) if worst.max() >= PROBABLE else likely
            found.append((likely, f"whose {name} was probably {mode} ({100.0 * likely:.0f} %)"))
    return [text for _, text in sorted(found, key=lambda one: -one[0])]


def upstream(device: Device, part: str) -> tuple[str, ...]:
    """The parts that feed a part: what its rails need, with those that stand in for one another."""
    found: dict[str, None] = {}
    for rail in device.parts[part].on:
        either = [member for group in device.functions[rail].any_of for member in group]
        found |= dict.fromkeys(name for one in (rail, *either) for name in device.needed(one))
    return tuple(name for name in found if name not in device.within(part))
