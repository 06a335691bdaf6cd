"""What can honestly be said of a unit to whoever buys it, each claim with the lines of the log that it rests on.

A claim without a line is not made: what nobody tried, looked at or removed is said to be so.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Literal

from knowngood.log import events as ev
from knowngood.log.state import ACTS, Line, Replay
from knowngood.maps.device import Device
from knowngood.maps.words import MISSING, PASTS
from knowngood.proof.flaws import Looks, left, looks, outside
from knowngood.proof.release import data_places
from knowngood.proof.safety_test import SafetyTest
from knowngood.proof.standing import Standing, in_words, last_tries, shown_by

Subject = Literal[
    "what",
    "works",
    "repaired",
    "not-working",
    "not-shown",
    "looks",
    "comes-along",
    "not-along",
    "data",
    "safety",
    "readings",
    "money",
]

SUBJECTS: dict[Subject, str] = {
    "what": "What it is",
    "works": "What works",
    "repaired": "What was repaired",
    "not-working": "What does not work",
    "not-shown": "What is not claimed",
    "looks": "How it looks",
    "comes-along": "What comes along",
    "not-along": "What does not come along",
    "data": "Data of whoever had it before",
    "safety": "Electrical safety",
    "readings": "What was measured",
    "money": "Money",
}
"""The headings, in order."""

FOR_THE_REPORT: tuple[Subject, ...] = ("readings", "money")
"""Subjects that a listing leaves out; a report for buyers leaves out the last one, too."""

OPENED = "it was opened where a seal holds it: do not count on it being tight against dust or water"

WORDS_OF_ORIGIN = {"new": "a new one was fitted", "used": "a used one was fitted"}
"""Where a part came from, in words; any other is a unit of the bench, a donor."""

FROM_A_DONOR = "a used one out of another unit was fitted"

NOT_PASSED = {
    "fail": "failed",
    "void": "made, but hands were in the unit since",
    "incomplete": "not made, or not to its end",
}
"""What is said of a safety test that does not hold."""

SAFETY_WORDS = {
    "protective-earth": "earth path",
    "insulation": "insulation",
    "protective-current": "protective-conductor current",
    "touch-current": "touch current",
}
"""Quantities of the safety test, for people."""


@dataclass(frozen=True)
class Claim:
    """One thing said of a unit."""

    subject: Subject
    says: str
    lines: tuple[int, ...]
    """Numbers of the lines that it rests on; none for what no line says, which is said to be so."""
    how: str = ""
    """How it was found out: what the hands did."""


def account(
    device: Device, told: Replay, stands: Standing, test: SafetyTest, lots: Mapping[str, str], wanted: Iterable[str]
) -> tuple[Claim, ...]:
    """All that can be said of a unit. ``lots``: loose parts in words, by lot. ``wanted``: promised, not declared."""
    seen = looks(device, told)
    return (
        *_what(device, told),
        *_works(device, told, stands, wanted),
        *_repaired(device, told, lots),
        *_not_working(device, told, stands),
        *_not_shown(device, told, stands, wanted),
        *_looks(device, seen),
        *_along(device, told, seen),
        *_data(device, told),
        *_safety(told, test),
        *_readings(device, told),
        *_money(told),
    )


def _day(line: Line) -> str:
    return line.time[:10]


def _what(device: Device, told: Replay) -> Iterable[Claim]:
    first = told.lines[0]
    yield Claim("what", device.what, (first.seq,))
    for line in told.lines:
        match line.event:
            case ev.Bought(past=past) | ev.Offered(past=past) if past:
                yield Claim("what", f"known of its past: {', '.join(PASTS[one] for one in past)}", (line.seq,))
            case ev.Recorded(serial=serial, part=None):
                yield Claim("what", f"serial number {serial}", (line.seq,))
            case ev.Past(what=what):
                yield Claim("what", f"known of its past: {PASTS[what]}", (line.seq,))
            case ev.Identified(part=part, revision=revision) if part not in told.state.removed:
                yield Claim("what", f"{device.parts[part].what}: revision {revision}", (line.seq,))
            case _:
                pass
    opened = [
        line
        for line, before in zip(told.lines, told.before, strict=True)
        if isinstance(line.event, ev.Opened)
        and any(device.steps[one].holds == "seal" for one in device.way_in(before.open_steps, line.event.step))
    ]
    if opened:
        yield Claim("what", OPENED, (opened[-1].seq,))


def _works(device: Device, told: Replay, stands: Standing, wanted: Iterable[str]) -> Iterable[Claim]:
    shown = shown_by(device, told, stands)
    for function in wanted:
        if line := shown.get(function):
            assert isinstance(line.event, (ev.Tried, ev.Found))
            how = device.tests[line.event.test].do
            yield Claim("works", f"{device.functions[function].what} (tried {_day(line)})", (line.seq,), how)


def _repaired(device: Device, told: Replay, lots: Mapping[str, str]) -> Iterable[Claim]:
    done: dict[str, list[tuple[str, Line]]] = {}
    for line in told.lines:
        match line.event:
            case ev.Fitted(part=part, origin=origin) if origin != ev.BACK:
                for one in [one for one in done if one in device.parts and part in device.within(one)]:
                    del done[one]  # that sat in the part which is gone
                done[part] = [(WORDS_OF_ORIGIN.get(origin, FROM_A_DONOR), line)]
            case ev.Mended(part=part, remedy=remedy):
                done.setdefault(part, []).append((f"mended by '{remedy.replace('-', ' ')}'", line))
            case ev.Used(part=part, lot=lot, count=count):
                on = part or ev.UNIT
                done.setdefault(on, []).append((f"{count} x {lots.get(lot, 'loose part')} from stock", line))
            case ev.Dried():
                done.setdefault(ev.UNIT, []).append(("washed and dried through", line))
            case ev.Harvested(part=part):
                done.pop(part, None)
            case _:
                pass
    for part, acts in done.items():
        what = device.parts[part].what if part in device.parts else "The unit"
        said = "; ".join(dict.fromkeys(f"{act} ({_day(line)})" for act, line in acts))
        yield Claim("repaired", f"{what}: {said}", tuple(line.seq for _, line in acts))


def _not_working(device: Device, told: Replay, stands: Standing) -> Iterable[Claim]:
    tries = last_tries(device, told)
    said: dict[str, int] = {}
    for line in told.lines:
        if isinstance(line.event, ev.Declared):
            said[line.event.function] = line.seq
    for function, seq in said.items():
        yield Claim("not-working", f"{in_words(device, function)}: declared as not working", (seq,))
    for function in stands.failing:
        line = tries[function]
        assert isinstance(line.event, (ev.Tried, ev.Found))
        said_so = {"weak": "works only in part", "fails": "does not work"}.get(line.event.outcome, line.event.outcome)
        yield Claim("not-working", f"{device.functions[function].what}: {said_so} (tried {_day(line)})", (line.seq,))


def _not_shown(device: Device, told: Replay, stands: Standing, wanted: Iterable[str]) -> Iterable[Claim]:
    shown, tries = shown_by(device, told, stands), last_tries(device, told)
    hidden = {one.function: one.by for one in stands.masked}
    for function in wanted:
        if function in shown or function in stands.failing:
            continue
        what, line = device.functions[function].what, tries.get(function)
        if function in hidden:
            by = ", ".join(
                device.functions[one].what if one in device.functions else device.parts[one].what
                for one in hidden[function]
            )
            yield Claim("not-shown", f"{what}: nobody can tell, because of: {by}", ())
        elif line:
            since = "not tried since the last work on it"
            yield Claim("not-shown", f"{what}: {since} (last on {_day(line)})", (line.seq,))
        else:
            yield Claim("not-shown", f"{what}: not tried", ())


def _looks(device: Device, seen: Looks) -> Iterable[Claim]:
    """Flaws of the outside, and those of the inside that nobody mended; last, what nobody looked at."""
    for flaw in seen.flaws:
        if flaw.condition == MISSING or (flaw.mended and not flaw.outside):
            continue
        degree = f", {flaw.degree}" if flaw.degree else ""
        where = "" if flaw.outside else " (inside)"
        mended = ", mended since" if flaw.mended else ""
        yield Claim("looks", f"{flaw.what}{where}: {flaw.condition.replace('-', ' ')}{degree}{mended}", flaw.lines)
    shown = {one.id for one in outside(device)}
    fine = [(device.parts[one].what, seq) for one, seq in seen.fine.items() if one in shown]
    if fine:
        yield Claim("looks", f"nothing seen on: {', '.join(what for what, _ in fine)}", tuple(seq for _, seq in fine))
    if seen.not_looked:
        names = ", ".join(device.parts[one].what for one in seen.not_looked)
        yield Claim("not-shown", f"how these look, nobody took a look: {names}", ())


def _along(device: Device, told: Replay, seen: Looks) -> Iterable[Claim]:
    """What goes with the unit, and what of it does not."""
    for line in told.lines:
        if isinstance(line.event, ev.Stated) and line.event.topic == "cord" and line.event.value == "detachable":
            yield Claim("comes-along", f"Mains cord, {line.event.length:g} m", (line.seq,))
    for part in device.parts.values():
        if part.kind == "accessory" and part.id not in told.state.removed:
            seqs = (seen.fine[part.id],) if part.id in seen.fine else ()
            fitted = [one.seq for one in told.lines if isinstance(one.event, ev.Fitted) and one.event.part == part.id]
            if lines := seqs or tuple(fitted[-1:]):
                yield Claim("comes-along", part.what, lines)
    gone = {flaw.part: flaw.seq for flaw in seen.flaws if flaw.condition == MISSING and not flaw.mended}
    for name, seq in (gone | left(told)).items():
        yield Claim("not-along", device.parts[name].what, (seq,))


def _data(device: Device, told: Replay) -> Iterable[Claim]:
    wiped = told.state.leaving.wiped
    by_line: dict[tuple[int, str], list[str]] = {}
    for place in data_places(device, told.state):
        if place.part in wiped:
            seq, event = wiped[place.part]
            tool = f" with {event.tool}" if event.tool else ""
            check = f", verified: {event.check}" if event.check else ", not verified"
            by_line.setdefault((seq, f"removed by {event.method}{tool}{check}"), []).append(place.what)
        elif place.done:
            yield Claim("data", f"{place.what}: {place.how}", ())
        else:
            yield Claim("data", f"{place.what}: may hold data, and nobody removed it", ())
    for (seq, how), places in by_line.items():
        yield Claim("data", f"{', '.join(places)}: {how}", (seq,))
    locks = [line for line in told.lines if isinstance(line.event, ev.Checked) and line.event.lock]
    if locks and isinstance(locks[-1].event, ev.Checked):
        said = "not locked to an account" if locks[-1].event.lock == "none" else "locked to an account of somebody else"
        yield Claim("data", f"{said} (looked {_day(locks[-1])})", (locks[-1].seq,))


def _safety(told: Replay, test: SafetyTest) -> Iterable[Claim]:
    lines = {line.seq: line for line in told.lines}
    readings = [(step, one) for step in test.steps for one in step.readings if one.counts]
    seen = [seq for seq, _ in told.state.leaving.test.inspected.values()]
    seqs = tuple(sorted({*seen, *(one.seq for _, one in readings)}))
    if not test.needed and not seqs:
        return
    if test.verdict != "pass":
        yield Claim("safety", f"Safety test after repair: {NOT_PASSED[test.verdict]}", seqs)
        return
    rules = next((f", {step.rules}" for step, _ in readings if step.rules), "")
    yield Claim("safety", f"Safety test after repair passed ({_day(lines[seqs[-1]])}{rules})", seqs)
    for step, one in readings:
        event = lines[one.seq].event
        assert isinstance(event, ev.Measured)
        by = f"by {one.instrument}, calibrated {one.calibrated}, +/- {100 * one.uncertainty:g} %; {step.limit}"
        yield Claim("safety", f"{SAFETY_WORDS[event.quantity]} {event.reading}: {one.verdict}", (one.seq,), by)


def _readings(device: Device, told: Replay) -> Iterable[Claim]:
    """The last reading of each test, with its day: what was read before the last work on the unit says so."""
    last = {line.event.test: line for line in told.lines if isinstance(line.event, ev.Read)}
    worked = max((line.seq for line in told.lines if isinstance(line.event, ACTS)), default=0)
    for name, line in last.items():
        assert isinstance(line.event, ev.Read)
        before = ", before the last work on it" if line.seq < worked else ""
        says = f"{name.replace('-', ' ')}: {line.event.reading} (read {_day(line)}{before})"
        yield Claim("readings", says, (line.seq,), device.tests[name].do)


def _money(told: Replay) -> Iterable[Claim]:
    for one in told.state.bookings:
        thought = ", as it was valued" if one.kind == "valuation" else ""
        yield Claim("money", f"{one.what}: {one.amount}{thought}", (one.seq,))
