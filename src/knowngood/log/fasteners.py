"""Fasteners out of a unit: what the log counted, the map's figure where it counted none, and what was left over.

Counts hold by sort: of a sort that no line names, the map's figure came out with the step and went in with its closing.
A count without a sort holds for all sorts of its step; then only the sums are compared.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Set
from dataclasses import dataclass, field, replace

from knowngood.log import events as ev
from knowngood.maps.device import Device, Step

ANY_SORT = ""
"""The sort of a count that names none, where the map has several for the step."""

Counts = Mapping[str, int]
"""Number by sort."""


@dataclass(frozen=True)
class Tally:
    """What was counted at one step since it was last closed, and what was left over before."""

    out: Counts = field(default_factory=dict)
    back: Counts = field(default_factory=dict)
    left: Counts = field(default_factory=dict)
    """Out less in at its last closing: below zero if more went in than came out."""
    shut: tuple[int, int] | None = None
    """How many had come out and how many were in at that closing, where something is left over."""


@dataclass(frozen=True)
class Balance:
    """The fasteners of one step that are not where they belong."""

    out: int
    """How many came out."""
    back: int
    """How many went in again."""
    missing: Counts
    """Out less in by sort, never zero; below zero if more went in than came out."""
    by_map: frozenset[str]
    """The sorts of these that no line counted out: the map's figure."""


@dataclass(frozen=True)
class Fasteners:
    """What was counted, by step."""

    at: Mapping[str, Tally] = field(default_factory=dict)

    def after(self, device: Device, open_steps: Set[str], event: ev.Unscrewed | ev.Screwed) -> Fasteners:
        """What is counted after an event that fits."""
        tally = self.at.get(event.step, Tally())
        sort = sort_of(device.steps[event.step], event.sort)
        if isinstance(event, ev.Unscrewed):
            tally = _unscrewed(tally, sort, event.count)
        elif event.step in open_steps or tally.out:
            tally = replace(tally, back=_plus(tally.back, sort, event.count))
        else:
            tally = _tidied(replace(tally, left=_less(tally.left, {sort: event.count})))
        return self._with({event.step: tally})

    def closed(self, device: Device, steps: Iterable[str]) -> Fasteners:
        """What is left over once steps are closed."""
        left = {}
        for step in steps:
            tally = self.at.get(step, Tally())
            still, shut = tally.left, tally.shut
            if tally.back:
                came = _came_out(device.steps[step], tally, opened=True)
                unnamed = {sort: count - still.get(sort, 0) for sort, count in came.items() if sort not in tally.back}
                summed = ANY_SORT in {*came, *tally.back}
                back = tally.back if summed else {**unnamed, **tally.back}
                still, shut = _less(came, back), (sum(came.values()), sum(back.values()))
            left[step] = _tidied(Tally(left=still, shut=shut))
        return self._with(left)

    def misfit(self, device: Device, open_steps: Set[str], event: ev.Unscrewed | ev.Screwed) -> str | None:
        """Why an event does not fit, or None."""
        if event.step not in device.steps:
            return f"There is no access step '{event.step}' on this map."
        if isinstance(event, ev.Screwed) and event.step not in {*self.at, *open_steps}:
            return f"No fastener of '{event.step}' is out: it is closed, and none was left over."
        return None

    def balances(self, device: Device, open_steps: Set[str]) -> dict[str, Balance]:
        """The steps with fasteners that are not where they belong, in the order of the map."""
        found = {}
        for name, step in device.steps.items():
            tally = self.at.get(name, Tally())
            came = _came_out(step, tally, opened=name in open_steps)
            missing = _less(came, tally.back)
            if missing:
                by_map = frozenset(missing) - {ANY_SORT, *tally.out, *tally.left}
                out, back = sum(came.values()), sum(tally.back.values())
                if name not in open_steps and tally.shut:  # what went in since the closing is what is no longer left
                    out, back = tally.shut[0], tally.shut[0] - sum(missing.values())
                found[name] = Balance(out, back, missing, by_map)
        return found

    def _with(self, changed: Mapping[str, Tally]) -> Fasteners:
        at = {**self.at, **changed}
        return Fasteners({step: tally for step, tally in at.items() if tally != Tally()})


def sorts(step: Step) -> dict[str, int]:
    """The map's count of each sort of a step."""
    found: dict[str, int] = {}
    for one in step.fasteners:
        found[one.sort] = found.get(one.sort, 0) + one.count
    return found


def sort_of(step: Step, said: str | None) -> str:
    """The sort of a count: as the line says, else the only one that the map has for the step."""
    only = list(sorts(step))
    return said or (only[0] if len(only) == 1 else ANY_SORT)


def _came_out(step: Step, tally: Tally, *, opened: bool) -> dict[str, int]:
    """What is out of a step and of no other: counted by the log, else by the map if it is open."""
    by_map = opened and ANY_SORT not in tally.out  # what was left over before is among the map's
    others = sorts(step) if by_map else tally.left
    counted = {sort: count + tally.left.get(sort, 0) for sort, count in tally.out.items()}
    return {**{sort: count for sort, count in others.items() if sort not in counted}, **counted}


def _unscrewed(tally: Tally, sort: str, count: int) -> Tally:
    """What went in comes out first, then what was one too many, then what was there from the start."""
    again = min(count, tally.back.get(sort, 0))
    over = min(count - again, max(0, -tally.left.get(sort, 0)))
    if again:
        tally = replace(tally, back=_less(tally.back, {sort: again}))
    if over:
        tally = _tidied(replace(tally, left=_less(tally.left, {sort: -over})))
    rest = count - again - over
    return replace(tally, out=_plus(tally.out, sort, rest)) if rest or not (again or over) else tally


def _tidied(tally: Tally) -> Tally:
    """Nothing is kept of a closing that left nothing over."""
    return tally if tally.left else replace(tally, shut=None)


def _plus(counts: Counts, sort: str, count: int) -> dict[str, int]:
    return {**counts, sort: counts.get(sort, 0) + count}


def _less(out: Counts, back: Counts) -> dict[str, int]:
    """Out less in by sort, or as one sum where a count names no sort; what is even is left out."""
    if ANY_SORT in {*out, *back}:
        left = {ANY_SORT: sum(out.values()) - sum(back.values())}
    else:
        left = {sort: out.get(sort, 0) - back.get(sort, 0) for sort in {**out, **back}}
    return {sort: count for sort, count in left.items() if count}
