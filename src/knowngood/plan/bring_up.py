"""Staged bring-up: what can be tried at which stage of the way back, at what limit, expecting what.

The stages are those of the reassembly sheet: the unit as it is, then as each block of the sheet leaves it with all
plugged and the step still open, and in the end closed. At each stage stands what can be tried there for the first time:
what it needs is in and plugged, and no hard rule forbids it (``plan.lifting``). Rails are read to ground before power.
Where no pack is joined, a limited bench supply stands in its place, at or below the voltage of the rail that it feeds.
One answer that is not right ends it: the plan goes on from there.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

from knowngood.errors import QuantityError
from knowngood.handbook.quantities import Expected, format_expected, format_quantity, parse_quantity, parse_reading
from knowngood.log import events as ev
from knowngood.log.misfit import packs_off
from knowngood.log.state import Line, Replay, State, after
from knowngood.maps.device import BENCH, Device, FunctionLevel, RailToGround, RailVoltage, Test
from knowngood.plan.before_power import COOLING, PRACTICE, without_cooling
from knowngood.plan.constraints import stand_ins
from knowngood.plan.hazards import at_most
from knowngood.plan.lifting import held_back
from knowngood.plan.moves import test_move
from knowngood.plan.reassembly import SheetLine, reassembly
from knowngood.plan.terms import Terms

OVER_EXPECTED = 1.5
"""A current limit is so many times the most that is expected, so that it can start (common practice, no source)."""

FIRST_LIMIT = 0.5
"""Current limit in A where the map says nothing of what the unit draws (common practice, no source: 0.5 A to begin)."""

APART = (ev.Opened, ev.Met, ev.Unplugged, ev.Removed, ev.Harvested, ev.Mended, ev.Used, ev.Began, ev.Past, ev.Received)
"""Lines after which a bring-up begins anew: something was taken apart or worked on, or its past is another."""

SHUTTING = ("screw", "unscrew", "close")
"""Lines of the sheet that shut a step; what comes before them can be tried with the step still open."""

NOTHING_FLOWS = "nothing flows: input open, fuse gone, reversed, or the source agreed on no voltage"
TOO_MUCH = "more than it should: at the limit at once it is a short at the input, after the key one on a rail it starts"
TOO_LITTLE = "less than it should: the start stops early, at a rail, a permission or an identity"
AT_REST = "more than it should at rest: something is on that should be off, or leaks; rising with warmth, stop at once"
"""What a current that is not as expected usually means (common practice, no source)."""


@dataclass(frozen=True)
class Trial:
    """One line of a stage."""

    kind: str
    """cold, draw, measure or try."""
    target: str
    do: str
    expect: str
    """The answer that is right: a range, or the sign of life that comes."""
    log: str
    """The line that records it, VALUE where a number belongs."""
    power: str
    minutes: float
    cautions: tuple[str, ...] = ()
    source: str = ""
    """Where what is expected comes from, if not from the map's own figures."""
    held: str = ""
    """Why a hard rule forbids it as things are then."""
    first: str = ""
    """The line that lifts this rule, if one does."""
    done: int | None = None
    """Number of the line that recorded it as right."""


@dataclass(frozen=True)
class Stage:
    """One stage."""

    open_steps: tuple[str, ...]
    do: tuple[SheetLine, ...]
    """Lines of the sheet that lead here from the stage before."""
    limits: tuple[str, ...]
    """How each supply that is used is limited, in words, and by what rule."""
    warnings: tuple[str, ...]
    """What is off that cools, and what cannot work yet."""
    lines: tuple[Trial, ...]
    not_yet: tuple[str, ...]
    """Functions that cannot be tried yet: that they do not work means nothing."""


@dataclass(frozen=True)
class Stop:
    """The first answer of this bring-up that was not right."""

    seq: int
    line: str
    why: str
    since: tuple[str, ...]
    """What was put together between the last right answer and this one."""


@dataclass(frozen=True)
class BringUp:
    """The bring-up of a unit as its log leaves it."""

    stages: tuple[Stage, ...]
    """The unit as it is, then what is ahead. Empty once it has stopped, or all was tried and is right."""
    stop: Stop | None
    passed: int
    """Answers of this bring-up that were right."""
    log_seq: int


def bring_up(device: Device, told: Replay, terms: Terms) -> BringUp:
    """The stages of a unit as its log leaves it."""
    answers = tuple(_answers(device, told))
    right = {one.target: one.seq for one in answers if not one.wrong}
    wrong = next((one for one in answers if one.wrong), None)
    if wrong:
        return BringUp((), _stop(told, answers, wrong), len(right), told.seq)
    stages = tuple(_Staging(device, told, terms, right).stages())
    return BringUp(stages, None, len(right), told.seq)


# --- what the log says to it ---


@dataclass(frozen=True)
class _Answer:
    """The last answer to one line of a stage."""

    target: str
    seq: int
    line: str
    wrong: str
    """Why it is not right; "" if it is."""


def _answers(device: Device, told: Replay) -> Iterator[_Answer]:
    """What was tried, read and drawn since something was last taken apart, each by its last line, in order."""
    begins = max((line.seq for line in told.lines if _begins_anew(line.event)), default=0)
    found: dict[str, _Answer] = {}
    for line in told.lines:
        asked = _asked(device, line.event) if line.seq > begins else None
        if asked is not None:
            target, wrong = asked
            found.pop(target, None)
            found[target] = _Answer(target, line.seq, ev.render(line.event), wrong)
    yield from found.values()


def _begins_anew(event: ev.Event) -> bool:
    return isinstance(event, APART) or (isinstance(event, ev.Fitted) and event.origin != ev.BACK)


def _asked(device: Device, event: ev.Event) -> tuple[str, str] | None:
    """The line of a stage that an event answers, and why the answer is not right ("" if it is)."""
    match event:
        case ev.Tried(test=name, outcome=outcome):
            about = device.tests[name]
            return (name, "" if outcome == about.outcomes[0] else f"'{about.outcomes[0]}' is what was to come")
        case ev.Read(test=name, reading=reading):
            return name, _misread(device, device.tests[name], reading)
        case ev.Drew(what=what, reading=reading):
            expected = drawn(device, what)
            return _draw_of(what), _misdrawn(expected, reading, at_rest=what == ev.IDLE) if expected else ""
        case _:
            return None


def drawn(device: Device, what: str) -> Expected | None:
    """What the map says of the draw of a function that is tried, or at rest."""
    return device.idle if what == ev.IDLE else device.tests[what].draw


def _draw_of(what: str) -> str:
    return f"draw at {what}"


def _misread(device: Device, test: Test, reading: str) -> str:
    assert isinstance(test.senses, (RailVoltage, RailToGround))
    rail = device.functions[test.senses.function]
    expected = rail.expected[test.senses.key]
    try:
        value = abs(parse_reading(reading).value)
    except QuantityError:
        return "the reading is no number"
    if isinstance(test.senses, RailToGround) and not test.senses.diode:
        if value < rail.short_below:
            return f"a short: below {format_quantity(rail.short_below, 'ohm')}"
        return "" if value >= expected.low else f"lower than {format_quantity(expected.low, 'ohm')} to ground"
    return "" if expected.low <= value <= expected.high else f"not within {format_expected(expected)}"


def _misdrawn(expected: Expected, reading: str, *, at_rest: bool) -> str:
    try:
        value = parse_quantity(reading, expected.unit)
    except QuantityError:
        return f"the map has it in {expected.unit}: read it in that"
    if expected.low <= value <= expected.high:
        return ""
    said = NOTHING_FLOWS if value == 0.0 else TOO_LITTLE
    if value > expected.high:
        said = AT_REST if at_rest else TOO_MUCH
    return f"not within {_between(expected)}; {said} ({PRACTICE})"


def _stop(told: Replay, answers: Sequence[_Answer], wrong: _Answer) -> Stop:
    last = max((one.seq for one in answers if not one.wrong and one.seq < wrong.seq), default=0)
    since = [_said(line) for line in told.lines if last < line.seq < wrong.seq and _puts_together(line.event)]
    return Stop(wrong.seq, wrong.line, wrong.wrong, tuple(since))


def _puts_together(event: ev.Event) -> bool:
    return isinstance(event, (*APART, ev.Plugged, ev.Closed, ev.Fitted))


def _said(line: Line) -> str:
    return f"line {line.seq}: {ev.render(line.event)}"


# --- the stages ---


@dataclass
class _Staging:
    device: Device
    told: Replay
    terms: Terms
    right: dict[str, int]
    listed: set[str] = field(default_factory=set)
    """Lines of the stages so far."""

    def stages(self) -> Iterator[Stage]:
        """Each stage that has something to try."""
        state, waiting = self.told.state, list[SheetLine]()
        stage = self._stage(state, waiting)
        if stage.lines:
            yield stage
        for block in reassembly(self.device, self.told, self.terms).blocks:
            for number, line in enumerate(block.lines):
                shuts = all(one.kind in SHUTTING for one in block.lines[number:])
                before = waiting[-1].kind if waiting else ""
                if shuts and before not in ("", *SHUTTING) and (stage := self._stage(state, waiting)).lines:
                    yield stage
                    waiting = []
                state = after(self.device, state, ev.parse(line.log), 0)
                waiting.append(line)
        if waiting and (stage := self._stage(state, waiting)).lines:
            yield stage

    def _stage(self, state: State, do: Sequence[SheetLine]) -> Stage:
        cold = list(self._cold(state))
        live = list(self._live(state))
        lines = [line for line in (*cold, *live) if self.right.get(line.target) is None or not do]
        self.listed |= {line.target for line in lines}
        if all(line.done for line in lines):  # nothing is left to try here
            lines = []
        tries = [one for one in self.device.tests.values() if one.verb == "tried" and one.power != "off"]
        not_yet = [one.id for one in tries if self._powered(state, one) is None and one.id not in self.right]
        powers = dict.fromkeys(line.power for line in lines if line.power != "off")
        return Stage(
            tuple(step for step in (*self.device.steps, *state.met.opened) if step in state.ajar),
            tuple(do),
            tuple(self._limit(power, lines, closed=not state.ajar) for power in powers),
            without_cooling(self._uncooled(state)) if powers else (),
            tuple(lines),
            tuple(not_yet),
        )

    # ---- what can be tried ------------------------------------------------------------------------------------------

    def _cold(self, state: State) -> Iterator[Trial]:
        """Rails to ground, where a probe comes to them, before they get power."""
        for test in self.device.tests.values():
            sensed = test.senses
            if not isinstance(sensed, RailToGround) or sensed.diode or test.id in self.listed:
                continue
            if test.behind is None or test.behind in state.open_steps:
                rail = self.device.functions[sensed.function]
                assert rail.to_ground is not None
                expect = (
                    f"{format_expected(rail.to_ground)}; below {format_quantity(rail.short_below, 'ohm')} is a short"
                )
                yield self._trial("cold", state, test, expect, f"read {test.id} VALUE")

    def _live(self, state: State) -> Iterator[Trial]:
        """Rails and functions with power, in the order in which each rests on those before it."""
        place = {name: number for number, name in enumerate(self.device.functions)}
        tests = [one for one in self.device.tests.values() if isinstance(one.senses, (FunctionLevel, RailVoltage))]
        tests = [one for one in tests if one.verb in ("read", "tried")]
        rested = False
        for test in sorted(tests, key=lambda one: place[one.senses.function]):  # type: ignore[union-attr]
            power = self._powered(state, test)
            if power is None or test.id in self.listed:
                continue
            test = replace(test, power=power)
            if not rested and self.device.idle and self._supply_of_idle(power):
                rested = True
                if _draw_of(ev.IDLE) not in self.listed:
                    yield self._draw(state, test, ev.IDLE, self.device.idle)
            if isinstance(test.senses, RailVoltage):
                nominal = self.device.functions[test.senses.function].nominal
                assert nominal is not None
                yield self._trial("measure", state, test, format_expected(nominal), f"read {test.id} VALUE")
                continue
            on_bench = " on bench" if power == BENCH else ""
            yield self._trial("try", state, test, f"it {test.outcomes[0]}", f"tried {test.id} works{on_bench}")
            if test.draw:
                yield self._draw(state, test, test.id, test.draw)

    def _supply_of_idle(self, power: str) -> bool:
        """Whether what the unit draws at rest is seen on this supply."""
        return power in (self.device.power, BENCH)

    def _draw(self, state: State, test: Test, what: str, expected: Expected) -> Trial:
        rest = "with power and nothing started" if what == ev.IDLE else f"while '{what}' is tried"
        do = f"Read what the supply gives {rest}"
        trial = self._trial("draw", state, test, _between(expected), f"drew VALUE {expected.unit} at {what}")
        target = _draw_of(what)
        return replace(trial, target=target, do=do, minutes=0.2, done=self.right.get(target))

    def _trial(self, kind: str, state: State, test: Test, expect: str, log: str) -> Trial:
        others = stand_ins(self.device, state, self.terms)
        move = test_move(self.device, state, test, others)
        held, first = held_back(self.device, state, self.terms, move, others)
        expected = test.senses
        rests_on = ""
        if isinstance(expected, (RailVoltage, RailToGround)):
            rests_on = self.device.functions[expected.function].expected[expected.key].rests_on
        return Trial(
            kind,
            test.id,
            test.do,
            expect,
            log,
            test.power,
            test.minutes,
            move.cautions,
            rests_on,
            held,
            first,
            self.right.get(test.id),
        )

    def _powered(self, state: State, test: Test) -> str | None:
        """What a test of the unit's functions would run on at a stage; None where it cannot be made there."""
        sensed = test.senses
        if not isinstance(sensed, (FunctionLevel, RailVoltage)) or test.power == "off" or test.feeds is not None:
            return None
        if (test.closed or test.warm) and state.ajar:
            return None
        if test.behind is not None and test.behind not in state.open_steps:
            return None
        power = test.power
        if power in ("battery", BENCH) and self.device.packs:
            if not packs_off(self.device, state):
                power = "battery"
            elif self.device.fed_on_bench:
                power = BENCH
            else:
                return None
        fed = self.device.fed_on_bench if power == BENCH else frozenset[str]()
        here = _Present(self.device, state, fed, beside=test.behind is not None)
        return power if here.has(sensed.function) else None

    # ---- what is said of a stage ------------------------------------------------------------------------------------

    def _limit(self, power: str, lines: Sequence[Trial], *, closed: bool) -> str:
        """How a supply is limited at a stage."""
        known = [one for name in self._drawing(power, lines) if (one := drawn(self.device, name)) is not None]
        most = max(known, key=lambda one: one.high, default=None)
        if power == BENCH:
            rails = [self.device.functions[rail] for rail in sorted(self.device.fed_on_bench)]
            volts = ", ".join(f"{at_most(rail.nominal)} on the {rail.what}" for rail in rails if rail.nominal)
            amps = math.ceil(round(10.0 * OVER_EXPECTED * most.high, 6)) / 10.0 if most else FIRST_LIMIT
            rule = f"{OVER_EXPECTED:g} times the most expected" if most else "the map says nothing of what it draws"
            return (
                f"limited bench supply in the place of the pack, every other source off: at most {volts}; "
                f"current limit {amps:g} A ({rule}; {PRACTICE})"
            )
        above = f"off above {_written(most, OVER_EXPECTED)}" if most else "off at more than its label says"
        if power == "mains":
            about = most if not closed else self.device.idle
            lamp = f"through a series lamp of about {_written(about) if about else 'its idle power'}"
            then = f"; once that is right, straight on it with a power meter between, {above}" if closed else ""
            return f"its own mains {lamp}, eyes on it, hand at the switch{then} ({PRACTICE})"
        if power == "battery":
            return f"its own pack, which limits nothing: an eye and a hand on it, off at warmth or smell ({PRACTICE})"
        return f"its own adaptor, a meter in its lead, {above} ({PRACTICE})"

    def _drawing(self, power: str, lines: Sequence[Trial]) -> Iterator[str]:
        """What draws at a stage: the functions that are tried on a supply, and rest."""
        if self._supply_of_idle(power):
            yield ev.IDLE
        yield from (line.target for line in lines if line.kind == "try" and line.power == power)

    def _uncooled(self, state: State) -> list[str]:
        here = _Present(self.device, state, frozenset(), beside=False)
        return [one.id for one in self.device.parts.values() if one.kind in COOLING and not here.cools(one.id)]


def _between(draw: Expected) -> str:
    return f"{format_quantity(draw.low, draw.unit)} to {format_quantity(draw.high, draw.unit)}"


def _written(draw: Expected, times: float = 1.0) -> str:
    return format_quantity(times * draw.high, draw.unit)


@dataclass(frozen=True)
class _Present:
    """What is in and plugged at a stage."""

    device: Device
    state: State
    fed: frozenset[str]
    beside: bool
    """Whether what the open steps took off lies beside, in use: the map has the test made with its step open."""

    def has(self, name: str) -> bool:
        """Whether all that a function or part takes is there."""
        if name in self.fed:
            return True
        if name in self.device.functions:
            function = self.device.functions[name]
            return all(map(self.has, function.needs)) and all(any(map(self.has, group)) for group in function.any_of)
        return name not in self.state.apart and (self.beside or name not in self._off)

    def cools(self, part: str) -> bool:
        """Whether a part that takes heat away is in, and plugged."""
        plugs = self.device.plugs_of[part]
        return part not in self.state.apart | self._off and not self.state.apart.intersection(plugs)

    @cached_property
    def _off(self) -> frozenset[str]:
        """What the open steps took off, but for what a connection was made to again since."""
        steps = [self.device.steps[step] for step in self.state.open_steps]
        made = {plug for step in steps for plug in step.unplugs} - self.state.apart
        joined = _ends(self.device, made)
        return frozenset(part for step in steps for part in step.removes) - joined


def _ends(device: Device, connections: Iterable[str]) -> frozenset[str]:
    """What connections join, with the assemblies that it is in."""
    ends = (end for one in connections for end in device.parts[one].joins)
    return frozenset(part for end in ends if end in device.parts for part in device.within(end))
