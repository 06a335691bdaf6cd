"""Small devices and logs, drawn: every way in which a map or a log can say that a fault matters.

The tables are built without a map file, so that a draw takes no time to read and shrinks well.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import fields, is_dataclass
from functools import cache
from hashlib import sha256
from math import prod
from typing import Any, TypeVar

from hypothesis import strategies as st

from knowngood.handbook.quantities import Money, parse_expected
from knowngood.log import events as ev
from knowngood.log.state import Line, Replay, replay
from knowngood.maps.device import (
    AnyMode,
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
    Step,
    Test,
    Worth,
)
from knowngood.maps.words import MISSING, REVERSED, Level

T = TypeVar("T")

CHANCES = (0.02, 0.1, 0.3)
ERRORS = (0.0, 0.05, 0.05, 0.2)
CONDITIONS = ("fine", "cracked", "unseated", "missing", "dusty")
"""What looks in drawn logs find; no table lists the last."""
VOLTS = ("0.03 V", "0.7 V", "3.1 V", "4.74 V", "5.01 V", "7.4 V", "-0.2 V")
OHMS = ("0.3 ohm", "2.1 ohm", "47 ohm", "1.5 kohm", "OL ohm")


def mode(name: str = "dead", share: float = 1.0, **changes: Any) -> Mode:
    """A fault mode that stops what needs the part, but for the changes."""
    return Mode(**{"name": name, "says": name, "share": share, "gives": Level.NONE, **changes})


def part(name: str, *modes: Mode, base: float = 0.1, **changes: Any) -> Part:
    """A part with these modes (one that is dead, if none is given)."""
    known = {"looks": (), "past": (), "remedies": (), "price": Prices(), **changes}
    return Part(id=name, what=name, kind="drawn", base=base, modes=modes or (mode(),), **known)


def function(name: str, *needs: str, **changes: Any) -> Function:
    """A function of these needs; with ``rail=True`` it has a voltage."""
    if changes.pop("rail", False):
        changes |= {"nominal": parse_expected("5 V +/- 5 %"), "to_ground": parse_expected("20 ohm to 1 Mohm")}
    return Function(**{"id": name, "what": name, "carries": "power", "needs": needs, **changes})


def remedy(name: str, cures: Mapping[str, float], *, fits: bool = False, **spoils: float) -> Remedy:
    """A remedy on the bench, or with ``fits`` another part."""
    cured, spoilt = tuple(cures.items()), tuple(spoils.items())
    return Remedy(
        name, name, cured, minutes=1.0, materials=None, part=fits, wait=0.0, spoils=spoilt, tools=(), hazards=()
    )


def found(name: str, senses: PartModes | FunctionLevel | AnyMode, **changes: Any) -> Test:
    """A test with the outcomes ok and bad."""
    return Test(name, "found", name, senses, ("ok", "bad"), minutes=1.0, power="off", **changes)


def tried(name: str, of: str, **changes: Any) -> Test:
    """A function as a person tries it."""
    outcomes = ("works", "weak", "fails")
    return Test(name, "tried", name, FunctionLevel(of), outcomes, minutes=1.0, power="mains", **changes)


def read(name: str, senses: RailVoltage | RailToGround) -> Test:
    power = "mains" if isinstance(senses, RailVoltage) else "off"
    return Test(name, "read", name, senses, ("good", "weak", "none"), 1.0, power)


def device(
    parts: Iterable[Part],
    functions: Iterable[Function],
    tests: Iterable[Test] = (),
    steps: Iterable[Step] = (),
    married: Iterable[Married] = (),
    unknown: float = 0.05,
) -> Device:
    """A device of these tables, functions in an order in which each comes after what it needs."""
    tables = tuple(tuple(one) for one in (parts, functions, tests, steps, married))
    by_name = [{one.id: one for one in table} for table in tables[:4]]  # type: ignore[attr-defined]  # all have one
    named = dict(zip(("parts", "functions", "tests", "steps"), by_name, strict=True))
    worth = Worth(*(Money("EUR", amount) for amount in (100, 30, 20)))
    return Device(
        id="drawn",
        what="drawn",
        power="mains",
        protection_class="none",
        unknown=unknown,
        worth=worth,
        **named,  # type: ignore[arg-type]
        married=tables[4],  # type: ignore[arg-type]
        hazards={},
        stores_data=False,
        content_hash=sha256(repr((tables, unknown)).encode()).hexdigest(),
    )


def log(on: Device, events: Iterable[ev.Event | str]) -> Replay:
    """The events replayed, numbered from 1. A string is a canonical line."""
    parsed = [ev.parse(event) if isinstance(event, str) else event for event in events]
    return replay(on, [Line(number, "", event) for number, event in enumerate(parsed, 1)])


EITHER = st.booleans()


@cache
def _place(count: int) -> st.SearchStrategy[int]:
    return st.sampled_from(range(count))


@cache
def _places(count: int, least: int, most: int) -> st.SearchStrategy[list[int]]:
    return st.lists(_place(count), unique=True, min_size=min(least, count), max_size=most)


def pick(draw: st.DrawFn, items: Sequence[T]) -> T:
    """One of the items. Hypothesis looks over each strategy that is new, and one for every list of items would take
    most of a test's time; for the places in lists of a length there is one strategy."""
    return items[draw(_place(len(items)))]


def some(draw: st.DrawFn, items: Sequence[T], most: int = 2, least: int = 0) -> tuple[T, ...]:
    """A few different items."""
    return tuple(items[place] for place in draw(_places(len(items), least, most))) if items else ()


def _modes(
    draw: st.DrawFn, most: int, functions: Sequence[str], loads: bool, feeds: bool, seating: bool
) -> tuple[Mode, ...]:
    weights = [pick(draw, range(1, 5)) for _ in range(pick(draw, range(1, most + 1)))]
    turns = draw(EITHER)
    modes = []
    for number, weight in enumerate(weights):
        kinds = ["none", "weak", "limits", *(["short", "heavy"] if loads else []), *(["high"] if feeds else [])]
        kind = pick(draw, kinds)
        limited = some(draw, functions, least=1) if kind == "limits" else ()
        looks = some(draw, CONDITIONS[1:4], most=2)
        modes.append(
            mode(
                REVERSED if seating and turns and number == 1 else MISSING if number == 2 else f"m{number}",
                weight / sum(weights),
                gives=Level.WEAK if kind == "weak" else Level.GOOD if kind in ("high", "heavy") else Level.NONE,
                takes=kind if kind in ("short", "heavy") else None,
                high=kind == "high",
                limits=tuple((one, pick(draw, tuple(Level))) for one in limited) or None,
                when=pick(draw, (None, None, None, "closed", "open", "warm", "cold")),
                looks=tuple((one, pick(draw, (0.1, 0.4))) for one in looks),
                past=pick(draw, ((), (("dropped", 3.0),))),
                seating=seating and (number == 0 or (turns and number == 1)),
                blows=draw(EITHER),
                by_touch=pick(draw, (0.0, 0.1)) if seating and number else 0.0,
                shows=pick(draw, (None, None, None, 3.0)) if kind in ("none", "weak", "limits") else None,
            )
        )
    return tuple(modes)


@st.composite
def devices(
    draw: st.DrawFn,
    parts: int = 5,
    functions: int = 4,
    most: int = 2**9,
    modes: int = 3,
    least: int = 2,
    sure: bool = False,
) -> Device:
    """A device of up to ``parts`` parts (``least`` at least, if there is room) and ``functions`` functions, with at
    most ``most`` states of the world. Where it is ``sure``, no test errs and nothing is unknown."""
    unknown = 0.0 if sure else pick(draw, (0.0, 0.05, 0.2))
    names = [f"f{number}" for number in range(pick(draw, range(1, functions + 1)))]
    rails = some(draw, names[:-1] or names, most=2)
    budget = most // (2 ** len(names) if unknown else 1)
    made: list[Part] = []
    for number in range(pick(draw, range(least, parts + 1))):
        joins = some(draw, [one.id for one in made], most=1) if made and draw(EITHER) else ()
        on = some(draw, rails, most=1)
        states = _modes(draw, modes, names, bool(on), bool(rails), bool(joins))
        if prod(len(one.states) for one in made) * (1 + len(states)) > budget and made:
            break
        cures = {one.name: pick(draw, (0.0, 0.5, 1.0)) for one in states}
        spoils = {states[-1].name: 0.1} if draw(EITHER) else {}
        remedies = (remedy("mend", cures, **spoils), remedy("replace", cures, fits=True))
        made.append(
            part(
                f"p{number}",
                *states,
                base=pick(draw, CHANCES),
                looks=pick(draw, ((), (("cracked", 0.1),), (("unseated", 0.05), ("dusty", 0.2)))),
                past=pick(draw, ((), (("dropped", 2.0),), (("dropped", 5.0),))),
                zone=pick(draw, (None, "left", "right")),
                remedies=remedies[: pick(draw, range(3))],
                on=on,
                joins=joins,
                reversible=bool(joins) and draw(EITHER),
            )
        )
    slots = [one.id for one in made]
    plugs = [one.id for one in made if one.is_connection]
    wanted = some(draw, names, most=3, least=1)
    built = []
    for number, name in enumerate(names):
        sources = [*slots, *names[:number]]
        groups = [some(draw, sources, most=3, least=1) for _ in range(pick(draw, range(3)))]
        spoilers = [one for one in names[:number] if one in rails]
        built.append(
            function(
                name,
                *some(draw, sources, most=4),
                any_of=tuple(groups),
                spoiled_by=some(draw, spoilers, most=1),
                wanted=name in wanted,
                rail=name in rails,
                under_short=pick(draw, ("off", "hiccup", "foldback", "latched-off")),
            )
        )
    steps = [
        Step("s0", "s0", (), 1.0, 1.0, unplugs=some(draw, plugs)),
        Step("s1", "s1", ("s0",), 1.0, 1.0, unplugs=some(draw, plugs)),
    ]
    pairs = [Married(tuple(slots[:2]), "keys", some(draw, names, most=1, least=1))] if draw(EITHER) else []
    return device(made, built, _tests(draw, made, built, (0.0,) if sure else ERRORS), steps, [*pairs], unknown)


def _tests(
    draw: st.DrawFn, parts: Sequence[Part], functions: Sequence[Function], errors: Sequence[float]
) -> list[Test]:
    tests: list[Test] = []

    def conditions() -> dict[str, Any]:
        return {
            "miss": pick(draw, errors),
            "false_alarm": pick(draw, errors),
            "closed": draw(EITHER),
            "warm": draw(EITHER),
            "runs": pick(draw, (0.0, 0.0, 0.0, 10.0)),
        }

    for one in functions:
        tests.append(tried(f"{one.id}.tried", one.id, **conditions()))
        if draw(EITHER):
            tests.append(found(f"{one.id}.shown", FunctionLevel(one.id), **conditions()))
        if one.nominal is not None:
            tests.append(read(f"{one.id}.volts", RailVoltage(one.id)))
            tests.append(read(f"{one.id}.ohms", RailToGround(one.id)))
    for tested in some(draw, parts, most=2):
        chances = tuple((one.name, pick(draw, (0.0, 0.6, 0.9, 1.0))) for one in tested.modes)
        tests.append(found(f"{tested.id}.check", PartModes(tested.id, chances[pick(draw, range(2)) :]), **conditions()))
    sensed = tuple((one.id, tuple(m.name for m in one.modes[: pick(draw, (1, 2))])) for one in parts[:3])
    return [*tests, found("shake", AnyMode(sensed), **conditions())]


def evidence(draw: st.DrawFn, on: Device) -> ev.Event:
    """One line that says what was seen or sensed."""
    if pick(draw, range(3)):
        return outcome(draw, tuple(on.tests.values()))
    return ev.Saw(
        part=pick(draw, tuple(on.parts)),
        condition=pick(draw, CONDITIONS),
        look=pick(draw, (None, "glance", "close")),
        degree=pick(draw, (None, None, "slight", "severe")),
    )


def outcome(draw: st.DrawFn, tests: Sequence[Test]) -> ev.Event:
    """A line that one of the tests can give."""
    test = pick(draw, tests)
    if test.verb == "read":
        return ev.Read(test=test.id, reading=pick(draw, VOLTS if isinstance(test.senses, RailVoltage) else OHMS))
    return (ev.Tried if test.verb == "tried" else ev.Found)(test=test.id, outcome=pick(draw, test.outcomes))


def act(draw: st.DrawFn, on: Device) -> ev.Event:
    """One line that says what was done. It may not fit; then the replay leaves it out."""
    plugs = [one.id for one in on.parts.values() if one.is_connection]
    kinds = (ev.Opened, ev.Closed, ev.Removed, ev.Harvested, ev.Fitted, ev.Mended, ev.Past, ev.Waited)
    kind: type[ev.Event] = pick(draw, (*kinds, ev.Unplugged, ev.Plugged) if plugs else kinds)
    if kind is ev.Opened:
        return ev.Opened(step=pick(draw, tuple(on.steps)))
    if kind is ev.Closed:
        return ev.Closed(step=ev.ALL)
    if kind is ev.Past:
        return ev.Past(what="dropped")
    if kind is ev.Waited:
        return ev.Waited(wait=10.0)
    if kind is ev.Unplugged or kind is ev.Plugged:
        return kind(connection=pick(draw, plugs), live=draw(EITHER))
    part = pick(draw, tuple(on.parts))
    if kind is ev.Fitted:
        return ev.Fitted(part=part, origin=pick(draw, (ev.BACK, "new", "used", "D1")))
    if kind is ev.Mended:
        return ev.Mended(part=part, remedy="mend")
    return kind(part=part)


@st.composite
def logs(draw: st.DrawFn, on: Device, most: int = 5, most_acts: int = 4) -> list[ev.Event]:
    """Up to ``most`` lines of evidence with a few acts among them."""
    seen = [evidence(draw, on) for _ in range(pick(draw, range(most + 1)))]
    done = [act(draw, on) for _ in range(pick(draw, range(most_acts + 1)))]
    places = [pick(draw, range(len(seen) + 1)) for _ in done]
    lines: list[ev.Event] = []
    for place in range(len(seen) + 1):
        lines += [one for one, at in zip(done, sorted(places), strict=True) if at == place]
        lines += seen[place : place + 1]
    return lines


def renamed(thing: Any, names: Mapping[str, str]) -> Any:
    """A device, or an event, with the names changed wherever they stand."""
    if isinstance(thing, str):
        return names.get(thing, thing)
    if isinstance(thing, ev.Event):
        changed = {key: renamed(getattr(thing, key), names) for key in type(thing).model_fields}
        return thing.model_copy(update=changed)
    if isinstance(thing, dict):
        return {renamed(key, names): renamed(value, names) for key, value in thing.items()}
    if isinstance(thing, (tuple, list)):
        return type(thing)(renamed(one, names) for one in thing)
    if is_dataclass(thing) and not isinstance(thing, type):
        return type(thing)(**{one.name: renamed(getattr(thing, one.name), names) for one in fields(thing)})
    return thing
