"""The way in: which access steps must be open for others, one of each any-of group where there is a choice.

A choice is made by the steps that break, unglue or unseal something (as few as can be), then by the minutes of opening
and closing again, then by when the last step is open. Exact: every choice is followed until it costs more than the best
found. Steps with choices are an AND/OR graph (H. de Mello, Sanderson, AAAI 1986).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence, Set
from math import fsum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from knowngood.maps.device import Step

Cost = tuple[int, float, float]
"""Steps that break, unglue or unseal something; minutes to open and to close again; minutes until all is open."""


def way_in(steps: Mapping[str, Step], opened: Set[str], targets: Iterable[str]) -> tuple[str, ...]:
    """The steps to open so that the targets are open, at the least cost, in an order that ends soonest."""
    waiting = [_with_needed(steps, opened, targets)]
    seen: set[frozenset[str]] = set()
    best: tuple[Cost, tuple[str, ...]] | None = None
    while waiting:
        chosen = waiting.pop()
        if chosen in seen:
            continue
        seen.add(chosen)
        sure = _sure(steps, chosen)
        if best is not None and sure > best[0][:2]:
            continue
        groups = _unmet(steps, opened | chosen, chosen)
        group = next(groups, None)
        if group is None:
            order = in_order(steps, opened, chosen)
            found = ((*sure, elapsed(steps, order)), order)
            best = found if best is None else min(best, found)
        else:
            waiting += [_with_needed(steps, opened, chosen | {member}) for member in group]
    assert best is not None  # a checked map has no circles, so every choice leads to an end
    return best[1]


def cost(steps: Mapping[str, Step], order: Sequence[str]) -> Cost:
    """What steps cost that are opened in this order."""
    return (*_sure(steps, order), elapsed(steps, order))


def _sure(steps: Mapping[str, Step], chosen: Iterable[str]) -> tuple[int, float]:
    ones = [steps[one] for one in chosen]
    minutes = fsum(each for one in ones for each in (one.open_minutes, one.close_minutes))
    return sum(one.holds is not None for one in ones), minutes


def elapsed(steps: Mapping[str, Step], order: Iterable[str]) -> float:
    """Minutes until all is open, in this order; what must cool does so from the start."""
    now = 0.0
    for one in order:
        now = max(now, steps[one].wait) + steps[one].open_minutes
    return now


def in_order(steps: Mapping[str, Step], opened: Set[str], chosen: Iterable[str]) -> tuple[str, ...]:
    """Steps in an order in which each can be opened and the last is open soonest.

    Hands that never wait while there is something to open end soonest, whatever they take first; so of what can be
    opened now, what the driver in hand turns comes first, then what comes first on the map.
    """
    left = sorted(chosen, key=list(steps).index) if len(set(chosen)) > 1 else list(chosen)
    order: list[str] = []
    now, driver = 0.0, ""
    while left:
        here = {*opened, *order}
        can = [one for one in left if reached(steps[one], here)]
        now = max(now, min(steps[one].wait for one in can))
        ready = [one for one in can if steps[one].wait <= now]
        first = next((one for one in ready if any(each.driver == driver for each in steps[one].fasteners)), ready[0])
        now += steps[first].open_minutes
        driver = steps[first].fasteners[-1].driver if steps[first].fasteners else driver
        order.append(first)
        left.remove(first)
    return tuple(order)


def reached(step: Step, opened: Set[str]) -> bool:
    """Whether a step can be opened, or closed, while these are open."""
    return opened >= set(step.after) and all(not opened.isdisjoint(group) for group in step.any_of)


def _with_needed(steps: Mapping[str, Step], opened: Set[str], targets: Iterable[str]) -> frozenset[str]:
    """The targets that are closed and all that comes before them without a choice."""
    found: set[str] = set()
    waiting = list(targets)
    while waiting:
        one = waiting.pop()
        if one not in found and one not in opened:
            found.add(one)
            waiting += steps[one].after
    return frozenset(found)


def _unmet(steps: Mapping[str, Step], there: Set[str], chosen: Iterable[str]) -> Iterator[tuple[str, ...]]:
    """Any-of groups of the chosen steps of which none is there, in the order of the map's names."""
    return (group for one in sorted(chosen) for group in steps[one].any_of if there.isdisjoint(group))
