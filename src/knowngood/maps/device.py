"""What a map says once it is read, checked and joined with its kinds: plain frozen data for the rooms below."""

from __future__ import annotations

from collections.abc import Set
from dataclasses import dataclass, field, replace
from functools import cached_property
from graphlib import TopologicalSorter

from knowngood.handbook.quantities import Expected, Money
from knowngood.maps.access import way_in
from knowngood.maps.words import FINE, HICCUP, LATCHED_OFF, MISSING, UNDER_SHORT, Level, UnderShort

BENCH = "bench"
"""The power of a limited bench supply."""

METER = "meter"
"""The tool that safe work always takes."""


@dataclass(frozen=True)
class Mode:
    """One fault mode of a part. ``share`` sums to one over the part's modes."""

    name: str
    says: str
    share: float
    gives: Level
    takes: str | None = None
    high: bool = False
    when: str | None = None
    limits: tuple[tuple[str, Level], ...] | None = None
    looks: tuple[tuple[str, float], ...] = ()
    past: tuple[tuple[str, float], ...] = ()
    seating: bool = False
    shows: float | None = None
    """Minutes after which a fault that comes and goes shows once, on average; None for one that is always there."""
    by_touch: float = 0.0
    """Chance that making the connection brings it about."""
    blows: bool = False
    """A short on a rail that needs the part brings this mode about: a fuse."""

    @property
    def by_hand(self) -> bool:
        """Whether a hand brings this mode about, not what happens inside the unit."""
        return self.seating or self.name == MISSING

    def limit(self, function: str) -> Level:
        """The best level that a function needing the part can reach in this mode."""
        if self.limits is None:
            return self.gives
        return dict(self.limits).get(function, Level.GOOD)


@dataclass(frozen=True)
class Remedy:
    """Something that may cure a part; ``cures`` maps each of its modes to the chance that it is gone."""

    name: str
    do: str
    cures: tuple[tuple[str, float], ...]
    minutes: float
    materials: Money | None
    part: bool
    wait: float
    spoils: tuple[tuple[str, float], ...]
    tools: tuple[str, ...]
    hazards: tuple[str, ...]
    holds: tuple[str, ...] = ()
    """Tools that stay on the part until it may be used."""


@dataclass(frozen=True)
class Prices:
    """What a replacement costs: new, used, or forgone on a donor."""

    new: Money | None = None
    used: Money | None = None
    donor: Money | None = None

    @property
    def forgone(self) -> float:
        """What taking it from a donor forgoes, in whole units of the map's currency; 0.0 if the map does not say."""
        return self.donor.major if self.donor else 0.0


@dataclass(frozen=True)
class Charge:
    """What a part stores while it has power: F, V, and the ohm that drain it by themselves (None: nothing does)."""

    capacitance: float
    charged_to: float
    bleed: float | None = None


@dataclass(frozen=True)
class Part:
    """A part or a connection, with all that its kind brings."""

    id: str
    what: str
    kind: str
    base: float
    modes: tuple[Mode, ...]
    looks: tuple[tuple[str, float], ...]
    past: tuple[tuple[str, float], ...]
    remedies: tuple[Remedy, ...]
    price: Prices
    behind: str | None = None
    parent: str | None = None
    zone: str | None = None
    on: tuple[str, ...] = ()
    joins: tuple[str, ...] = ()
    carries: tuple[str, ...] = ()
    reversible: bool = False
    latch: str | None = None
    """How a connection is held."""
    hazards: tuple[str, ...] = ()
    charge: Charge | None = None
    stores_data: bool = False
    revisions: tuple[tuple[str, tuple[str, ...]], ...] = ()
    """Those it exists in, each with the others that fit where it sat."""
    weight: float | None = None
    """kg, where the map says it."""

    def takes(self, revision: str) -> tuple[str, ...]:
        """Revisions that fit in a place that held ``revision``: that one first, then the others that the map names."""
        return tuple(dict.fromkeys((revision, *dict(self.revisions).get(revision, ()))))

    @property
    def is_connection(self) -> bool:
        return bool(self.joins)

    @cached_property
    def states(self) -> tuple[str, ...]:
        """Names of the states of its variable: fine first, then its modes."""
        return (FINE, *(mode.name for mode in self.modes))

    def times(self, event: str) -> float:
        """By what an event of the past multiplies the odds of the mode that it brings about most."""
        return dict(self.past).get(event, 1.0) * max(
            (dict(mode.past).get(event, 1.0) for mode in self.modes), default=1.0
        )

    @cached_property
    def comes_and_goes(self) -> bool:
        """Whether it has a fault that does not show all the time."""
        return any(mode.shows is not None for mode in self.modes)

    def mode(self, name: str) -> Mode:
        return next(mode for mode in self.modes if mode.name == name)

    @property
    def swap(self) -> Remedy | None:
        """The remedy that puts another part in its place, if its kind has one."""
        return next((remedy for remedy in self.remedies if remedy.part), None)

    def remedy(self, name: str) -> Remedy | None:
        return next((remedy for remedy in self.remedies if remedy.name == name), None)


@dataclass(frozen=True)
class Function:
    """A rail, signal or behaviour; ``needs`` all, one of each group in ``any_of``."""

    id: str
    what: str
    carries: str
    needs: tuple[str, ...]
    any_of: tuple[tuple[str, ...], ...] = ()
    spoiled_by: tuple[str, ...] = ()
    wanted: bool = False
    without: Money | None = None
    """What a unit brings less that is sold without it, declared; None where it may not be."""
    nominal: Expected | None = None
    to_ground: Expected | None = None
    short_below: float = 2.0
    drift: float = 0.0
    diode: Expected | None = None
    under_short: UnderShort = "off"
    """What its supply does when a load shorts it."""

    @property
    def left(self) -> Level:
        """What is left of a rail that a load shorts: a supply that folds back keeps some."""
        return UNDER_SHORT[self.under_short]

    def fed(self, rails: Set[str]) -> Function:
        """The same where a bench supply feeds some ``rails``: if it is one of them, it needs nothing else."""
        return replace(self, needs=(), any_of=()) if self.id in rails else self

    @cached_property
    def expected(self) -> dict[str, Expected]:
        """What is expected of a rail's readings, by the key of the map that says so."""
        said = {"nominal": self.nominal, "to_ground": self.to_ground, "diode": self.diode}
        return {key: one for key, one in said.items() if one is not None}


@dataclass(frozen=True)
class PartModes:
    """Sensed: the state of one part. ``chances`` maps each of its modes to P(bad); fine is at the false alarm rate."""

    part: str
    chances: tuple[tuple[str, float], ...]


@dataclass(frozen=True)
class FunctionLevel:
    """Sensed: the level of one function in the configuration of the test."""

    function: str


@dataclass(frozen=True)
class RailVoltage:
    """Sensed: the voltage of a rail, as a number."""

    function: str

    @property
    def unit(self) -> str:
        return "V"

    @property
    def key(self) -> str:
        """The key of the map that says what is expected."""
        return "nominal"


@dataclass(frozen=True)
class RailToGround:
    """Sensed: a rail to ground with power off, as a number: its resistance, or its forward drop in diode mode."""

    function: str
    diode: bool = False

    @property
    def unit(self) -> str:
        return "V" if self.diode else "ohm"

    @property
    def key(self) -> str:
        """The key of the map that says what is expected."""
        return "diode" if self.diode else "to_ground"


@dataclass(frozen=True)
class AnyMode:
    """Sensed: whether any of some modes of some parts is there."""

    modes: tuple[tuple[str, tuple[str, ...]], ...]


Sensed = PartModes | FunctionLevel | RailVoltage | RailToGround | AnyMode


@dataclass(frozen=True)
class Test:
    """A noisy sensor. ``verb`` is the log verb that records it: found, tried or read."""

    __test__ = False  # not a test of the test suite

    id: str
    verb: str
    do: str
    senses: Sensed
    outcomes: tuple[str, ...]
    minutes: float
    power: str
    behind: str | None = None
    closed: bool = False
    warm: bool = False
    miss: float = 0.05
    false_alarm: float = 0.02
    tools: tuple[str, ...] = ()
    hazards: tuple[str, ...] = ()
    runs: float = 0.0
    """Minutes that what is sensed is watched, if longer than a moment."""
    feeds: str | None = None
    """The one rail or part that alone gets the power of the test; None: the unit."""
    draw: Expected | None = None
    """What the unit draws meanwhile, in A or W, where the map says so."""

    @property
    def on_bench(self) -> Test:
        """The same with a bench supply in the place of the pack."""
        return replace(self, power=BENCH)


@dataclass(frozen=True)
class Fastener:
    """Fasteners of one sort in one access step."""

    count: int
    thread: str
    length: str | None
    driver: str
    where: str | None

    @property
    def sort(self) -> str:
        """Thread and length in one word, as a line of the log counts them: M3x8."""
        words = [self.thread, *([self.length.removesuffix("mm").strip()] if self.length else [])]
        return "x".join("-".join(word.split()) for word in words)


@dataclass(frozen=True)
class Step:
    """An access step."""

    id: str
    do: str
    after: tuple[str, ...]
    open_minutes: float
    close_minutes: float
    fasteners: tuple[Fastener, ...] = ()
    unplugs: tuple[str, ...] = ()
    removes: tuple[str, ...] = ()
    hazards: tuple[str, ...] = ()
    wait: float = 0.0
    any_of: tuple[tuple[str, ...], ...] = ()
    """Groups of steps of which one must be open."""
    holds: str | None = None
    risk: str | None = None


@dataclass(frozen=True)
class Married:
    """Parts that only work together, and what a split pair loses."""

    parts: tuple[str, ...]
    bond: str
    spoils: tuple[str, ...]


@dataclass(frozen=True)
class Precaution:
    """What a rule asks for in place of leaving a thing alone; see ``PrecautionTable``."""

    when: str
    do: str
    source: str


@dataclass(frozen=True)
class HazardRule:
    """A hard rule of a hazard; see ``HazardRuleTable`` for the meaning of each field."""

    id: str
    if_seen: tuple[str, ...]
    if_wet: bool
    if_power: tuple[str, ...]
    if_touched: bool
    if_short: bool
    unless: tuple[str, ...]
    forbids: str
    why: str
    precaution: Precaution | None = None


@dataclass(frozen=True)
class Hazard:
    """A hazard's caution, where it comes from, and its hard rules."""

    id: str
    caution: str
    source: str
    rules: tuple[HazardRule, ...] = ()
    in_units_on: tuple[str, ...] = ()
    """Kinds bring it only to units that run on one of these, if there are any."""
    safe_below: float | None = None
    """Direct voltage below which a charge counts as let off."""
    discharge_through: float | None = None
    """The resistor, in ohm, through which its caution lets it off."""


CELL = "cell"
"""The hazard of a pack."""

OF_THE_UNIT = ("wet", "short")
"""Hazards of the whole unit: their rules hold whether or not a part carries them."""


@dataclass(frozen=True)
class Worth:
    """What each way out brings, before fees."""

    working: Money
    as_is: Money
    parts: Money


@dataclass(frozen=True)
class Device:
    """One device, whole. ``functions`` are in an order in which each comes after all that it needs."""

    id: str
    what: str
    power: str
    protection_class: str
    unknown: float
    worth: Worth
    parts: dict[str, Part]
    functions: dict[str, Function]
    tests: dict[str, Test]
    steps: dict[str, Step]
    married: tuple[Married, ...]
    hazards: dict[str, Hazard]
    stores_data: bool
    content_hash: str
    text: str = field(repr=False, default="")
    starter: bool = False
    """Of no one model: how it opens is a guess."""
    weight: float | None = None
    """Of a whole unit, kg, where the map says it."""
    idle: Expected | None = None
    """What it draws with power and nothing started, in A or W."""

    @cached_property
    def packs(self) -> tuple[str, ...]:
        """The parts that feed the unit from a cell."""
        return tuple(part.id for part in self.parts.values() if CELL in part.hazards and not part.is_connection)

    @cached_property
    def charged(self) -> tuple[str, ...]:
        """The parts of which the map says what charge they hold."""
        return tuple(part.id for part in self.parts.values() if part.charge is not None)

    @cached_property
    def fed_on_bench(self) -> frozenset[str]:
        """The rails that a bench supply feeds in the place of the packs: those on which they hang."""
        rails = (rail for pack in self.packs for rail in self.parts[pack].on)
        return frozenset(rail for rail in rails if self.functions[rail].nominal is not None)

    @cached_property
    def path_to(self) -> dict[str, tuple[str, ...]]:
        """For each access step: the steps to open in a unit that is all closed, in order, itself last."""
        if self._choices:
            return {step: way_in(self.steps, frozenset(), (step,)) for step in self.steps}
        paths: dict[str, tuple[str, ...]] = {}
        for step in TopologicalSorter({name: one.after for name, one in self.steps.items()}).static_order():
            before = dict.fromkeys(one for needed in self.steps[step].after for one in paths[needed])
            paths[step] = (*before, step)
        return paths

    def way_in(self, opened: Set[str], *targets: str) -> tuple[str, ...]:
        """The closed steps to open at the least cost for these to be open, in order."""
        if not self._choices:
            return tuple(dict.fromkeys(one for target in targets for one in self.path_to[target] if one not in opened))
        asked = (frozenset(opened), targets)
        if asked not in self._ways:
            self._ways[asked] = way_in(self.steps, opened, targets)
        return self._ways[asked]

    @cached_property
    def _choices(self) -> bool:
        """Whether there is more than one way in."""
        return any(step.any_of for step in self.steps.values())

    @cached_property
    def _ways(self) -> dict[tuple[frozenset[str], tuple[str, ...]], tuple[str, ...]]:
        """The ways in that were asked for: the plan asks for the same ones over and over."""
        return {}

    @cached_property
    def unknown_per_function(self) -> float:
        """Chance of the unknown of one function, so that ``unknown`` is the chance over the whole unit."""
        return 1.0 - float((1.0 - self.unknown) ** (1.0 / max(1, len(self.functions))))

    @cached_property
    def loads_of(self) -> dict[str, tuple[str, ...]]:
        """For each rail: the parts that hang on it."""
        loads: dict[str, list[str]] = {function: [] for function in self.functions}
        for part in self.parts.values():
            for rail in part.on:
                loads[rail].append(part.id)
        return {rail: tuple(parts) for rail, parts in loads.items()}

    @cached_property
    def warmth_matters(self) -> bool:
        """Whether any fault acts only cold, or only warm."""
        return any(mode.when in ("cold", "warm") for part in self.parts.values() for mode in part.modes)

    def can_be_high(self, rail: str) -> bool:
        """Whether a mode of a part that feeds the rail drives it above its limits."""
        parts = (self.parts.get(need) for need in self.functions[rail].needs)
        return any(mode.high for part in parts if part for mode in part.modes)

    def can_pulse(self, rail: str) -> bool:
        """Whether a load can short the rail, whose supply then tries again and again."""
        return self.functions[rail].under_short == HICCUP and self.can_be_shorted(rail)

    def can_be_shorted(self, rail: str) -> bool:
        """Whether a load has a mode that shorts the rail."""
        return any(mode.takes == "short" for load in self.loads_of[rail] for mode in self.parts[load].modes)

    @cached_property
    def latching(self) -> frozenset[str]:
        """Rails whose supply stays off after a short until its input was away."""
        return frozenset(one.id for one in self.functions.values() if one.under_short == LATCHED_OFF)

    @cached_property
    def hard_rules(self) -> tuple[tuple[str, HazardRule, str | None], ...]:
        """Every hard rule that can hold here: its hazard, the rule, and the part that carries it (None: the unit)."""
        carried: list[tuple[str, str | None]] = [(name, None) for name in OF_THE_UNIT]
        carried += [(name, part.id) for part in self.parts.values() for name in part.hazards if name not in OF_THE_UNIT]
        return tuple(
            (name, rule, part)
            for name, part in carried
            for rule in (self.hazards[name].rules if name in self.hazards else ())
        )

    @cached_property
    def data_parts(self) -> tuple[str, ...]:
        """The parts that may hold data of whoever had the unit."""
        return tuple(part.id for part in self.parts.values() if part.stores_data)

    def needed(self, name: str) -> tuple[str, ...]:
        """The parts that a function cannot do without: what it needs, and what that needs. Of several that stand in for
        one another none is, and a load of a rail is none."""
        return self._needed[name]

    @cached_property
    def _needed(self) -> dict[str, tuple[str, ...]]:
        found: dict[str, tuple[str, ...]] = {part: (part,) for part in self.parts}
        for function in self.functions.values():
            found[function.id] = tuple(dict.fromkeys(part for need in function.needs for part in found[need]))
        return found

    def within(self, part: str) -> tuple[str, ...]:
        """The part and the assemblies that it is in, the innermost first."""
        found = [part]
        while (above := self.parts[found[-1]].parent) is not None and above not in found:
            found.append(above)
        return tuple(found)

    @cached_property
    def carries(self) -> dict[str, tuple[str, ...]]:
        """For each part: what sits on it or in it, at any depth."""
        found: dict[str, list[str]] = {part: [] for part in self.parts}
        for part in self.parts:
            for above in self.within(part)[1:]:
                found[above].append(part)
        return {part: tuple(carried) for part, carried in found.items()}

    @cached_property
    def moving_together(self) -> tuple[Married, ...]:
        """The married groups that can only move as a whole: bonds that have a part in common are one group."""
        found: list[Married] = []
        for bond in self.married:
            joined = [one for one in found if set(one.parts) & set(bond.parts)] + [bond]
            whole = Married(
                tuple(dict.fromkeys(part for one in joined for part in one.parts)),
                " and ".join(dict.fromkeys(one.bond for one in joined)),
                tuple(dict.fromkeys(name for one in joined for name in one.spoils)),
            )
            found = [one for one in found if one not in joined] + [whole]
        return tuple(found)

    @cached_property
    def left_behind(self) -> dict[str, tuple[str, ...]]:
        """For each part: those of its married groups, and of the groups of what sits on it, that would stay behind if
        it alone were put in from elsewhere."""
        return {
            part: tuple(
                one
                for group in self.moving_together
                if set(group.parts) & {part, *self.carries[part]}
                for one in group.parts
                if one not in (part, *self.carries[part])
            )
            for part in self.parts
        }

    @cached_property
    def plugs_of(self) -> dict[str, tuple[str, ...]]:
        """For each part: the connections it hangs on (it is the first that they join)."""
        plugs: dict[str, list[str]] = {part: [] for part in self.parts}
        for part in self.parts.values():
            if part.joins:
                plugs[part.joins[0]].append(part.id)
        return {part: tuple(names) for part, names in plugs.items()}

    @cached_property
    def tools(self) -> tuple[str, ...]:
        """Every tool that a test, a remedy or a fastener takes, by name; a meter, as letting off a charge takes it."""
        of_tests = (tool for test in self.tests.values() for tool in test.tools)
        of_parts = (tool for part in self.parts.values() for remedy in part.remedies for tool in remedy.tools)
        of_steps = (each.driver for step in self.steps.values() for each in step.fasteners)
        return tuple(sorted({METER, *of_tests, *of_parts, *of_steps}))

    @cached_property
    def wanted(self) -> tuple[str, ...]:
        return tuple(function.id for function in self.functions.values() if function.wanted)


@dataclass(frozen=True)
class ByContent:
    """A device as the key of a cache: its content hash stands for it."""

    content_hash: str
    device: Device = field(compare=False, repr=False)


def by_content(device: Device) -> ByContent:
    return ByContent(device.content_hash, device)
