"""The JSON that each command answers with, one shape each. ``docs/json.md`` is made from these classes."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from knowngood.cli.advice_shapes import BenchNext as BenchNext
from knowngood.cli.advice_shapes import NextAnswer as NextAnswer
from knowngood.cli.advice_shapes import SurpriseShape as SurpriseShape
from knowngood.cli.advice_shapes import TellsAnswer as TellsAnswer
from knowngood.cli.advice_shapes import WhyAnswer as WhyAnswer
from knowngood.cli.assembly_shapes import BeforePowerAnswer as BeforePowerAnswer
from knowngood.cli.assembly_shapes import ReassemblyAnswer as ReassemblyAnswer
from knowngood.cli.assembly_shapes import WayAnswer as WayAnswer
from knowngood.cli.bid_shapes import BidAnswer as BidAnswer
from knowngood.cli.bid_shapes import CandidateList as CandidateList
from knowngood.cli.book_shapes import BookAnswer as BookAnswer
from knowngood.cli.bring_up_shapes import BringUpAnswer as BringUpAnswer
from knowngood.cli.film_shapes import FilmAnswer
from knowngood.cli.folder_shapes import ExportAnswer as ExportAnswer
from knowngood.cli.folder_shapes import ImportAnswer as ImportAnswer
from knowngood.cli.growing_shapes import GrownAnswer as GrownAnswer
from knowngood.cli.intake_shapes import IntakeAnswer as IntakeAnswer
from knowngood.cli.intake_shapes import PhotoAnswer as PhotoAnswer
from knowngood.cli.ledger_shapes import LedgerAnswer as LedgerAnswer
from knowngood.cli.ledger_shapes import ShelfLedger as ShelfLedger
from knowngood.cli.listing_shapes import GradeAnswer, ListingAnswer, ReportAnswer
from knowngood.cli.mark_shapes import LotShape as LotShape
from knowngood.cli.mark_shapes import MarksAnswer as MarksAnswer
from knowngood.cli.mark_shapes import MarkShape as MarkShape
from knowngood.cli.partly import PartlyShape
from knowngood.cli.parts_shapes import PartsAnswer as PartsAnswer
from knowngood.cli.proof_shapes import ProofAnswer as ProofAnswer
from knowngood.cli.release_shapes import InstrumentsAnswer, ReleaseAnswer, SafetyTestAnswer
from knowngood.cli.shape import IntervalShape as IntervalShape
from knowngood.cli.shape import Shape as Shape
from knowngood.cli.shelf_shapes import ArrivedAnswer as ArrivedAnswer
from knowngood.cli.shelf_shapes import MarketAnswer as MarketAnswer
from knowngood.cli.shelf_shapes import OrdersAnswer as OrdersAnswer
from knowngood.cli.shelf_shapes import ShelfAnswer as ShelfAnswer
from knowngood.cli.shelf_shapes import ShelfPlanAnswer as ShelfPlanAnswer
from knowngood.cli.stock_shapes import LabelAnswer as LabelAnswer
from knowngood.cli.stock_shapes import StockAnswer as StockAnswer
from knowngood.cli.timetable_shapes import TimetableAnswer as TimetableAnswer
from knowngood.handbook.readings import Conformity


class LineShape(Shape):
    """One line of a log."""

    seq: int = Field(description="Number of the line in its log, counted from 1")
    time: str = Field(description="UTC, ISO 8601")
    line: str = Field(description="The canonical line")
    holds: bool = Field(True, description="False for a line that was taken back")
    flag: str | None = Field(None, description="Why the line has no effect, if it no longer fits")


class UnitNew(Shape):
    """`knowngood unit new`"""

    unit: str = Field(description="The new unit's name, as U1 or D1")
    map: str = Field(description="Name of its map")
    what: str = Field(description="The device in words")
    log_seq: int = Field(description="Number of the line that books it in")


class LearnedRow(Shape):
    """One test that reads a number."""

    test: str = Field(description="Name of the test")
    function: str = Field(description="The rail that it reads")
    key: str = Field(description="Where the map says what it expects: `nominal`, `to_ground` or `diode`")
    expected: str = Field(description="What the map expects")
    rests_on: str | None = Field(
        description="The call of the handbook that this comes from; null where a person wrote it"
    )
    units: int = Field(description="How many known-good units were read; each counts once, by its last reading")
    median: float | None = Field(description="Their median; none if none was read")
    spread: float | None = Field(description="Standard deviation of one more of them, by their median deviation")
    unit: str = Field(description="The unit of both")
    learned: str | None = Field(description="What the map would expect after learning; none from fewer than three")


class ReadingsAnswer(Shape):
    """`knowngood readings`"""

    map: str = Field(description="Name of the map")
    rows: list[LearnedRow] = Field(description="Tests that read a number, in the order of the map")
    difference: str = Field(description="What learning would change in the map's file, as a unified diff")
    written: str | None = Field(description="The file that the learned map was written to")


class UnitRow(Shape):
    """One unit of a list."""

    unit: str = Field(description="The unit's name")
    map: str = Field(description="Name of its map")
    donor: bool = Field(description="Whether it was bought for its parts")
    lines: int = Field(description="How many lines its log has, those taken back included")
    last: str = Field(description="Time of the last line")
    dispute: str | None = Field(description="The last day to dispute its purchase, if it is near and not past")


class UnitList(Shape):
    """`knowngood unit list`"""

    units: list[UnitRow] = Field(description="Units, then donors, by number")


class ReferenceShape(Shape):
    """What the same test read on known-good units of the same map."""

    units: int = Field(description="How many units, each counted once by its last reading since its last repair")
    median: float = Field(description="Their median, in the unit of the reading")
    mad: float = Field(description="Median absolute deviation; times 1.4826 it is a standard deviation")


class ReadingShape(Shape):
    """One reading, judged by itself. Values are in `unit`."""

    seq: int = Field(description="Its line's number in the unit's log")
    test: str = Field(description="The test's name")
    reading: str = Field(description="As written")
    unit: str = Field(description="Unit of measure: V or ohm")
    zone: str = Field(
        description="Where the true value most probably lies: in tolerance, low, absent, shorted, high, open"
    )
    zones: dict[str, float] = Field(
        description="Chance of each by the reading alone (JCGM 106:2012); what they leave is the share of slips"
    )
    expected_low: float = Field(description="Lower limit of the map")
    expected_high: float = Field(description="Upper limit of the map")
    rests_on: str | None = Field(
        None, description="The call of the handbook that these come from; null where a person wrote them"
    )
    conformity: Conformity = Field(
        description="The reading held to these limits with a guard band of its expanded uncertainty (k = 2), in the "
        "words of `knowngood book conformity`"
    )
    fits_map: bool = Field(description="Not beyond the map's limits by more than its expanded uncertainty (k = 2)")
    reference: ReferenceShape | None = Field(None, description="What known-good units read, if any were read")
    fits_reference: bool | None = Field(
        None, description="Within 3.5 standard deviations of these; null with fewer than 3 units"
    )
    flag: str | None = Field(None, description="One line, if it disagrees with the map, with these units or with both")
    slip: bool = Field(description="Whether nothing that this map knows reads so there: a slip of the hand or pen")


class Logged(Shape):
    """`knowngood log`, `undo` and `redo`"""

    unit: str = Field(description="The unit's name")
    lines: list[LineShape] = Field(description="The lines that were added")
    readings: list[ReadingShape] = Field([], description="What each reading among them says by itself")
    marks: list[MarkShape] = Field(
        [], description="What each mark seen among them can mean, and what replaces the part"
    )
    warnings: list[str] = Field(
        [],
        description="What to mind: a part taken that is reserved for another unit; what the safety test comes to",
    )
    log_seq: int = Field(description="The unit's last line after this")


class UnitState(Shape):
    """`knowngood show`"""

    unit: str = Field(description="The unit's name")
    map: str = Field(description="Name of its map")
    log_seq: int = Field(description="The unit's last line, up to which this answer goes")
    past: list[str] = Field(description="What is known to have happened to it")
    open: list[str] = Field(description="Access steps that are open")
    unplugged: list[str] = Field(description="Connections taken apart, on purpose or by an open step")
    out: list[str] = Field(description="Parts that were taken out")
    met: list[str] = Field(description="Steps, parts and plugs that a `met` line speaks of")
    fitted: dict[str, str] = Field(description="Part, and where the one that is in now came from")
    touched: list[str] = Field(description="Connections made again, the last touched last")
    proven: list[str] = Field(description="Functions seen to work since the last act on the unit")
    declared: list[str] = Field(description="Functions sold as not working, and said so")
    lacks: list[str] = Field(description="Tools that are not here, then parts that are not to be had")
    deferred: list[str] = Field(description="Parts, tests and access steps that were put off")
    curing: dict[str, float] = Field(description="Part that may not be used yet, and minutes left after the last line")
    minutes: float = Field(description="Hands-on minutes so far, to a tenth; the map's figure where a line gave none")
    exit: str | None = Field(
        description="How it left the bench: `working`, `as-is`, `parts` or `scrapped`; null while it is here"
    )
    quarantine: str | None = Field(description="Why it is in quarantine; null if it is in none")
    returns: list[str] = Field(
        description="For each time that it came back: what its buyer said, and the cause if known"
    )
    dispute: str | None = Field(None, description="The last day to dispute its purchase, if it is near and not past")
    lines: list[LineShape] = Field(description="The whole log")


class MoverShape(Shape):
    """A line that moved a suspect."""

    seq: int = Field(description="Number of the line")
    line: str = Field(description="The canonical line")
    log10_factor: float = Field(
        description="Log10 of the factor on the odds that the part is faulty, with the line against without it"
    )


class FaultShape(Shape):
    """A part in a fault mode, past or present."""

    part: str = Field(description="The part's name")
    mode: str = Field(description="The fault mode")
    since: int | None = Field(description="Number of the line whose act brought it; null for as bought")
    until: int | None = Field(description="Number of the line whose act ended it; null if it is still there")


class ExplanationShape(Shape):
    """What together would explain the log: exactly these faults, past and present, and no other."""

    faults: list[FaultShape] = Field(description="In the order of the map; none if nothing that it knows is wrong")
    unknown: dict[str, float] = Field(
        description="Function, and chance that something this map does not know stops it besides; empty unless that is "
        "at least as likely as not"
    )
    probability: float = Field(
        description="Given the log, of exactly these faults, summed over all else that is hidden"
    )
    with_others: float = Field(description="Given the log, of these faults with or without others")
    likeliest: float = Field(
        description="Given the log, of the most probable single course of events with exactly these faults: what they "
        "are ranked by"
    )
    explains: list[int] = Field(
        description="Numbers of the lines that are at least twice as likely so as with the fewest faults that can be"
    )
    strange: list[int] = Field(
        description="Numbers of other lines, less than a tenth as likely so as they can be: chance, errors, or wrong"
    )


class PartBelief(Shape):
    """One part as the log leaves it."""

    part: str = Field(description="The part's name")
    what: str = Field(description="The part in words")
    p_bad: float = Field(description="Chance that it has a fault")
    p_blocks: float = Field(description="Chance that it has a fault that stops a wanted function")
    modes: dict[str, float] = Field(description="Chance of each fault mode")
    moved_by: list[MoverShape] = Field(description="The lines that moved it most")


class BeliefAnswer(Shape):
    """`knowngood belief`"""

    unit: str = Field(description="The unit's name")
    map: str = Field(description="Name of its map")
    log_seq: int = Field(description="The unit's last line, up to which this answer goes")
    cases: int = Field(1, description="In how many cases it was worked out: where a long log's tables do not fit")
    partly: PartlyShape | None = Field(None, description="Where exact tables do not fit: what this rests on")
    known_good: float = Field(description="Chance that every promised function is good")
    parts: list[PartBelief] = Field(description="Ranked by p_blocks")
    unknown: dict[str, float] = Field(description="Function, and chance that something this map does not know stops it")
    explanations: list[ExplanationShape] = Field(
        description="The five most probable joint explanations that differ in fault modes, ranked by `likeliest`"
    )
    explained: float = Field(description="Sum of their `probability`: how much of all that could be they cover")
    surprise: SurpriseShape | None = Field(
        description="Lines that can hardly all be true (a surprise above 3), if there are any"
    )
    readings: list[ReadingShape] = Field(description="What the last reading of each test says by itself")
    flags: list[str] = Field(
        description="Lines without effect because they no longer fit, each with its number and why"
    )


class FindingShape(Shape):
    """One mistake in a map."""

    file: str = Field(description="The file it is in")
    line: int = Field(description="Line, counted from 1")
    column: int = Field(description="Column, counted from 1")
    rule: str = Field(description="Name of the checker's rule")
    message: str = Field(description="What is wrong, and what would be right")


class CallShape(Shape):
    """What a map expects by a call of the handbook."""

    function: str = Field(description="The rail")
    key: str = Field(description="Where it stands: `nominal`, `to_ground` or `diode`")
    call: str = Field(description="The call as written, without a tolerance behind it")
    expected: str = Field(description="What comes of it, with its tolerance")
    source: str = Field(description="Source of the formula")


class MapCheck(Shape):
    """`knowngood map check`"""

    file: str = Field(description="The file that was checked")
    right: bool = Field(description="Whether nothing is wrong")
    findings: list[FindingShape] = Field(description="Every mistake found, in the order of the file")
    calls: list[CallShape] = Field(description="What it expects by the handbook, if nothing is wrong")


class MapRow(Shape):
    """One map that comes with the program."""

    map: str = Field(description="The map's name")
    what: str = Field(description="The device in words")
    parts: int = Field(description="How many parts it has, connections included")
    functions: int = Field(description="How many functions it has")


class MapList(Shape):
    """`knowngood map list`"""

    maps: list[MapRow] = Field(description="The maps that come along, by name")


class BenchAnswer(Shape):
    """`knowngood bench show` and `bench set`"""

    log_seq: int = Field(description="Last line of the bench's own log; 0 if nothing was ever set or stocked")
    settings: dict[str, str] = Field(description="Setting, and its value as it is typed")


class PolicyShape(Shape):
    """What one policy came to. Money and minutes are means per unit."""

    policy: str = Field(description="Name of the policy")
    net: IntervalShape = Field(
        description="What the way out brings, less materials, minutes at the floor rate and the loss if it comes back; "
        "purchase not counted"
    )
    behind: IntervalShape | None = Field(
        description="Its net less that of the first policy on the same unit; null for the first"
    )
    minutes: IntervalShape = Field(description="Hands-on minutes, grading, listing and packing of a sold unit included")
    materials: IntervalShape = Field(description="Money for parts and materials")
    moves: IntervalShape = Field(description="How many moves were made")
    brought_back: IntervalShape = Field(description="Share sold as working that really works")
    would_return: IntervalShape = Field(description="Share sold as working that does not")
    as_is: IntervalShape = Field(description="Share sold as it is")
    parted: IntervalShape = Field(description="Share parted out")
    given_up: IntervalShape = Field(
        description="Share that came to no end: too many moves, or a log too large for exact inference"
    )


class RehearsedShape(Shape):
    """How one drawn unit went under one policy."""

    policy: str = Field(description="Name of the policy")
    exit: str = Field(description="`working`, `as-is`, `parts`, or `given-up` if it came to no end")
    works: bool = Field(description="Whether every promised function really works at the end")
    moves: int = Field(description="How many moves were made")
    minutes: float = Field(description="Hands-on minutes")
    materials: float = Field(description="Money for parts and materials")
    net: float = Field(description="What it brought in the end")
    lines: list[str] = Field(description="Its whole log, canonical lines")


class DrawnShape(Shape):
    """One drawn unit."""

    unit: int = Field(description="Number of the drawn unit, counted from 0")
    faults: list[str] = Field(description="What was wrong at the start, as `part: mode`")
    stopping_faults: int = Field(description="Faults at the start that stop a wanted function")
    if_known: float = Field(description="About the most that it could bring: its net if what is wrong were known")
    jobs: list[RehearsedShape] = Field(description="How it went, by policy")


class RehearseAnswer(Shape):
    """`knowngood rehearse`"""

    map: str = Field(description="Name of the map")
    map_hash: str = Field(description="First 16 hexadecimal digits of the SHA-256 of the map file")
    seed: int = Field(description="The same seed draws the same units")
    units: int = Field(description="How many units were drawn")
    past: list[str] = Field(description="What happened to every unit")
    currency: str = Field(description="ISO 4217 code of all money here")
    stopping_faults: float = Field(description="Mean number of faults that stop something, as drawn")
    parted_at_once: float = Field(description="Net of parting a unit out on arrival")
    if_known: IntervalShape = Field(description="About the most that any policy could bring: mean of the units' own")
    policies: list[PolicyShape] = Field(description="In the order asked for; the others are compared with the first")
    drawn: list[DrawnShape] = Field(description="Every drawn unit")
    picture: str | None = Field(description="File of the picture, if one was asked for")


class Problem(Shape):
    """What went wrong."""

    kind: Literal["input", "bug"] = Field(description="`input` is for the person to put right, `bug` for us")
    message: str = Field(description="What is wrong and what would be right")
    similar: list[str] = Field([], description="The nearest right names")
    findings: list[str] = Field([], description="Mistakes of a map, as `file:line:column: message`")
    lines: list[int] = Field([], description="Numbers of the log lines that cannot all be true")
    recheck: int | None = Field(None, description="Number of the one of them to make again first")


class ErrorAnswer(Shape):
    """Any command that fails, with `--json`"""

    error: Problem = Field(description="What went wrong")


ANSWERS: tuple[type[Shape], ...] = (
    *(
        UnitNew,
        UnitList,
        IntakeAnswer,
        PhotoAnswer,
        ExportAnswer,
        ImportAnswer,
        Logged,
        UnitState,
        BeliefAnswer,
        NextAnswer,
        BenchNext,
        WhyAnswer,
        TellsAnswer,
    ),
    TimetableAnswer,
    *(LedgerAnswer, ShelfLedger),
    PartsAnswer,
    *(WayAnswer, ReassemblyAnswer, BeforePowerAnswer, BringUpAnswer),
    *(
        ProofAnswer,
        MapCheck,
        MapList,
        GrownAnswer,
        MarksAnswer,
        StockAnswer,
        MarketAnswer,
        ShelfAnswer,
        ShelfPlanAnswer,
        OrdersAnswer,
        ArrivedAnswer,
        LabelAnswer,
        SafetyTestAnswer,
        ReleaseAnswer,
        GradeAnswer,
        ListingAnswer,
        ReportAnswer,
        FilmAnswer,
        InstrumentsAnswer,
        BenchAnswer,
        RehearseAnswer,
        BidAnswer,
        CandidateList,
        BookAnswer,
        ReadingsAnswer,
        ErrorAnswer,
    ),
)
"""Every answer, in the order of ``docs/json.md``."""
