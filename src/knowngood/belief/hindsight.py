"""What later lines settled of a unit's parts, so that what was believed of them before can be held against it.

The truth is taken from what a person saw or brought about, never from the belief itself.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from knowngood.belief.reach import below
from knowngood.log import events as ev
from knowngood.log.state import Replay
from knowngood.maps.device import Device, Part
from knowngood.maps.words import FINE

SURE = 0.02
"""A look settles a part if it is at most so likely in every state of the other sort (own judgement)."""

HANDS_ON = (ev.Opened, ev.Unplugged, ev.Removed, ev.Harvested, ev.Fitted, ev.Mended, ev.Began, ev.Dried)
"""Lines before the first of which only looks, questions and tests from outside were made."""


@dataclass(frozen=True)
class Settled:
    """One part of a unit, as it was bought, and what was found out about it in the end."""

    part: str
    faulty: bool
    how: Literal["look", "cured", "shown"]
    """Seen; the only act between a test that failed and the same one that worked; never touched in a unit of which all
    that is promised was shown to work."""
    before: int
    """The line before which it was still open."""


def first_hands_on(told: Replay) -> int:
    """The first line by which hands went into the unit, or by which it left; one past the last if there is none."""
    ends = (*HANDS_ON, ev.Sold, ev.Parted, ev.Scrapped)
    return next((line.seq for line in told.lines if isinstance(line.event, ends)), told.seq + 1)


def settled(device: Device, told: Replay) -> list[Settled]:
    """Each part that was settled, once: by a look, else by a cure, else by the proof."""
    found: dict[str, Settled] = {}
    for one in (*_seen(device, told), *_cured(told), *_shown(device, told)):
        found.setdefault(one.part, one)
    return list(found.values())


def _seen(device: Device, told: Replay) -> Iterator[Settled]:
    worked_on: set[str] = set()
    for line in told.lines:
        match line.event:
            case ev.Saw(part=part, condition=condition, look=look) if part not in worked_on:
                faulty = _tells(device.parts[part], condition)
                if faulty is not None and (faulty or look in ("close", "magnified")):
                    yield Settled(part, faulty, "look", line.seq)
            case ev.Mended(part=part) | ev.Fitted(part=part):
                worked_on.add(part)
            case _:
                pass


def _tells(part: Part, condition: str) -> bool | None:
    """Whether a condition is seen only on a faulty part (True), only on a good one (False), or on either."""
    bad = [dict(mode.looks) for mode in part.modes]
    if condition == FINE:
        unseen = max((1.0 - sum(looks.values()) for looks in bad), default=1.0)
        return False if unseen <= SURE else None
    likely = max((looks.get(condition, 0.0) for looks in bad), default=0.0)
    return True if likely > SURE >= dict(part.looks).get(condition, 0.0) else None


def _cured(told: Replay) -> Iterator[Settled]:
    worked_on: set[str] = set()
    failing: dict[str, list[Settled | None]] = {}
    """By test that failed last: what each act since would have cured; None for one on a part worked on before."""
    for line in told.lines:
        match line.event:
            case ev.Tried(test=test, outcome="works"):
                acts = failing.pop(test, [])
                if len(acts) == 1 and acts[0]:
                    yield acts[0]
            case ev.Tried(test=test):
                failing[test] = []
            case ev.Mended(part=part) | ev.Fitted(part=part):
                back = isinstance(line.event, ev.Fitted) and line.event.origin == ev.BACK
                cure = None if back or part in worked_on else Settled(part, True, "cured", line.seq)
                for acts in failing.values():
                    acts.append(cure)
                worked_on.add(part)
            case _:
                pass


def _shown(device: Device, told: Replay) -> Iterator[Settled]:
    """Parts that the promised functions of a unit sold as working rest on, with nothing done to them."""
    sale = next((index for index, line in enumerate(told.lines) if _as_working(line.event)), None)
    if sale is None:
        return
    state = told.before[sale]
    promised = [name for name in device.wanted if name not in state.declared]
    if not set(promised) <= state.proven:
        return
    worked_on = {getattr(line.event, "part", "") for line in told.lines if isinstance(line.event, HANDS_ON)}
    trying = (line.seq for line in told.lines if isinstance(line.event, (ev.Tried, *HANDS_ON)))
    before = min(trying, default=told.lines[sale].seq)
    for part in dict.fromkeys(part for function in promised for part in below(device, function)[0]):
        if part not in worked_on and part not in state.touched:
            yield Settled(part, False, "shown", before)


def _as_working(event: ev.Event) -> bool:
    return isinstance(event, ev.Sold) and event.how == "working"
