"""The safety test after repair: which steps a unit gets, by which limits, and what its log says to them.

The limits are the handbook's. One that is known from memory alone decides nothing: the person writes the figure of
their own copy of the rules into the line (``against 1 Mohm``), and where both are there a reading has to meet both.
Every reading since the visual inspection counts. Local wiring rules and licensed practice come before all of it.
"""

from __future__ import annotations

from calendar import monthrange
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from math import isinf
from typing import Any, Literal

from knowngood.handbook.formula import Formula
from knowngood.handbook.limits import FAIL, PASS, Verdict, held_to, limits
from knowngood.handbook.quantities import parse_quantity, parse_reading
from knowngood.handbook.safety import (
    earth_path,
    insulation_test,
    plan_of_tests,
    protective_current_test,
    touch_current_test,
)
from knowngood.log import events as ev
from knowngood.log.events.release import UNITS, RuleSet
from knowngood.log.leaving import Leaving
from knowngood.log.state import Replay
from knowngood.maps.device import Device

Status = Literal["passed", "failed", "open", "not asked for"]
Outcome = Literal["pass", "fail", "incomplete", "void"]

STEPS = {
    "look": "visual",
    "earth path": "protective-earth",
    "insulation to earth": "insulation",
    "insulation to touchable metal": "insulation",
    "insulation": "insulation",
    "protective-conductor current": "protective-current",
    "touch current": "touch-current",
    "supply": "supply",
    "function": "function",
}
"""The steps of the handbook's plan of tests, by the name that the log has for them."""

PAGES: dict[str, Formula[Any, Any]] = {
    "visual": plan_of_tests,
    "supply": plan_of_tests,
    "protective-earth": earth_path,
    "insulation": insulation_test,
    "protective-current": protective_current_test,
    "touch-current": touch_current_test,
}
"""The page of the handbook whose caution stands at a step."""

LIVE = "The unit is under mains voltage while it is tried, closed: keep hands off its metal."
ORDER: tuple[RuleSet, ...] = ("german", "british")
"""The rule sets, in the order in which the handbook's pages answer."""

HIGHEST = {"protective-earth": 1e6, "insulation": 1e13, "protective-current": 10.0, "touch-current": 10.0}
"""What the handbook's pages take at most; a reading beyond is judged as that."""


@dataclass(frozen=True)
class Instrument:
    """A tester, as a line of the bench's log says."""

    name: str
    calibrated: date
    uncertainty: float
    """Share of the reading, as its certificate states it."""
    months: int
    """From one calibration to the next."""

    @property
    def due(self) -> date:
        """The day from which it counts as out of calibration."""
        month = self.calibrated.month - 1 + self.months
        year, month = self.calibrated.year + month // 12, month % 12 + 1
        return date(year, month, min(self.calibrated.day, monthrange(year, month)[1]))


@dataclass(frozen=True)
class SafetyReading:
    """One reading, and what it says to its limit."""

    seq: int
    text: str
    instrument: str
    calibrated: str
    """Day of the calibration that held, ISO 8601; "" if none did."""
    uncertainty: float
    verdict: str
    """``pass``, ``FAIL``, or why there is none."""
    worst: float | None
    """The worst reading that passes, the instrument's uncertainty taken off, in the quantity's unit."""
    counts: bool


@dataclass(frozen=True)
class SafetyStep:
    """One step of the sequence."""

    step: str
    do: str
    limit: str
    rules: str
    """Rule set with its edition."""
    source: str
    caution: str
    log: str
    """The line that records it."""
    status: Status
    why: str
    readings: tuple[SafetyReading, ...] = ()


@dataclass(frozen=True)
class SafetyTest:
    """The test as the log leaves it."""

    protection: str
    """Protection class, as found, else as the map claims; ``none`` where nobody said."""
    claimed: str
    rules: RuleSet | None
    needed: bool
    """Whether the unit may not be sold as working without it: it runs on mains."""
    verdict: Outcome
    why: str
    asked: tuple[str, ...]
    """What is not known of the unit, as the lines that would say it."""
    steps: tuple[SafetyStep, ...]


def safety_test(
    device: Device, told: Replay, instruments: Iterable[Instrument] = (), rules: RuleSet | None = None
) -> SafetyTest:
    """The safety test of a unit; ``rules`` in place of those that its last reading was taken by."""
    leaving = told.state.leaving
    protection = leaving.protection(device)
    taken = [event.rules for _, event in leaving.test.measured if event.rules]
    by = rules or (taken[-1] if taken else None)
    asked = tuple(_asked(leaving, protection))
    days = {line.seq: line.time[:10] for line in told.lines}
    bench = _Bench(device, leaving, protection, by, tuple(instruments), days)
    steps = tuple(bench.steps()) if protection != "none" else ()
    verdict, why = _verdict(leaving, steps, asked)
    needed = device.power == "mains" or protection in ("I", "II")
    return SafetyTest(protection, device.protection_class, by, needed, verdict, why, asked, steps)


def _asked(leaving: Leaving, protection: str) -> Iterable[str]:
    stated = leaving.test.stated
    if protection == "none":
        yield "stated class I (or II, III)"
    if protection == "I" and "cord" not in stated:
        yield "stated cord detachable 1.8 m 0.75 mm2 (or fixed; none if it is tested at its inlet)"
    if protection in ("I", "II") and "metal" not in stated:
        yield "stated metal earthed (or unearthed, both, none: what of its metal can be touched)"


def _verdict(leaving: Leaving, steps: tuple[SafetyStep, ...], asked: tuple[str, ...]) -> tuple[Outcome, str]:
    void = leaving.test.void
    if void:
        return "void", f"line {void.seq} ({void.line}) came after the test: begin it again, as the last act on the unit"
    for one in steps:
        if one.status == "failed":
            return "fail", f"{one.step}: {one.why}"
    if asked:
        return "incomplete", f"not known of the unit; log: {asked[0]}"
    for one in steps:
        if one.status == "open":
            return "incomplete", f"{one.step}: {one.why}"
    return "pass", "every step that this class asks for has passed; it says nothing of the next owner's use"


@dataclass(frozen=True)
class _Bench:
    device: Device
    leaving: Leaving
    protection: str
    rules: RuleSet | None
    instruments: tuple[Instrument, ...]
    days: dict[int, str]
    """Day of each line, ISO 8601."""

    def steps(self) -> Iterable[SafetyStep]:
        names = set()
        for row in plan_of_tests(self.protection):
            head, _, do = row.step.partition(":")
            if head in STEPS:
                step = STEPS[head]
                names.add(step)
                by = {"german": row.german, "british": row.british}
                shown = [text for name, text in by.items() if text and self.rules in (None, name)]
                both = [f"{name}: {text}" for name, text in by.items() if text]
                yield self._step(step, do.strip() or head, "; ".join(shown if self.rules else both))
        for row in plan_of_tests("I"):
            step = STEPS.get(row.step.partition(":")[0], "visual")
            if step not in names:
                why = (
                    "class II relies on no earth; an earth pin of it may be functional only"
                    if self.protection == "II"
                    else "class III is fed from a SELV source alone, no mains is on it; its supply is a unit of its own"
                )
                yield SafetyStep(step, row.step, "", "", "", "", "", "not asked for", why)

    def _step(self, step: str, do: str, limit: str) -> SafetyStep:
        page = PAGES.get(step)
        caution = page.page.caution if page else f"{plan_of_tests.page.caution} {LIVE}"
        if self.protection == "III" and page is None:
            caution = plan_of_tests.page.caution
        readings = tuple(
            self._reading(seq, event) for seq, event in self.leaving.test.measured if event.quantity == step
        )
        status, why = self._status(step, readings)
        rules, source = self._origin(step)
        log = f"inspected {step} passed"
        if step in UNITS:
            prefix = {"protective-earth": "", "insulation": "M"}.get(step, "m")
            log = f"measured {step} VALUE {prefix}{UNITS[step]} by INSTRUMENT"
            if step == "insulation":
                log += " at 500 V against LIMIT"
        return SafetyStep(step, do, limit, rules, source, caution, log, status, why, readings)

    def _origin(self, step: str) -> tuple[str, str]:
        """Rule set with edition, and source, of the limit of a step."""
        if step not in UNITS or self.rules is None:
            return "", ""
        country = {"german": "de", "british": "uk"}[self.rules]
        names = {
            "protective-earth": f"{country}.r_pe",
            "insulation": f"{country}.r_iso.class{len(self.protection)}",
            "protective-current": "de.i_pe" if country == "de" else "uk.i_leak",
            "touch-current": "de.i_touch" if country == "de" else "uk.i_leak",
        }
        row = limits().get(names[step])
        return (row.rules, row.source) if row else ("", "")

    def _status(self, step: str, readings: tuple[SafetyReading, ...]) -> tuple[Status, str]:
        test = self.leaving.test
        if step not in UNITS:
            if step not in test.inspected:
                return "open", f"log 'inspected {step} passed' or 'failed'"
            seq, outcome = test.inspected[step]
            return ("passed", f"line {seq}") if outcome == "passed" else ("failed", f"line {seq} says so")
        bare = self._without_metal(step)
        if bare:
            return "not asked for", bare
        if self.protection == "III" and not readings:
            return "not asked for", "only where the rules ask for it on a class III unit"
        failed = [one for one in readings if one.verdict == FAIL]
        if failed:
            return "failed", f"{failed[0].text} (line {failed[0].seq}); do not power it, do not sell it, mark it"
        counting = [one for one in readings if one.counts]
        unproved = next((one for one in (counting or readings) if one.verdict != PASS), None)
        if unproved:
            return "open", f"line {unproved.seq}: {unproved.verdict}"
        if not counting:
            return "open", "not measured yet"
        ignored = "".join(f"; line {one.seq} does not count" for one in readings if not one.counts)
        return "passed", f"line {', '.join(str(one.seq) for one in counting)}{ignored}"

    def _without_metal(self, step: str) -> str:
        """Why a step is not asked for on this unit, by the metal that can be touched."""
        metal = self.leaving.test.stated.get("metal")
        if metal is None:
            return ""
        if step == "touch-current" and self.protection == "I" and metal.value in ("earthed", "none"):
            return "no metal that can be touched is without earth"
        if step in ("insulation", "touch-current") and self.protection == "II" and metal.value == "none":
            return "no metal can be touched; some rules measure to foil: look into your copy"
        return ""

    def _reading(self, seq: int, event: ev.Measured) -> SafetyReading:
        day = self.days.get(seq, "")
        held = self._instrument(event.instrument, day)
        error = held.uncertainty if held else 0.0
        said = self._judged(event, error)
        verdict, counts = said.verdict, True
        if event.rules != self.rules:
            verdict, counts = f"taken by the {event.rules} rules, and rule sets are never mixed", False
        elif held is None:
            verdict, counts = f"no calibration of {event.instrument} is on the bench's log for {day}", False
        elif day >= held.due.isoformat():
            verdict, counts = f"{held.name} was out of calibration, due {held.due}", False
        calibrated = held.calibrated.isoformat() if held else ""
        return SafetyReading(seq, event.words(), event.instrument, calibrated, error, verdict, said.display, counts)

    def _instrument(self, name: str, day: str) -> Instrument | None:
        """The instrument as it was calibrated last before a day; of two lines with one date the later holds."""
        known = [one for one in self.instruments if one.name == name and one.calibrated.isoformat() <= day]
        return max(enumerate(known), key=lambda one: (one[1].calibrated, one[0]))[1] if known else None

    def _judged(self, event: ev.Measured, error: float) -> Verdict:
        unit = UNITS[event.quantity]
        reading = parse_reading(event.reading).value
        upper = event.quantity != "insulation"
        said = self._by_the_book(event, min(reading, HIGHEST[event.quantity]), error)
        if isinf(reading) and upper:
            said = Verdict(FAIL, said.limit, said.display, said.rules, said.source)
        if event.limit is None:
            return said
        own, worst = held_to(parse_quantity(event.limit, unit), reading, error, upper=upper)
        decided = [one for one in (said.verdict, own) if not one.startswith("none")]
        verdict = FAIL if FAIL in decided else next((one for one in decided if one != PASS), PASS)
        display = worst if said.display is None else (min if upper else max)(worst, said.display)
        return Verdict(verdict, said.limit, display, said.rules, said.source)

    def _by_the_book(self, event: ev.Measured, reading: float, error: float) -> Verdict:
        given = event.rules or self.rules or ORDER[0]
        if event.quantity == "protective-earth":
            cord = self.leaving.test.stated.get("cord")
            if cord is None:
                return Verdict("none: how long its cord is, is not known", "", None, "", "")
            length, section = cord.length or 0.0, (cord.section or 1.5) * 1e-6
            rows = earth_path(earth=reading, cord=length, section=section, error=error)
        elif event.quantity == "insulation":
            rows = insulation_test(insulation=reading, protection=self.protection, error=error)
        elif event.quantity == "protective-current":
            rows = protective_current_test(protective=reading, error=error)
        else:
            rows = touch_current_test(touch=reading, error=error)
        place = ORDER.index(given)
        if place >= len(rows):
            return Verdict("none: these rules have no limit here", "", None, "", "")
        said = rows[place]
        if said.verdict.startswith("none") and event.limit is None:
            advice = f"{said.verdict}, and log it with 'against LIMIT'"
            return Verdict(advice, said.limit, None, said.rules, said.source)
        return said
