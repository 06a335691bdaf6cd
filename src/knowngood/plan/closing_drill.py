"""Planted closing mistakes: whether the reassembly sheet and the list before power have a line that would find them.

A job opens a unit as far as something, takes a few things out or apart, and puts all back. One mistake is made on the
way back, and logged as if it were right. It is caught where a line that can be done then asks for just what is wrong; a
person who checks each line misses some (``CHECKER_MISSES``).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from knowngood.belief.believe import believe
from knowngood.handbook.human_error import REVERSED_PER_TOUCH, UNSEATED_PER_TOUCH
from knowngood.log import events as ev
from knowngood.log.misfit import misfit
from knowngood.log.state import Line, Replay, State, after, replay
from knowngood.maps.device import Device, PartModes
from knowngood.maps.words import REVERSED, SEATED
from knowngood.plan.before_power import BeforePower, before_power
from knowngood.plan.joints import twins, undone
from knowngood.plan.reassembly import Sheet, reassembly
from knowngood.plan.terms import Terms

CHECKER_MISSES = 0.1
"""Chance that a check made with a written list misses the error (THERP, NUREG/CR-1278, Table 20-22 item 1; from
memory)."""

MISSES_AGAIN = (1.0 + 19.0 * CHECKER_MISSES) / 20.0
"""Of a second check by the same person, given that the first missed it (THERP, low dependence)."""

SCREW_FORGOTTEN = 0.003
"""Per screw, without a list (THERP, Table 20-7 item 3: omission per item)."""

WRONG_HOLE = 0.003
"""Per screw that a longer one is out beside, mixed tray (common practice, no source; base CREAM, wrong object)."""

SWAPPED = 0.0005
"""Per connection with a twin (Hollnagel, CREAM 1998: action on wrong object)."""

GENERAL = {"screw left over": "nothing-left", "long screw, wrong hole": "long-screws"}
"""Mistakes that a general line of the list asks for, by that line."""

STAY_IN = ("captive", "clip")
"""Threads of what cannot be left over."""


@dataclass(frozen=True)
class Mistake:
    """One thing done wrong on the way back."""

    kind: str
    target: str
    """The connection, or the step of the screw."""
    rate: float
    """How often a hand does it at this place, by the published figures."""
    other: str = ""
    """The twin that a connection is swapped with; the sort of a screw."""


@dataclass(frozen=True)
class Caught:
    """Whether there was a line that would find a mistake, and if not, why."""

    by_sheet: bool
    by_list: bool
    by_late_list: bool
    """By a list that is asked for only when all is closed."""
    why: str = ""


@dataclass(frozen=True)
class Job:
    """A unit taken apart, and what is asked on its way back."""

    device: Device
    apart: Replay
    sheet: Sheet
    plugged: BeforePower
    """The list when all is plugged and nothing closed."""
    closed: BeforePower
    """What is left of it when all is closed."""
    late: BeforePower
    """The whole list where it is asked for only then."""
    mistakes: tuple[Mistake, ...]
    """All that can be made here."""


def drawn_job(device: Device, terms: Terms, draw: np.random.Generator) -> Job:
    """A job as far as a step that is drawn, with up to two things more taken out or apart behind it."""
    step = str(draw.choice(list(device.steps)))
    events: list[ev.Event] = [
        ev.Discharged(part=part.id, reading="1 V") for part in device.parts.values() if "stored-charge" in part.hazards
    ]
    events.append(ev.Opened(step=step))
    reached = device.path_to[step]
    here = [part for part in device.parts.values() if part.behind in reached and part.parent is None]
    for part in draw.permutation(np.array([one.id for one in here]))[: draw.integers(0, 3)]:
        name = str(part)
        plug = device.parts[name].is_connection
        events.append(ev.Unplugged(connection=name) if plug else ev.Removed(part=name))
    apart = _told(device, events)
    sheet = reassembly(device, apart, terms)
    back = [ev.parse(line.log) for line in sheet.lines if line.kind in ("fit", "plug")]
    screws = [ev.parse(line.log) for line in sheet.lines if line.kind in ("screw", "unscrew")]
    shut: list[ev.Event] = [*screws, ev.Closed(step=ev.ALL)] if apart.state.open_steps else []
    done = _told(device, [*(line.event for line in apart.lines), *back])
    plugged = _list(device, done, terms)
    ticks = [ev.parse(one.log) for one in plugged.lines if one.kind != "cold"]
    ticked = _told(device, [*(line.event for line in done.lines), *ticks, *shut])
    late = _told(device, [*(line.event for line in done.lines), *shut])
    return Job(
        device,
        apart,
        sheet,
        plugged,
        _list(device, ticked, terms),
        _list(device, late, terms),
        tuple(_mistakes(device, apart)),
    )


def _list(device: Device, told: Replay, terms: Terms) -> BeforePower:
    return before_power(device, told, terms, believe(device, told))


def _told(device: Device, events: list[ev.Event]) -> Replay:
    state, lines = State(), list[Line]()
    for event in events:
        if misfit(device, state, event) is None:
            lines.append(Line(len(lines) + 1, "", event))
            state = after(device, state, event, len(lines))
    return replay(device, lines)


def _mistakes(device: Device, apart: Replay) -> Iterator[Mistake]:
    """Every mistake that can be made at one place on the way back."""
    state = apart.state
    made = state.unplugged | state.loose
    made |= {plug for part in state.removed for plug in device.plugs_of[part] if device.parts[plug].is_connection}
    for name in sorted(made):
        part = device.parts[name]
        if any(mode.seating and mode.name != REVERSED for mode in part.modes):
            forgotten = "coax forgotten" if part.kind == "coax" else "plug not in"
            kind = "latch open" if part.latch == "flip" else forgotten
            yield Mistake(kind, name, UNSEATED_PER_TOUCH)
        if part.reversible:
            yield Mistake("polarity" if "power" in part.carries else "cable reversed", name, REVERSED_PER_TOUCH)
        for twin in twins(device, name, sorted(made)):
            if name < twin:
                yield Mistake("swapped with its twin", name, SWAPPED, twin)
    steps = [device.steps[step] for step in device.steps if step in state.open_steps]
    for step, ones in undone(steps).items():
        for one in ones:
            if not one.sort.startswith(STAY_IN):
                yield Mistake("screw left over", step, one.count * SCREW_FORGOTTEN, one.sort)
            if "too long" in one.odd:
                yield Mistake("long screw, wrong hole", step, one.count * WRONG_HOLE, one.sort)


def caught(job: Job, mistake: Mistake) -> Caught:
    """Whether a line of the sheet, or of the list, asks for just what is wrong."""
    by_sheet = _in_sheet(job, mistake)
    asked = job.closed if mistake.kind in GENERAL else job.plugged  # screws go in after the list of what is plugged
    by_list = _in_list(job.device, asked, mistake)
    by_late = _in_list(job.device, job.late, mistake)
    return Caught(by_sheet, by_list, by_late, _why(job, mistake, by_sheet=by_sheet, by_list=by_list, by_late=by_late))


def _in_sheet(job: Job, mistake: Mistake) -> bool:
    if mistake.kind == "screw left over":
        return any(
            line.kind == "screw" and line.target == mistake.target and mistake.other in line.log
            for line in job.sheet.lines
        )
    if mistake.kind == "long screw, wrong hole":
        screws = (line for line in job.sheet.lines if line.kind == "screw" and mistake.other in line.log)
        return any("too long" in note for line in screws for note in line.notes)
    return any(line.kind == "check" and _finds(job.device, line.target, line.do, mistake) for line in job.sheet.lines)


def _in_list(device: Device, found: BeforePower, mistake: Mistake) -> bool:
    if mistake.kind in GENERAL:
        return any(line.target == GENERAL[mistake.kind] for line in found.lines)
    return any(line.kind == "seated" and _finds(device, line.target, line.do, mistake) for line in found.lines)


def _finds(device: Device, connection: str, do: str, mistake: Mistake) -> bool:
    """Whether a check of how a connection sits finds a mistake: the map's test senses it, or its words ask for it."""
    if mistake.kind == "swapped with its twin":
        return connection in (mistake.target, mistake.other) and any(
            one in do.partition("not swapped with ")[2] for one in (mistake.target, mistake.other)
        )
    sensed = device.tests[f"{connection}.{SEATED}"].senses
    assert isinstance(sensed, PartModes)
    known = dict(sensed.chances)
    way = REVERSED in known if mistake.kind in ("cable reversed", "polarity") else any(one != REVERSED for one in known)
    return connection == mistake.target and way


def _why(job: Job, mistake: Mistake, *, by_sheet: bool, by_list: bool, by_late: bool) -> str:
    if by_sheet and by_list and by_late:
        return ""
    if not (by_sheet and by_list):
        missing = " and ".join([*([] if by_sheet else ["sheet"]), *([] if by_list else ["list"])])
        held = {one.target: one.held for one in job.plugged.held}
        return f"no line of the {missing} asks for it" + (
            f": held, {held[mistake.target]}" if mistake.target in held else ""
        )
    return "asked for too late: closed in"
