"""The shape of kind and map files. One class a table; the field descriptions are the printed documentation.

Values are written as people write them ("12 V +/- 5 %", "6 min", "15 %", "EUR 14") and arrive here as numbers.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, WithJsonSchema

from knowngood.errors import QuantityError, RangeError
from knowngood.handbook.quantities import (
    Expected,
    Money,
    parse_expected,
    parse_minutes,
    parse_money,
    parse_quantity,
    parse_share,
)
from knowngood.maps.calls import called, is_call
from knowngood.maps.words import (
    Bond,
    Carries,
    Feeds,
    Forbids,
    Holds,
    LevelWord,
    Lifts,
    Power,
    PrecautionWhen,
    ProtectionClass,
    Takes,
    UnderShort,
    When,
)

LONGEST = 60
"""Characters that a written quantity may have."""


def _written(parse: Callable[[Any], Any], kind: type) -> Callable[[Any], Any]:
    def read(value: Any) -> Any:
        if isinstance(value, kind) and not isinstance(value, (str, int, float)):
            return value
        if isinstance(value, bool) or not isinstance(value, (str, int, float)):
            shown = "nothing" if value is None else str(value).lower() if isinstance(value, bool) else "a table or list"
            raise ValueError(f"{shown} stands where a number with its unit belongs.")
        if len(str(value)) > LONGEST and not is_call(str(value)):
            raise ValueError(
                f"a quantity of {len(str(value))} characters. Write it shorter, with a prefix, as '4.7 k'."
            )
        try:
            return parse(value)
        except (QuantityError, RangeError) as error:
            raise ValueError(str(error)) from None

    return read


def _text(parse: Callable[[str], Any]) -> Callable[[Any], Any]:
    return lambda value: parse(str(value))


def _read_in(unit: str) -> BeforeValidator:
    return BeforeValidator(_written(lambda value: parse_quantity(str(value), unit), float))


_SHARE = {"type": ["string", "number"], "examples": ["15 %", 0.15]}
Share = Annotated[float, BeforeValidator(_written(parse_share, float)), WithJsonSchema(_SHARE)]
Minutes = Annotated[
    float,
    BeforeValidator(_written(parse_minutes, float)),
    WithJsonSchema({"type": ["string", "number"], "examples": ["12 min", "2 h"]}),
]
Price = Annotated[
    Money,
    BeforeValidator(_written(_text(parse_money), Money)),
    WithJsonSchema({"type": "string", "examples": ["EUR 14"]}),
]


def _limits(unit: str) -> Callable[[str], Expected]:
    return lambda text: called(text, unit) if is_call(text) else parse_expected(text)


CALL = "feedback-output(reference 0.8 V, upper 31k6, lower 10k1) +/- 5 %"
"""An example of a call of the handbook in place of a written value."""

VoltLimits = Annotated[
    Expected,
    BeforeValidator(_written(_text(_limits("V")), Expected)),
    WithJsonSchema({"type": "string", "examples": ["12 V +/- 5 %", CALL]}),
]
OhmLimits = Annotated[
    Expected,
    BeforeValidator(_written(_text(_limits("ohm")), Expected)),
    WithJsonSchema({"type": "string", "examples": ["20 ohm to 1 Mohm"]}),
]


def _draw(text: str) -> Expected:
    found = parse_expected(text)
    if found.unit not in ("A", "W") or found.low < 0.0:
        raise QuantityError(
            f"{text!r} is no current or power that is drawn. Write it as '180 mA to 320 mA' or '30 W to 45 W'."
        )
    return found


DrawLimits = Annotated[
    Expected,
    BeforeValidator(_written(_text(_draw), Expected)),
    WithJsonSchema({"type": "string", "examples": ["180 mA to 320 mA"]}),
]
Ohms = Annotated[float, _read_in("ohm"), WithJsonSchema({"type": ["string", "number"], "examples": ["2 ohm"]})]
Volts = Annotated[float, _read_in("V"), WithJsonSchema({"type": ["string", "number"], "examples": ["10 V"]})]
Farads = Annotated[float, _read_in("F"), WithJsonSchema({"type": ["string", "number"], "examples": ["330 uF"]})]
Kilograms = Annotated[
    float, Field(gt=0), _read_in("kg"), WithJsonSchema({"type": ["string", "number"], "examples": ["4.1 kg", "40 g"]})
]
Factor = Annotated[float, Field(gt=0, description="Multiplies odds")]
NAME = r"^[a-z0-9][a-z0-9-]*$"
"""Form of a name."""

Name = Annotated[str, Field(pattern=NAME, description="Lower-case words joined by hyphens")]

Group = Annotated[list[Name], Field(min_length=1)]


class Table(BaseModel):
    """Base of every table: a key that is not known is a mistake, never ignored."""

    model_config = ConfigDict(extra="forbid", frozen=True, arbitrary_types_allowed=True, allow_inf_nan=False)


class ModeTable(Table):
    """One way in which a part can be faulty."""

    says: str | None = Field(None, description="The fault in words, as a line of a suspect list")
    ratio: float | None = Field(None, gt=0, description="Share of this part's faults, relative to its other modes")
    published: str | None = Field(None, description="Name of this mode in the published row that the kind names")
    gives: LevelWord | None = Field(None, description="What a function that needs the part can still reach")
    takes: Takes | None = Field(None, description="What it does to the rail it hangs on: short or heavy")
    high: bool | None = Field(None, description="Drives the rail it feeds above its limits")
    when: When | None = Field(None, description="The condition under which the fault acts; always, if not given")
    limits: dict[Name, LevelWord] | None = Field(None, description="Functions it limits, in place of 'gives'")
    looks: dict[str, Share] | None = Field(None, description="Chance that an eye finds this condition on it")
    past: dict[str, Factor] | None = Field(None, description="Odds multiplier of this mode alone, by past")
    seating: bool | None = Field(None, description="Drawn afresh each time the connection is made")
    by_touch: Share | None = Field(None, description="Chance that the hand that makes the connection brings it about")
    shows: Minutes | None = Field(
        None,
        description="It comes and goes: watched for this long, it shows once on average; always there, if not given",
    )
    blows: bool | None = Field(None, description="A short on a rail that needs the part has blown it: a fuse")


class TestTable(Table):
    """A test of one part (in a kind) or of a function or several parts (in a map)."""

    do: str = Field(description="What the hands do")
    detects: dict[str, Share] | None = Field(None, description="In a kind: mode, and chance to find it")
    senses: Name | None = Field(None, description="In a map: the function whose level it shows")
    parts: dict[Name, list[str]] | None = Field(None, description="In a map: modes of parts, any of which shows")
    outcomes: list[Name] = Field(["ok", "bad"], min_length=2, max_length=2, description="Words for ok and bad")
    miss: Share = Field(0.05, description="Chance to say ok though it is bad")
    false_alarm: Share = Field(0.02, description="Chance to say bad though it is ok")
    minutes: Minutes = Field(description="Hands-on time")
    power: Power = Field("off", description="What the unit runs on during the test")
    feeds: Feeds = Field("unit", description="In a kind, on the bench supply: what alone is fed, if not the unit")
    closed: bool = Field(False, description="Only meaningful with everything closed")
    warm: bool = Field(False, description="Only meaningful warm")
    runs: Minutes = Field(0.0, description="Time for which it is watched, if longer than a moment")
    behind: Name | None = Field(None, description="Access step that must be open (a kind's test: where the part is)")
    tools: list[str] = Field([], description="What it takes beyond bare hands")
    hazards: list[str] = Field([], description="Hazards of doing it")


class RemedyTable(Table):
    """Something that may cure."""

    do: str = Field(description="What the hands do")
    cures: dict[str, Share] = Field(description="Mode (or 'any') and chance that it is gone afterwards")
    minutes: Minutes = Field(description="Hands-on time, access not counted")
    materials: Price | None = Field(None, description="What is used up")
    part: bool = Field(False, description="Puts another part in its place")
    wait: Minutes = Field(0.0, description="Time until it may be used, hands free")
    holds: list[str] = Field([], description="Tools that stay on it until then, as a clamp")
    spoils: dict[str, Share] = Field({}, description="Mode of this part that it may cause, and chance")
    tools: list[str] = Field([], description="What it takes beyond bare hands")
    hazards: list[str] = Field([], description="Hazards of doing it")


class ChargeTable(Table):
    """What a part with a stored charge holds, so that its caution can say how long it takes to be gone."""

    capacitance: Farads = Field(description="Of the capacitor that keeps the charge")
    charged_to: Volts = Field(description="Voltage across it while the unit has power")
    bleed: Ohms | None = Field(None, description="What drains it by itself, if anything does")


class KindTable(Table):
    """A part kind: everything a part brings without a line of its own."""

    says: str = Field(description="The kind in words")
    base: Share = Field(description="Chance of at least one fault in a bought broken unit, history unknown")
    base_source: str = Field(description="Where the base comes from")
    ratios: str | None = Field(None, description="Row of the published failure-mode table that modes refer to")
    ratios_source: str = Field(description="Where the ratios come from")
    past: dict[str, Factor] = Field({}, description="Odds multiplier by past")
    past_source: str = Field("common practice, no source", description="Where the multipliers come from")
    looks: dict[str, Share] = Field({}, description="Chance of a condition on a part with no fault")
    missing: Share = Field(0.002, description="Chance that the part is not there at all")
    modes: dict[Name, ModeTable] = Field(description="The ways in which it can be faulty")
    tests: dict[Name, TestTable] = Field({}, description="Tests of the part by itself")
    remedies: dict[Name, RemedyTable] = Field({}, description="What may cure it")
    hazards: list[str] = Field([], description="Hazards that it brings")
    stores_data: bool = Field(False, description="May hold data of whoever had the unit (common practice, no source)")
    charge: ChargeTable | None = Field(None, description="What it stores, with the hazard 'stored-charge'")


class PriceTable(Table):
    """What the part costs: new, used, and what taking it from a donor forgoes."""

    new: Price | None = Field(None, description="Bought new")
    used: Price | None = Field(None, description="Bought used")
    donor: Price | None = Field(None, description="What a donor unit loses without it")


class PartTable(Table):
    """A part of the device. Usually one line: its kind brings the rest."""

    what: str = Field(description="The part in words")
    kind: Name = Field(description="Its part kind, which brings faults, looks, tests and remedies")
    parent: Name | None = Field(None, description="The assembly it belongs to")
    behind: Name | None = Field(None, description="Access step after which it can be seen and touched")
    on: list[Name] = Field([], description="Rails that it loads")
    zone: str | None = Field(None, description="Where in the unit, for common causes")
    base: Share | None = Field(None, description="Chance of a fault with no history, in place of the kind's")
    past: dict[str, Factor] = Field({}, description="Odds multiplier by past, over the kind's")
    missing: Share | None = Field(None, description="Chance that it is not there at all, in place of the kind's")
    modes: dict[Name, ModeTable | None] = Field({}, description="Modes changed, added, or taken away (null)")
    tests: dict[Name, TestTable | None] = Field({}, description="Tests of it, over the kind's; taken away by null")
    remedies: dict[Name, RemedyTable | None] = Field({}, description="Cures, over the kind's; taken away by null")
    price: PriceTable = Field(PriceTable(), description="What another one costs")
    revisions: dict[str, list[str]] = Field(
        {}, description="Revisions it exists in, each with those others that fit where it sat"
    )
    hazards: list[str] = Field([], description="Hazards on top of the kind's")
    stores_data: bool | None = Field(
        None, description="May hold data of whoever had the unit; as its kind, if not given"
    )
    charge: ChargeTable | None = Field(None, description="What it stores, in place of the kind's ('stored-charge')")
    weight: Kilograms | None = Field(None, description="What it weighs by itself, for what a unit weighs without it")


class ConnectionTable(PartTable):
    """A cable or connector: a part that can also be unplugged."""

    joins: list[Name] = Field(min_length=1, max_length=2, description="What hangs on it, then what it hangs on")
    carries: list[Carries] = Field([], description="What goes through it")
    reversible: bool = Field(False, description="Can go in the wrong way round")
    latch: str | None = Field(None, description="How it is held")


class FastenerTable(Table):
    """Fasteners of one sort in one step (EN 45554: fastener, tool)."""

    count: int = Field(ge=1, description="How many")
    thread: str = Field(description="Thread or sort, as 'M3' or 'clip'")
    length: str | None = Field(None, description="Length, as '8 mm'")
    driver: str = Field(description="What turns it")
    where: str | None = Field(None, description="Where they sit")


class StepTable(Table):
    """An access step: what opening it takes and what it disturbs."""

    do: str = Field(description="What the hands do")
    after: list[Name] = Field([], description="Steps that come first, all of them")
    any_of: list[Group] = Field([], description="Groups of steps of which one must come first")
    open: Minutes = Field(description="Time to open")
    close: Minutes = Field(description="Time to close")
    fasteners: list[FastenerTable] = Field([], description="What is undone")
    unplugs: list[Name] = Field([], description="Connections that opening it unplugs")
    removes: list[Name] = Field([], description="Parts that come off with it")
    hazards: list[str] = Field([], description="Hazards of opening it")
    wait: Minutes = Field(0.0, description="Wait before it may be opened (cooling), hands free")
    holds: Holds | None = Field(None, description="What holds it that opening breaks or spoils; opened only in need")
    risk: str | None = Field(None, description="What may go wrong in opening it, as it is shown, where something holds")


class TryTable(Table):
    """How a person tries a function."""

    do: str = Field(description="What the hands do")
    minutes: Minutes = Field(description="Hands-on time")
    power: Power = Field(description="What the unit runs on meanwhile")
    closed: bool = Field(False, description="Only meaningful with everything closed")
    warm: bool = Field(False, description="Only meaningful warm")
    runs: Minutes = Field(0.0, description="Time for which it is watched, if longer than a moment")
    miss: Share = Field(0.02, description="Chance to say it works though it does not")
    false_alarm: Share = Field(0.01, description="Chance to say it fails though it works")
    draw: DrawLimits | None = Field(None, description="What the unit draws meanwhile, in A or W")
    tools: list[str] = Field([], description="What it takes beyond bare hands")
    hazards: list[str] = Field([], description="Hazards of trying it")


class ProbeTable(Table):
    """Where a rail is measured."""

    where: str = Field(description="The point that the probe touches")
    behind: Name | None = Field(None, description="Access step that must be open")
    minutes: Minutes = Field(1.0, description="Hands-on time")
    power: Power = Field(description="What the unit runs on meanwhile")


class FunctionTable(Table):
    """A rail, a signal or a behaviour, and what it needs."""

    what: str = Field(description="The function in words")
    carries: Carries = Field("behaviour", description="What it is about")
    needs: list[Name] = Field([], description="Parts, connections and functions, all of them")
    any_of: list[Group] = Field([], description="Groups of which one member is enough")
    spoiled_by: list[Name] = Field([], description="Rails whose short takes this down too")
    wanted: bool = Field(False, description="A person pays for it: it must work in the end")
    without: Price | None = Field(
        None, description="What a unit brings less without it, declared; if not given, it is not sold without it"
    )
    tried: TryTable | None = Field(None, description="How a person tries it")
    nominal: VoltLimits | None = Field(None, description="Makes it a rail with a voltage")
    probe: ProbeTable | None = Field(None, description="Where a rail is measured")
    to_ground: OhmLimits = Field(
        Expected(1000.0, 20.0, 1e6, "ohm"),
        description="Healthy resistance to ground, power off",
        json_schema_extra={"default": "20 ohm to 1 Mohm", "examples": ["20 ohm to 1 Mohm"]},
    )
    short_below: Ohms = Field(2.0, description="Resistance to ground that means a short")
    under_short: UnderShort = Field(
        "off",
        description="What its supply does when a load shorts it: gives nothing, pulses, gives a little; unplugging the "
        "load restores it. Or stays off until its input was away, too",
    )
    drift: Share = Field(0.0, description="Share of its nominal by which age may have moved a healthy rail's limits")
    diode: VoltLimits | None = Field(None, description="Healthy forward drop to ground in diode mode, power off")


class MarriedTable(Table):
    """Parts that only work together."""

    parts: list[Name] = Field(min_length=2, description="The parts that belong together")
    bond: Bond = Field(description="What ties them")
    spoils: list[Name] = Field(description="Functions that a split pair loses")


class WorthTable(Table):
    """What each way out brings, before fees (the bench's own prices go first)."""

    working: Price = Field(description="Sold working")
    as_is: Price = Field(description="Sold as it is")
    parts: Price = Field(description="Sold as parts, all together")


class MapTable(Table):
    """A device map file."""

    map: Name = Field(description="Name of the map")
    what: str = Field(description="The device in words")
    power: Power = Field(description="What the unit runs on")
    protection_class: ProtectionClass = Field("none", description="Protection class by IEC 61140")
    unknown: Share = Field(0.05, description="Chance that something this map does not know stops the unit")
    worth: WorthTable = Field(description="What each way out brings")
    parts: dict[Name, PartTable] = Field(description="The parts by name")
    connections: dict[Name, ConnectionTable] = Field({}, description="Cables and connectors by name")
    access: dict[Name, StepTable] = Field({}, description="Steps of opening it, by name")
    functions: dict[Name, FunctionTable] = Field(description="Rails, signals and behaviours by name")
    idle: DrawLimits | None = Field(None, description="What it draws with power and nothing started, in A or W")
    tests: dict[Name, TestTable] = Field({}, description="Further tests of functions and parts, by name")
    married: list[MarriedTable] = Field([], description="Groups that must stay together")
    stores_data: bool = Field(False, description="Holds data of its last owner")
    weight: Kilograms | None = Field(None, description="What a whole unit weighs, without what came along")
    starter: bool = Field(False, description="Of no one model: how it opens is a guess that a first teardown replaces")


class PrecautionTable(Table):
    """How a thing that a rule forbids may be done all the same, and when."""

    when: PrecautionWhen = Field(description="Where it suffices")
    do: str = Field(description="What must be in place, as it is shown; {rail} and {volts} are those of the rail fed")
    source: str = Field(description="Where it comes from")


class HazardRuleTable(Table):
    """A hard rule: when its condition holds, what it forbids is never proposed."""

    if_seen: list[str] = Field([], description="Conditions on the part that carries the hazard")
    if_wet: bool = Field(False, description="Liquid got into the unit, or something of it was seen wet")
    if_power: list[Power] = Field([], description="The move runs the unit on one of these")
    if_touched: bool = Field(False, description="The move lays hands on the part that carries the hazard")
    if_short: bool = Field(False, description="A rail is known to be shorted")
    unless: list[Lifts] = Field([], description="Facts that lift it")
    forbids: Forbids = Field(description="What is never proposed while it holds")
    why: str = Field(description="The reason, as it is shown")
    precaution: PrecautionTable | None = Field(None, description="Where nothing lifts it: how it may be done yet")


class HazardTable(Table):
    """A hazard with the caution shown at the step itself, and its hard rules."""

    caution: str = Field(description="The warning, as it is shown at the step")
    source: str = Field(description="Where it comes from")
    in_units_on: list[Power] = Field([], description="Kinds bring it only to units that run on one of these, if given")
    safe_below: Volts | None = Field(None, description="Direct voltage below which a charge counts as let off")
    discharge_through: Ohms | None = Field(None, description="The resistor through which its caution lets it off")
    rules: dict[Name, HazardRuleTable] = Field({}, description="Hard rules by name")
