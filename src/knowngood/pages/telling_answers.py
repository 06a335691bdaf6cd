"""Everything that happens at the bench, as forms: for whoever does not know yet how a line is written."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from knowngood.log.state import State
from knowngood.maps.device import Device, Part, Test
from knowngood.maps.words import CONDITIONS, PASTS
from knowngood.pages.saying import Choice, Piece, Saying

HURTS_THINGS = ("static", "married")
"""Hazards to the unit alone: their cautions stand at the move."""


@dataclass(frozen=True)
class Trial:
    """A function that can be tried, with what was found last."""

    test: str
    do: str
    results: tuple[str, ...]
    minutes: float


@dataclass(frozen=True)
class Room:
    """Forms that belong together."""

    title: str
    sayings: tuple[Saying, ...]


def rooms(device: Device, state: State) -> tuple[Room, ...]:
    """The forms, by what a person would look for."""
    near = [part for part in device.parts.values() if _reached(device, state, part)]
    made = (
        Room("Eyes", tuple(_seen(near))),
        Room("Open and close", tuple(_opened(device, state))),
        Room("Hands", tuple(_done(device, state, near))),
        Room("Time, money, words", tuple(_told(state))),
    )
    return tuple(one for one in made if one.sayings)


def cautions(device: Device, state: State) -> tuple[str, ...]:
    """What can hurt a person among what lies bare now and behind what can be opened next, the deadliest first."""
    near = [hazard for part in device.parts.values() if _reached(device, state, part) for hazard in part.hazards]
    next_ = [step for name, step in device.steps.items() if device.way_in(state.open_steps, name) == (name,)]
    near += [hazard for step in next_ for hazard in step.hazards]
    return tuple(one.caution for name, one in device.hazards.items() if name in near and name not in HURTS_THINGS)


def trials(device: Device) -> tuple[Trial, ...]:
    """What can be tried on the closed unit, in the order of its map."""
    return tuple(
        Trial(test.id, test.do, test.outcomes, test.minutes) for test in device.tests.values() if test.verb == "tried"
    )


def _reached(device: Device, state: State, part: Part) -> bool:
    return part.id not in state.removed and _bare(device, state, part)


def _bare(device: Device, state: State, part: Part) -> bool:
    return part.behind is None or not device.way_in(state.open_steps, part.behind)


def _parts(parts: Iterable[Part]) -> tuple[Choice, ...]:
    return tuple(Choice(one.id, one.what) for one in sorted(parts, key=lambda part: part.what.lower()))


def _seen(near: list[Part]) -> Iterator[Saying]:
    conditions = tuple(
        Choice(name, name.replace("-", " ") if means == name else f"{name.replace('-', ' ')}: {means}")
        for name, means in CONDITIONS.items()
    )
    how = (Choice("close", "looked at closely, magnified"), Choice("slight", "only slight"))
    yield Saying(
        "saw",
        "What I see on a part",
        "saw",
        (Piece("Part", _parts(near)), Piece("It is", conditions), Piece("How", how, optional=True)),
    )


def _opened(device: Device, state: State) -> Iterator[Saying]:
    shut = [step for step in device.steps.values() if step.id not in state.open_steps]
    if shut:
        choices = tuple(Choice(one.id, one.do) for one in shut)
        yield Saying("opened", "Opened", "opened", (Piece("What came off", choices),))
    if state.open_steps:
        yield Saying("closed", "Closed, everything", "closed all", button="All closed")
    plugged = [part for part in device.parts.values() if part.is_connection and part.id not in state.unplugged]
    near = [part for part in plugged if _reached(device, state, part)]
    if near:
        yield Saying("unplugged", "Unplugged", "unplugged", (Piece("Which plug", _parts(near)),))
    if state.unplugged:
        out = _parts(device.parts[name] for name in state.unplugged)
        yield Saying("plugged", "Plugged in again", "plugged", (Piece("Which plug", out),))


def _done(device: Device, state: State, near: list[Part]) -> Iterator[Saying]:
    remedies = tuple(
        Choice(f"{part.id} {remedy.name}", f"{part.what}: {remedy.do}")
        for part in sorted(near, key=lambda one: one.what.lower())
        for remedy in part.remedies
        if not remedy.part
    )
    price = Piece("For how much", before="for", hint="EUR 8", optional=True)
    if remedies:
        caution = "Off and unplugged, charge measured. Safety glasses; air for glue and solder. Local rules come first."
        yield Saying("mended", "Mended", "mended", (Piece("Part and remedy", remedies), price), caution=caution)
    from_where = (
        Choice("used", "a used one"),
        Choice("new", "a new one"),
        Choice("back", "the one that came out"),
    )
    fits = [part for part in device.parts.values() if _bare(device, state, part)]
    if fits:
        yield Saying(
            "fitted", "Fitted", "fitted", (Piece("Part", _parts(fits)), Piece("From", from_where, "from"), price)
        )
    if near:
        yield Saying("removed", "Taken out", "removed", (Piece("Part", _parts(near)),))
    charged = [part for part in near if part.charge is not None]
    if charged:
        yield Saying(
            "discharged",
            "Charge let off",
            "discharged",
            (Piece("Part", _parts(charged)), Piece("Measured after it", after="V", number=True)),
            caution="It can kill. Off, unplugged, through a resistor, one hand; measure again before you touch.",
        )


def _told(state: State) -> Iterator[Saying]:
    yield Saying("waited", "Waited", "waited", (Piece("How long", hint="12 h"),))
    yield Saying("worked", "Worked on it besides", "worked", (Piece("How long", hint="15 min"),))
    yield Saying("paid", "Paid for it", "paid", (Piece("How much", hint="EUR 12"), Piece("For what", before="for")))
    yield Saying("weighed", "Weighed", "weighed", (Piece("How much", hint="4.1 kg"),))
    yield Saying("serial", "Serial number", "recorded serial", (Piece("As it stands on the plate"),))
    pasts = tuple(Choice(name, says) for name, says in PASTS.items() if name not in state.past)
    if pasts:
        yield Saying("past", "Learnt what happened to it", "past", (Piece("What", pasts),))
    yield Saying("noted", "A note", "noted", (Piece("In your words"),))


def result_lines(tests: Iterable[Test], values: Mapping[str, str]) -> list[str]:
    """The lines of what was tried, in the order of the map; what is left out says nothing."""
    found = ((test, values.get(f"try-{test.id}", "")) for test in tests if test.verb == "tried")
    return [f"tried {test.id} {result}" for test, result in found if result in test.outcomes]
