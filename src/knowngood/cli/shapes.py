"""The JSON that each command answers with, one shape each. ``docs/json.md`` is made from these classes."""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field


class Shape(BaseModel):
    """Base of all answers."""

    model_config = ConfigDict(frozen=True)


class LineShape(Shape):
    """One line of a log."""

    seq: int
    time: str = Field(description="UTC, ISO 8601")
    line: str = Field(description="The canonical line")
    holds: bool = Field(True, description="False for a line that was taken back")
    flag: str | None = Field(None, description="Why the line has no effect, if it no longer fits")


class UnitNew(Shape):
    """`knowngood unit new`"""

    unit: str
    map: str
    what: str
    log_seq: int


class UnitRow(Shape):
    """One unit of a list."""

    unit: str
    map: str
    donor: bool
    lines: int
    last: str = Field(description="Time of the last line")


class UnitList(Shape):
    """`knowngood unit list`"""

    units: list[UnitRow]


class ReferenceShape(Shape):
    """What the same test read on known-good units of the same map."""

    units: int = Field(description="How many units, each counted once by its last reading since its last repair")
    median: float
    mad: float = Field(description="Median absolute deviation; times 1.4826 it is a standard deviation")


class ReadingShape(Shape):
    """One reading, judged by itself. Values are in `unit`."""

    seq: int
    test: str
    reading: str = Field(description="As written")
    unit: str
    zone: str = Field(
        description="Where the true value most probably lies: in tolerance, low, absent, shorted, high, open"
    )
    zones: dict[str, float] = Field(
        description="Chance of each by the reading alone (JCGM 106:2012); what they leave is the share of slips"
    )
    expected_low: float = Field(description="Lower limit of the map")
    expected_high: float = Field(description="Upper limit of the map")
    fits_map: bool = Field(description="Not beyond the map's limits by more than its expanded uncertainty (k = 2)")
    reference: ReferenceShape | None = Field(None, description="What known-good units read, if any were read")
    fits_reference: bool | None = Field(
        None, description="Within 3.5 standard deviations of these; null with fewer than 3 units"
    )
    flag: str | None = Field(None, description="One line, if it disagrees with the map, with these units or with both")


class Logged(Shape):
    """`knowngood log`, `undo` and `redo`"""

    unit: str
    lines: list[LineShape] = Field(description="The lines that were added")
    readings: list[ReadingShape] = Field([], description="What each reading among them says by itself")
    log_seq: int


class UnitState(Shape):
    """`knowngood show`"""

    unit: str
    map: str
    log_seq: int
    past: list[str]
    open: list[str] = Field(description="Access steps that are open")
    unplugged: list[str] = Field(description="Connections taken apart, on purpose or by an open step")
    out: list[str] = Field(description="Parts that were taken out")
    fitted: dict[str, str] = Field(description="Part, and where the one that is in now came from")
    touched: list[str] = Field(description="Connections made again, the last touched last")
    proven: list[str] = Field(description="Functions seen to work since the last act on the unit")
    declared: list[str]
    minutes: float
    exit: str | None
    lines: list[LineShape]


class MoverShape(Shape):
    """A line that moved a suspect."""

    seq: int
    line: str
    log10_factor: float = Field(
        description="Log10 of the factor on the odds that the part is faulty, with the line against without it"
    )


class PartBelief(Shape):
    """One part as the log leaves it."""

    part: str
    what: str
    p_bad: float = Field(description="Chance that it has a fault")
    p_blocks: float = Field(description="Chance that it has a fault that stops a wanted function")
    modes: dict[str, float] = Field(description="Chance of each fault mode")
    moved_by: list[MoverShape] = Field(description="The lines that moved it most")


class BeliefAnswer(Shape):
    """`knowngood belief`"""

    unit: str
    map: str
    log_seq: int
    known_good: float = Field(description="Chance that every promised function is good")
    parts: list[PartBelief] = Field(description="Ranked by p_blocks")
    unknown: dict[str, float] = Field(description="Function, and chance that something this map does not know stops it")
    readings: list[ReadingShape] = Field(description="What the last reading of each test says by itself")
    flags: list[str]


class SuspectShape(Shape):
    """A part and its chance to stop something."""

    part: str
    p_blocks: float


class OutcomeShape(Shape):
    """One outcome of a move."""

    outcome: str
    probability: float
    known_good: float | None = Field(None, description="Chance that the unit is known good after it")
    suspects: list[SuspectShape] = Field([], description="The parts most likely to stop something after it")


class MoveShape(Shape):
    """One move."""

    move: str = Field(description="What to do, in words")
    kind: str
    target: str
    cost: float = Field(description="Minutes at the floor rate, and materials; opening on the way included")
    minutes: float
    materials: float
    worth: float = Field(description="What the whole job is worth if this comes first")
    why: str
    cautions: list[str]
    opens: list[str]
    closes: list[str]
    log: str = Field(description="The line to log; an outcome or a value follows where the move has outcomes")
    outcomes: list[OutcomeShape]


class HeldShape(Shape):
    """A move that a hard rule holds back."""

    kind: str
    target: str
    rule: str
    why: str


class NextAnswer(Shape):
    """`knowngood next`"""

    unit: str
    map: str
    log_seq: int
    currency: str
    stop_worth: float = Field(description="What the best way out as it is brings")
    known_good: float
    moves: list[MoveShape] = Field(description="Best first")
    held: list[HeldShape]


class BookingShape(Shape):
    """One amount."""

    seq: int
    amount: str
    what: str


class MoneyAnswer(Shape):
    """`knowngood money`"""

    unit: str
    log_seq: int
    currency: str
    bookings: list[BookingShape]
    went_out: str
    came_in: str
    profit: str
    minutes: float
    minutes_assumed: float = Field(description="Of these, minutes by the map's figures because no line gave any")
    profit_per_hour: float | None
    exit: str | None


class ShownShape(Shape):
    """One promised function."""

    function: str
    what: str
    proven: bool
    p_good: float


class ProofAnswer(Shape):
    """`knowngood proof`"""

    unit: str
    log_seq: int
    known_good: float
    complete: bool = Field(description="Every promised function was seen to work since the last act, and all is closed")
    unproven: list[str]
    functions: list[ShownShape]
    declared: list[str]
    open: list[str]


class FindingShape(Shape):
    """One mistake in a map."""

    file: str
    line: int
    column: int
    rule: str
    message: str


class MapCheck(Shape):
    """`knowngood map check`"""

    file: str
    right: bool
    findings: list[FindingShape]


class MapRow(Shape):
    """One map that comes with the program."""

    map: str
    what: str
    parts: int
    functions: int


class MapList(Shape):
    """`knowngood map list`"""

    maps: list[MapRow]


class StockRow(Shape):
    """One part on the shelf."""

    part: str
    what: str
    unit: str
    map: str
    time: str


class StockAnswer(Shape):
    """`knowngood stock`"""

    parts: list[StockRow]


class BenchAnswer(Shape):
    """`knowngood bench show` and `bench set`"""

    log_seq: int
    settings: dict[str, str]


class RehearsedShape(Shape):
    """One drawn unit."""

    unit: int
    exit: str
    works: bool
    stopping_faults: int
    moves: int
    minutes: float
    materials: float
    net: float
    faults: list[str]
    lines: list[str]


class RehearseAnswer(Shape):
    """`knowngood rehearse`"""

    map: str
    map_hash: str
    seed: int
    units: int
    past: list[str]
    currency: str
    net: float = Field(description="Mean worth of a unit, purchase not counted")
    net_error: float = Field(description="Its standard error")
    minutes: float
    materials: float
    moves: float
    brought_back: float = Field(description="Share sold as working that really works")
    would_return: float = Field(description="Share sold as working that does not")
    as_is: float
    parted: float
    given_up: float
    stopping_faults: float = Field(description="Mean number of faults that stop something, as drawn")
    parted_at_once: float = Field(description="Worth of parting out every unit on arrival")
    drawn: list[RehearsedShape]


class Problem(Shape):
    """What went wrong."""

    kind: Literal["input", "bug"]
    message: str
    similar: list[str] = []
    findings: list[str] = []
    lines: list[int] = []


class ErrorAnswer(Shape):
    """Any command that fails, with `--json`"""

    error: Problem


ANSWERS: tuple[type[Shape], ...] = (
    *(UnitNew, UnitList, Logged, UnitState, BeliefAnswer, NextAnswer, MoneyAnswer, ProofAnswer),
    *(MapCheck, MapList, StockAnswer, BenchAnswer, RehearseAnswer, ErrorAnswer),
)
"""Every answer, in the order of ``docs/json.md``."""
