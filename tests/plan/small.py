"""Small devices for tests of the plan, built without a map file, under the real hazard rules."""

from __future__ import annotations

from collections.abc import Iterable
from hashlib import sha256
from typing import Any

from knowngood.handbook.quantities import Money, parse_expected, parse_money
from knowngood.log.events import Event, parse
from knowngood.log.misfit import misfit
from knowngood.log.state import Line, Replay, State, after, replay
from knowngood.maps.device import (
    Device,
    Function,
    FunctionLevel,
    Married,
    Mode,
    Part,
    PartModes,
    Prices,
    RailToGround,
    RailVoltage,
    Remedy,
    Sensed,
    Step,
    Test,
    Worth,
)
from knowngood.maps.kinds import hazards
from knowngood.maps.words import Level
from knowngood.plan.terms import DEFAULTS, Terms, terms


def remedy(name: str, cures: float = 1.0, minutes: float = 5.0, **changes: Any) -> Remedy:
    """A remedy for the mode 'dead'."""
    known = {"materials": None, "part": False, "wait": 0.0, "spoils": (), "tools": (), "hazards": (), **changes}
    return Remedy(name, name, (("dead", cures),), minutes, **known)


def part(name: str, *remedies: Remedy, base: float = 0.1, used: str = "", new: str = "", **changes: Any) -> Part:
    """A part that is fine or dead, and where it can be replaced, its prices."""
    modes = (
        Mode("dead", "dead", 1.0, Level.NONE, looks=(("burnt", 0.3),), takes="short" if "on" in changes else None),
    )
    price = Prices(parse_money(new) if new else None, parse_money(used) if used else None)
    return Part(name, name, "drawn", base, modes, (("burnt", 0.02),), (), remedies, price, **changes)


def rail(name: str, *needs: str, **changes: Any) -> Function:
    limits: dict[str, Any] = {"nominal": parse_expected("5 V +/- 5 %"), "to_ground": parse_expected("20 ohm to 1 Mohm")}
    return Function(name, name, "power", needs, **limits, **changes)


def wanted(name: str, *needs: str) -> Function:
    return Function(name, name, "behaviour", needs, wanted=True)


def tried(name: str, power: str = "mains", **changes: Any) -> Test:
    """The try of the function of that name."""
    known = {"minutes": 2.0, "miss": 0.05, "false_alarm": 0.02, **changes}
    return Test(name, "tried", name, FunctionLevel(name), ("works", "weak", "fails"), power=power, **known)


def found(name: str, of: str | Sensed, power: str = "off", **changes: Any) -> Test:
    """A test of one part, which finds it dead with 90 %, or of whatever is given."""
    senses = PartModes(of, (("dead", 0.9),)) if isinstance(of, str) else of
    return Test(name, "found", name, senses, ("ok", "bad"), **{"minutes": 1.0, "power": power, **changes})


def volts(name: str, **changes: Any) -> Test:
    outcomes = ("good", "weak", "none", "high")
    return Test(name, "read", name, RailVoltage(name), outcomes, **{"minutes": 1.0, "power": "mains", **changes})


def ohms(name: str, **changes: Any) -> Test:
    senses = RailToGround(name)
    return Test(f"{name}-to-ground", "read", name, senses, ("clear", "short"), 1.0, "off", **changes)


def step(name: str, opens: float, closes: float, *after: str, **changes: Any) -> Step:
    return Step(name, name, after, opens, closes, **changes)


def device(
    parts: Iterable[Part],
    functions: Iterable[Function],
    tests: Iterable[Test],
    steps: Iterable[Step] = (),
    married: Iterable[Married] = (),
    unknown: float = 0.02,
) -> Device:
    """A device of these tables, worth 200 working, 40 as it is and 25 as parts."""
    slots, works = {one.id: one for one in parts}, {one.id: one for one in functions}
    known, ways, groups = {one.id: one for one in tests}, {one.id: one for one in steps}, tuple(married)
    return Device(
        id="small",
        what="small",
        power="mains",
        protection_class="none",
        unknown=unknown,
        worth=Worth(*(Money("EUR", amount) for amount in (20000, 4000, 2500))),
        parts=slots,
        functions=works,
        tests=known,
        steps=ways,
        married=groups,
        hazards=hazards(),
        stores_data=False,
        content_hash=sha256(repr((slots, works, known, ways, groups, unknown)).encode()).hexdigest(),
    )


def told(on: Device, *lines: str) -> Replay:
    """The lines replayed; all of them fit."""
    given = replay(on, [Line(seq, "", parse(line)) for seq, line in enumerate(lines, 1)])
    assert not given.flags, given.flags
    return given


def log(on: Device, *lines: str) -> Replay:
    """The same of a small device that was bought."""
    return told(on, "bought small for EUR 5", *lines)


def those_that_fit(on: Device, events: Iterable[Event]) -> Replay:
    """The events replayed, without those that do not fit where they come."""
    lines: list[Line] = []
    state = State()
    for event in events:
        if misfit(on, state, event) is None:
            lines.append(Line(len(lines) + 1, "", event))
            state = after(on, state, event, len(lines))
    return replay(on, lines)


def bench(**changes: Any) -> Terms:
    """A bench where a minute is worth 0.50 and selling costs nothing but half an hour."""
    plain = {"rate": 0.5, "working": 200.0, "as_is": 40.0, "parts": 25.0, "come_back": 60.0, "list_minutes": 30.0}
    return Terms(currency="EUR", **{**plain, **changes})


def usual(on: Device) -> Terms:
    """The bench that has set nothing of its own, for a shipped map."""
    return terms(on, **DEFAULTS)


SWAP = remedy("replace", part=True, minutes=6.0)
TINY = device(
    [
        part("supply", SWAP, base=0.4, used="EUR 15", hazards=("mains", "stored-charge")),
        part("board", remedy("resolder", 0.6), SWAP, base=0.3, used="EUR 22", behind="lid", on=("rail",)),
        part("fan", remedy("clean", 0.7, 4.0), base=0.2, behind="lid"),
    ],
    [rail("rail", "supply"), wanted("starts", "rail", "board"), wanted("cooled", "rail", "fan")],
    [
        tried("starts", closed=True),
        tried("cooled", closed=True),
        volts("rail", behind="lid"),
        ohms("rail", behind="lid"),
        found("flick", "fan", behind="lid"),
    ],
    [step("lid", 3.0, 4.0)],
)
