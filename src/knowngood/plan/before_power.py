"""Before power: what of the work on a unit is worth checking, the dearest to have wrong first.

A line is worth its odds times its damage. Odds of what was touched are the belief's, those of the general lines common
practice. The damage is money by the map: the time to open again, what the fault may hurt, and where it may hurt a
person a sum that no part comes near. Each line has the line of the log that ticks it, and is gone once that is logged.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from knowngood.belief.believe import Belief
from knowngood.handbook.quantities import format_minutes
from knowngood.log.fasteners import ANY_SORT
from knowngood.log.state import Replay
from knowngood.maps.device import Device, Mode, Part, RailToGround, Test
from knowngood.maps.words import CHECKS, REVERSED, SEATED
from knowngood.plan.constraints import stand_ins
from knowngood.plan.hazards import Act, breaches, cautions, hands_near
from knowngood.plan.joints import THERMAL, not_swapped, undone
from knowngood.plan.lifting import held_back
from knowngood.plan.moves import Move, look_move, lower, test_move
from knowngood.plan.terms import PRICE_UNKNOWN_SHARE, Terms
from knowngood.plan.touched import Work, shown_by_trying, since_power, unchecked, unseen_work

PRACTICE = "common practice, no source"

DANGEROUS = frozenset({"mains", "stored-charge", "cell", "laser", "lamp"})
"""Hazards that may hurt a person when something is put together wrong."""

HARM = 10.0
"""What may hurt a person counts as so many times what the unit brings working: above any part (own judgement)."""

FIND_MINUTES = 15.0
"""Time to find out that something was put together wrong, once the unit is closed (own judgement)."""

IN_THE_CASE = 0.2
"""Chance that a fastener that was not counted in lies loose in the case (own judgement)."""

COOLING = frozenset({"fan", "heat-path"})
"""Kinds without which the unit overheats in seconds."""


@dataclass(frozen=True)
class General:
    """A line of common practice."""

    odds: float
    """Middle of the range for practised hands."""
    hurts: str
    """What a fault there may hurt: person, part or time."""
    minutes: float


GENERAL = {
    "nothing-left": General(0.005, "part", 0.2),
    "long-screws": General(0.001, "part", 0.5),
    "pinched": General(0.01, "part", 0.3),
    "shaken": General(0.006, "part", 0.2),
    "fuse": General(0.005, "person", 0.2),
    "covers": General(0.006, "person", 0.1),
    "married": General(0.003, "part", 0.1),
    "heat": General(0.007, "part", 0.2),
    "interlocks": General(0.02, "time", 0.1),
    "battery-last": General(0.003, "part", 0.1),
    "set-up": General(0.035, "time", 0.3),
}
"""Odds, what is at stake and time of the general lines (common practice, no source)."""


@dataclass(frozen=True)
class Line:
    """One line of the list."""

    kind: str
    """seated, look, cold, count or general."""
    target: str
    do: str
    log: str
    """The line of the log that ticks it, or its start where a number follows."""
    odds: float
    damage: float
    """Money that a fault there would cost on average."""
    hurts: str
    """What it may hurt, in words."""
    minutes: float
    cautions: tuple[str, ...] = ()
    source: str = ""
    """Where the odds come from, if not from the belief."""
    opens: tuple[str, ...] = ()
    """Steps that are closed in front of it: it cannot be made now."""
    shown_by: str = ""
    """The try that runs across a connection and across as little else as there is."""
    held: str = ""
    """Why a hard rule forbids it now."""
    first: str = ""
    """The line that lifts this rule, if one does."""

    @property
    def at_stake(self) -> float:
        """Odds times damage."""
        return self.odds * self.damage


@dataclass(frozen=True)
class BeforePower:
    """The list of a unit, the dearest line first."""

    lines: tuple[Line, ...]
    """What can be done now."""
    closed_in: tuple[Line, ...]
    """What lies behind closed steps: only a function that runs across it shows it now."""
    held: tuple[Line, ...]
    """What a hard rule forbids now."""
    no_power: tuple[str, ...]
    """Why it must have no power yet."""
    apart: tuple[str, ...]
    """What is still open, unplugged or out, and whether it may be so."""
    with_power: tuple[str, ...]
    """Cautions that come with the power itself."""
    log_seq: int

    @property
    def any_fault(self) -> float:
        """Chance that at least one of the lines would find something, taken as independent."""
        fine = 1.0
        for line in (*self.lines, *self.closed_in, *self.held):
            fine *= 1.0 - line.odds
        return 1.0 - fine


def before_power(device: Device, told: Replay, terms: Terms, belief: Belief) -> BeforePower:
    """The list for a unit as its log leaves it."""
    found = _Finding(device, told, terms, belief)
    lines = sorted(found.all(), key=lambda one: (-one.at_stake, one.target))
    state = told.state
    power = Act(power=device.power)
    forbidden = [str(one) for one in breaches(device, state, power, found.others)]
    curing = [
        f"{device.parts[part].what} still cures: {format_minutes(left)} left." for part, left in state.curing.items()
    ]
    return BeforePower(
        tuple(one for one in lines if not one.opens and not one.held),
        tuple(one for one in lines if one.opens),
        tuple(one for one in lines if one.held and not one.opens),
        tuple(dict.fromkeys((*forbidden, *curing))),
        tuple(_apart(device, told)),
        cautions(device, state, power, ()),
        told.seq,
    )


def _apart(device: Device, told: Replay) -> Iterator[str]:
    state = told.state
    if state.open_steps:
        yield f"open: {', '.join(sorted(state.open_steps))}"
    if state.unplugged | state.loose:
        yield f"unplugged: {', '.join(sorted(state.unplugged | state.loose))}"
    if state.removed:
        yield f"out: {', '.join(sorted(state.removed))}"
    off = {one for name in state.unplugged | state.loose for one in device.parts[name].joins[:1]} | state.removed
    yield from without_cooling(sorted(one for one in off if device.parts[one].kind in COOLING))


def without_cooling(off: Sequence[str]) -> tuple[str, ...]:
    """What to mind with power while parts that take heat away are off."""
    if not off:
        return ()
    return (f"without {', '.join(off)} it overheats: power for two seconds at most, or not at all ({PRACTICE})",)


class _Finding:
    """The lines of one unit."""

    def __init__(self, device: Device, told: Replay, terms: Terms, belief: Belief) -> None:
        self.device, self.told, self.terms, self.belief = device, told, terms, belief
        self.state = told.state
        self.others = stand_ins(device, told.state, terms)
        self.modes = {one.part: one.modes for one in belief.suspects}
        self.work = since_power(device, told)
        self.dearest = max((self._price(part) for part in device.parts.values()), default=0.0)

    def all(self) -> Iterator[Line]:
        """Every line, in no order."""
        yield from self._seated()
        yield from self._looks()
        yield from self._cold()
        yield from self._counts()
        if not self.state.powered:
            yield from self._general()

    # ---- what was touched -------------------------------------------------------------------------------------------

    def _seated(self) -> Iterator[Line]:
        for name in unchecked(self.device, self.told):
            part = self.device.parts[name]
            test = self.device.tests.get(f"{name}.{SEATED}")
            if test is None:
                continue
            ways = [mode for mode in part.modes if mode.seating]
            odds = [self.modes[name][mode.name] for mode in ways]
            cost = [self._damage(part, mode) for mode in ways]
            what = f"{part.what}: {lower(test.do)}{not_swapped(self.device, name, self.state.touched)}"
            line = self._tested(test, "seated", name, what, f"found {test.id} {test.outcomes[0]}")
            line = replace(line, shown_by=shown_by_trying(self.device, name))
            yield self._weighed(line, odds, cost, self._at_risk(part))

    def _looks(self) -> Iterator[Line]:
        for name, spoils in unseen_work(self.device, self.told).items():
            part = self.device.parts[name]
            move = look_move(self.device, self.state, part)
            modes = [part.mode(mode) for mode, _ in spoils]
            odds = [self.modes[name][mode.name] for mode in modes]
            cost = [self._damage(part, mode) for mode in modes]
            do = f"{part.what}: under a magnifier, 2 cm round what was worked on"
            line = self._moved(move, "look", name, do, f"saw {name} fine magnified")
            yield self._weighed(line, odds, cost, self._at_risk(part))

    def _cold(self) -> Iterator[Line]:
        """Rails that hang on what was worked on, to ground with power off."""
        worked = {one for name in self.work.parts for one in (name, *self.device.parts[name].joins)}
        rails = {rail for name in worked for rail in self.device.parts[name].on}
        for test in self.device.tests.values():
            sensed = test.senses
            if not isinstance(sensed, RailToGround) or sensed.diode or sensed.function not in rails:
                continue
            if self.belief.outcome_in_this_state(test) is not None:
                continue
            loads = [self.device.parts[one] for one in self.device.loads_of[sensed.function]]
            odds = [self.modes[one.id][mode.name] for one in loads for mode in one.modes if mode.takes == "short"]
            feeds = [
                self.device.parts[one] for one in self.device.functions[sensed.function].needs if one in self.modes
            ]
            cost = self._time(test.behind) + max((self._price(one) for one in feeds), default=0.0)
            line = self._tested(test, "cold", sensed.function, test.do, f"read {test.id}")
            hurt = f"what feeds it: {', '.join(one.id for one in feeds)}" if feeds else "what feeds it"
            yield self._weighed(line, odds, [cost] * len(odds), hurt)

    def _counts(self) -> Iterator[Line]:
        """Fasteners of closed steps that were not counted in."""
        balances = self.state.fasteners.balances(self.device, self.state.open_steps)
        for step, balance in balances.items():
            if step in self.state.open_steps:
                continue
            for sort, count in balance.missing.items():
                of = f" x {sort}" if sort != ANY_SORT else ""
                verb, said = ("screwed", "not in") if count > 0 else ("unscrewed", "too many")
                do = f"Screws of {step}: {abs(count)}{of} {said}. Find what is missing before power, in the case too"
                log = f"{verb} {step} {abs(count)}{of}"
                line = self._plain("count", step, do, log, 1.0)
                yield replace(line, odds=IN_THE_CASE, damage=self._of("part"), hurts="any board that it falls on")

    # ---- lines of common practice -----------------------------------------------------------------------------------

    def _general(self) -> Iterator[Line]:
        for name in self._that_apply():
            if name in self.state.checked:
                continue
            about = GENERAL[name]
            line = self._plain("general", name, CHECKS[name], f"checked {name}", about.minutes)
            hurts = {"person": "a person", "part": "the dearest part", "time": "time"}[about.hurts]
            yield replace(line, odds=about.odds, damage=self._of(about.hurts), hurts=hurts, source=PRACTICE)

    def _that_apply(self) -> Iterator[str]:
        device, state, work = self.device, self.state, self.work
        off = {part for step in work.steps for part in device.steps[step].removes} | work.parts
        ends = {one for name in work.parts for one in device.parts[name].joins}
        carried = {hazard for part in device.parts.values() for hazard in part.hazards}
        applies = {
            "nothing-left": bool(work.steps or work.parts),
            "long-screws": self._long_screws(work),
            "pinched": bool(work.steps) and not state.open_steps,
            "shaken": bool(work.steps),
            "fuse": any(device.parts[part].kind == "fuse" for part in work.parts),
            "covers": bool(work.steps) and bool(carried & {"mains", "stored-charge"}),
            "married": any(off & set(one.parts) for one in device.married),
            "heat": any(
                device.parts[one].kind in COOLING or device.parts[one].remedy(THERMAL) is not None for one in off | ends
            ),
            "interlocks": any(
                off & set(function.needs) for function in device.functions.values() if function.carries == "permission"
            ),
            "battery-last": "cell" in carried and bool(work.steps or work.parts),
            "set-up": True,
        }
        return (name for name, so in applies.items() if so)

    def _long_screws(self, work: Work) -> bool:
        """Whether screws of one thread and several lengths were out together and are in again."""
        out = undone([step for step in self.device.steps.values() if step.id in work.steps])
        shut = work.steps - self.state.open_steps
        return any(one.odd for step in shut for one in out[step])

    # ---- what it would cost -----------------------------------------------------------------------------------------

    def _damage(self, part: Part, mode: Mode) -> float:
        """Money that a part put together wrong in this way costs on average."""
        ends = [self.device.parts[one] for one in part.joins]
        violent = mode.name == REVERSED or mode.takes is not None or mode.high
        carriers = (part, *ends) if violent else (part,)
        harm = any(DANGEROUS & set(one.hazards) for one in carriers)
        hurt = sum(self._price(one) for one in ends) if violent else 0.0
        lost = self._price(part) if not mode.seating else 0.0
        return self._time(part.behind) + hurt + lost + (self._of("person") if harm else 0.0)

    def _at_risk(self, part: Part) -> str:
        """What a part put together wrong may hurt, in words."""
        ends = [self.device.parts[one] for one in part.joins]
        violent = any(mode.name == REVERSED for mode in part.modes)
        carriers = (part, *ends) if violent else (part,)
        hazards = dict.fromkeys(name for one in carriers for name in one.hazards if name in DANGEROUS)
        hurt = [one.id for one in ends if violent and self._price(one)]
        words = [f"a person ({', '.join(hazards)})"] if hazards else []
        return ", ".join((*words, *hurt, "time")) if part.is_connection else ", ".join((*words, part.id, "time"))

    def _price(self, part: Part) -> float:
        """What another one costs; a share of the unit where the map gives no price."""
        if part.is_connection:
            return 0.0
        prices = [price.major for price in (part.price.used, part.price.new) if price]
        return min(prices, default=PRICE_UNKNOWN_SHARE * self.device.worth.working.major if part.swap else 0.0)

    def _time(self, behind: str | None) -> float:
        """Money for the time to find out, open again, and close."""
        steps = [self.device.steps[one] for one in self.device.path_to[behind]] if behind else []
        return (FIND_MINUTES + sum(one.open_minutes + one.close_minutes for one in steps)) * self.terms.rate

    def _of(self, what: str) -> float:
        """What a general line has at stake."""
        stakes = {"person": HARM * self.device.worth.working.major, "part": self.dearest, "time": 0.0}
        return stakes[what] + self._time(None)

    # ---- a line as a move -------------------------------------------------------------------------------------------

    def _tested(self, test: Test, kind: str, target: str, do: str, log: str) -> Line:
        return self._moved(test_move(self.device, self.state, test, self.others), kind, target, do, log)

    def _moved(self, move: Move, kind: str, target: str, do: str, log: str) -> Line:
        """A line with what hard rules say of its move."""
        line = Line(kind, target, do, log, 0.0, 0.0, "", move.minutes, move.cautions, opens=move.opens)
        held, first = held_back(self.device, self.state, self.terms, move, self.others)
        return replace(line, held=held, first=first)

    def _plain(self, kind: str, target: str, do: str, log: str, minutes: float) -> Line:
        """A line that lays hands on the outside only."""
        move = Move(kind, target, do, minutes, 0.0, Act(near=hands_near(self.device, (), (), (), ())), log=log)
        return self._moved(move, kind, target, do, log)

    @staticmethod
    def _weighed(line: Line, odds: Iterable[float], damage: Iterable[float], hurts: str) -> Line:
        """A line with the chance that any of some faults is there, and what one costs on average."""
        chances, costs = list(odds), list(damage)
        whole = sum(chances)
        mean = sum(one * cost for one, cost in zip(chances, costs, strict=True)) / whole if whole else 0.0
        return replace(line, odds=min(1.0, whole), damage=mean, hurts=hurts)
