"""The shape of kind and map files. One class a table; the field descriptions are the printed documentation.

Values are written as people write them ("12 V +/- 5 %", "6 min", "15 %", "EUR 14") and arrive here as numbers.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, WithJsonSchema

from knowngood.errors import QuantityError
from knowngood.handbook.quantities import (
    Expected,
    Money,
    parse_expected,
    parse_minutes,
    parse_money,
    parse_quantity,
    parse_share,
)
from knowngood.maps.words import Bond, Carries, LevelWord, Power, Takes, When


def _written(parse: Callable[[Any], Any], kind: type) -> Callable[[Any], Any]:
    def read(value: Any) -> Any:
        if isinstance(value, kind) and not isinstance(value, (str, int, float)):
            return value
        if isinstance(value, bool) or not isinstance(value, (str, int, float)):
            raise ValueError(f"{value!r} is not something written as text")
        try:
            return parse(value)
        except QuantityError as error:
            raise ValueError(str(error)) from None

    return read


def _text(parse: Callable[[str], Any]) -> Callable[[Any], Any]:
    return lambda value: parse(str(value))


def _as_ohms(value: Any) -> float:
    return parse_quantity(str(value), "ohm")


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
Limits = Annotated[
    Expected,
    BeforeValidator(_written(_text(parse_expected), Expected)),
    WithJsonSchema({"type": "string", "examples": ["12 V +/- 5 %", "20 ohm to 1 Mohm"]}),
]
Ohms = Annotated[
    float,
    BeforeValidator(_written(_as_ohms, float)),
    WithJsonSchema({"type": ["string", "number"], "examples": ["2 ohm"]}),
]
Factor = Annotated[float, Field(gt=0, description="Multiplies odds")]
Name = Annotated[str, Field(pattern=r"^[a-z0-9][a-z0-9-]*$", description="Lower-case words joined by hyphens")]


class Table(BaseModel):
    """Base of every table: a key that is not known is a mistake, never ignored."""

    model_config = ConfigDict(extra="forbid", frozen=True, arbitrary_types_allowed=True)


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


class TestTable(Table):
    """A test of one part (in a kind) or of a function or several parts (in a map)."""

    do: str = Field(description="What the hands do")
    detects: dict[str, Share] | None = Field(None, description="In a kind: mode, and chance to find it")
    senses: Name | None = Field(None, description="In a map: the function whose level it shows")
    parts: dict[Name, list[str]] | None = Field(None, description="In a map: modes of parts, any of which shows")
    outcomes: list[str] = Field(["ok", "bad"], min_length=2, max_length=2, description="Words for ok and bad")
    miss: Share = Field(0.05, description="Chance to say ok though it is bad")
    false_alarm: Share = Field(0.02, description="Chance to say bad though it is ok")
    minutes: Minutes = Field(description="Hands-on time")
    power: Power = Field("off", description="What the unit runs on during the test")
    closed: bool = Field(False, description="Only meaningful with everything closed")
    warm: bool = Field(False, description="Only meaningful warm")
    behind: Name | None = Field(None, description="Access step that must be open (a kind's test: where the part is)")
    tools: list[str] = []
    hazards: list[str] = []


class RemedyTable(Table):
    """Something that may cure."""

    do: str = Field(description="What the hands do")
    cures: dict[str, Share] = Field(description="Mode (or 'any') and chance that it is gone afterwards")
    minutes: Minutes = Field(description="Hands-on time, access not counted")
    materials: Price | None = None
    part: bool = Field(False, description="Puts another part in its place")
    wait: Minutes = Field(0.0, description="Time until it may be used, hands free")
    spoils: dict[str, Share] = Field({}, description="Mode of this part that it may cause, and chance")
    tools: list[str] = []
    hazards: list[str] = []


class KindTable(Table):
    """A part kind: everything a part brings without a line of its own."""

    says: str
    base: Share = Field(description="Chance of at least one fault in a bought broken unit, history unknown")
    base_source: str
    ratios: str | None = Field(None, description="Row of the published failure-mode table that modes refer to")
    ratios_source: str
    past: dict[str, Factor] = Field({}, description="Odds multiplier by past")
    past_source: str = "common practice, no source"
    looks: dict[str, Share] = Field({}, description="Chance of a condition on a part with no fault")
    missing: Share = Field(0.002, description="Chance that the part is not there at all")
    modes: dict[Name, ModeTable]
    tests: dict[Name, TestTable] = {}
    remedies: dict[Name, RemedyTable] = {}
    hazards: list[str] = []


class PriceTable(Table):
    """What the part costs: new, used, and what taking it from a donor forgoes."""

    new: Price | None = None
    used: Price | None = None
    donor: Price | None = None


class PartTable(Table):
    """A part of the device. Usually one line: its kind brings the rest."""

    what: str
    kind: Name
    parent: Name | None = Field(None, description="The assembly it belongs to")
    behind: Name | None = Field(None, description="Access step after which it can be seen and touched")
    on: list[Name] = Field([], description="Rails that it loads")
    zone: str | None = Field(None, description="Where in the unit, for common causes")
    base: Share | None = Field(None, description="Chance of a fault with no history, in place of the kind's")
    past: dict[str, Factor] = Field({}, description="Odds multiplier by past, over the kind's")
    missing: Share | None = None
    modes: dict[Name, ModeTable | None] = Field({}, description="Modes changed, added, or taken away (null)")
    tests: dict[Name, TestTable | None] = {}
    remedies: dict[Name, RemedyTable | None] = {}
    price: PriceTable = PriceTable()
    interchange: list[str] = Field([], description="Revisions that fit in its place")
    hazards: list[str] = []


class ConnectionTable(PartTable):
    """A cable or connector: a part that can also be unplugged."""

    joins: list[Name] = Field(min_length=1, max_length=2, description="What hangs on it, then what it hangs on")
    carries: list[Carries] = []
    reversible: bool = Field(False, description="Can go in the wrong way round")
    latch: str | None = None


class FastenerTable(Table):
    """Fasteners of one sort in one step (EN 45554: fastener, tool)."""

    count: int = Field(ge=1)
    thread: str
    length: str | None = None
    driver: str
    where: str | None = None


class StepTable(Table):
    """An access step: what opening it takes and what it disturbs."""

    do: str
    after: list[Name] = []
    open: Minutes
    close: Minutes
    fasteners: list[FastenerTable] = []
    unplugs: list[Name] = Field([], description="Connections that opening it unplugs")
    removes: list[Name] = Field([], description="Parts that come off with it")
    hazards: list[str] = []
    wait: Minutes = Field(0.0, description="Wait before it may be opened (cooling), hands free")


class TryTable(Table):
    """How a person tries a function."""

    do: str
    minutes: Minutes
    power: Power
    closed: bool = Field(False, description="Only meaningful with everything closed")
    warm: bool = False
    miss: Share = 0.02
    false_alarm: Share = 0.01
    tools: list[str] = []
    hazards: list[str] = []


class ProbeTable(Table):
    """Where a rail is measured."""

    where: str
    behind: Name | None = None
    minutes: Minutes = 1.0
    power: Power


class FunctionTable(Table):
    """A rail, a signal or a behaviour, and what it needs."""

    what: str
    carries: Carries = "behaviour"
    needs: list[Name] = Field([], description="Parts, connections and functions, all of them")
    any_of: list[list[Name]] = Field([], description="Groups of which one member is enough")
    spoiled_by: list[Name] = Field([], description="Rails whose short takes this down too")
    wanted: bool = Field(False, description="A person pays for it: it must work in the end")
    tried: TryTable | None = None
    nominal: Limits | None = Field(None, description="Makes it a rail with a voltage")
    probe: ProbeTable | None = None
    to_ground: Limits = Field(Expected(1000.0, 20.0, 1e6, "ohm"), description="Healthy resistance to ground, power off")
    short_below: Ohms = Field(2.0, description="Resistance to ground that means a short")


class MarriedTable(Table):
    """Parts that only work together."""

    parts: list[Name] = Field(min_length=2)
    bond: Bond
    spoils: list[Name] = Field(description="Functions that a split pair loses")


class WorthTable(Table):
    """What each way out brings, before fees (the bench's own prices go first)."""

    working: Price
    as_is: Price
    parts: Price


class MapTable(Table):
    """A device map file."""

    map: Name
    what: str
    power: Power = Field(description="What the unit runs on")
    protection_class: str = Field("none", description="Protection class I, II or III (IEC 61140), or none")
    unknown: Share = Field(0.05, description="Chance that something this map does not know stops the unit")
    worth: WorthTable
    parts: dict[Name, PartTable]
    connections: dict[Name, ConnectionTable] = {}
    access: dict[Name, StepTable] = {}
    functions: dict[Name, FunctionTable]
    tests: dict[Name, TestTable] = {}
    married: list[MarriedTable] = []
    stores_data: bool = False


class HazardRuleTable(Table):
    """A hard rule: when its condition holds, what it forbids is never proposed."""

    if_seen: list[str] = Field([], description="Conditions on the part that carries the hazard")
    if_past: list[str] = Field([], description="Pasts of the unit")
    if_power: list[Power] = Field([], description="The move runs the unit on one of these")
    if_touched: bool = Field(False, description="The move lays hands on the part that carries the hazard")
    if_short: bool = Field(False, description="A rail is known to be shorted")
    unless: list[str] = Field([], description="Facts that lift it: replaced, discharged, dried, closed, removed")
    forbids: str = Field(description="'power', 'touch' or 'everything else'")
    why: str


class HazardTable(Table):
    """A hazard with the caution shown at the step itself, and its hard rules."""

    caution: str
    source: str
    rules: dict[Name, HazardRuleTable] = {}
