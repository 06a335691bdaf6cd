"""The shapes of advice: what to do next, and why."""

from __future__ import annotations

from pydantic import Field

from knowngood.cli.partly import PartlyShape
from knowngood.cli.shape import Shape


class SuspectShape(Shape):
    """A part and its chance to stop something."""

    part: str = Field(description="The part's name")
    p_blocks: float = Field(description="Chance that it has a fault that stops a wanted function")


class OutcomeShape(Shape):
    """One outcome of a move."""

    outcome: str = Field(description="What the move could give; for a remedy `cured`, `not-cured` or `was-not-it`")
    probability: float = Field(description="Chance of this outcome, as the log leaves it")
    known_good: float | None = Field(None, description="Chance that the unit is known good after it")
    suspects: list[SuspectShape] = Field([], description="The parts most likely to stop something after it")
    missed: float = Field(0.0, description="Given this outcome: no chance lies further than this from the true one")


class MoveShape(Shape):
    """One move."""

    move: str = Field(description="What to do, in words")
    kind: str = Field(
        description="`ask`, `look`, `measure`, `try`, `test`, `mend`, `replace`, `discharge`, `dry`, `take-out`, "
        "`open`, `close`, `unplug`, `plug`, `wait`, `sell`, `sell-as-is` or `part-out`"
    )
    target: str = Field(description="The part or test it is about, or `unit`; empty for a way out")
    cost: float = Field(description="Minutes at the floor rate, and materials; opening on the way included")
    minutes: float = Field(description="Hands-on minutes, opening and closing on the way included")
    materials: float = Field(description="Money for parts and materials")
    worth: float = Field(description="What the whole job is worth if this comes first")
    spread: float = Field(description="One standard deviation of what it brings, from one such unit to the next")
    why: str = Field(description="What speaks for it, in words")
    cautions: list[str] = Field(description="What can hurt here, in words")
    precautions: list[str] = Field(description="What must be in place; without it a hard rule forbids the move")
    opens: list[str] = Field(description="Access steps to open first, in this order")
    closes: list[str] = Field(description="Access steps to close first")
    log: str = Field(description="The line to log; an outcome or a value follows where the move has outcomes")
    wait: float = Field(description="Minutes without hands: cooling on the way, curing after it")
    tools: list[str] = Field(description="Tools that it takes, drivers for opening included")
    disturbs: list[str] = Field(description="Connections that it takes apart or makes again, parts that it may spoil")
    outcomes: list[OutcomeShape] = Field(
        description="What could come of it; none for a move that only prepares or ends the job"
    )


class HeldShape(Shape):
    """A move that a hard rule or the person holds back."""

    kind: str = Field(description="Kind of the move, as in `moves`")
    target: str = Field(description="The part or test it is about")
    rule: str = Field(
        description="The hazard and the rule's name; beside the rules `no-tool`, `no-part`, `married`, `not-now`, "
        "`curing` or `on-order`"
    )
    why: str = Field(description="Why it is held back, in words")


class ReasonShape(Shape):
    """The part that stopping or going on hangs on most."""

    part: str = Field(description="The part's name")
    what: str = Field(description="The part in words")
    fine: bool = Field(description="Whether it is probably fine; else it is probably at fault")
    probability: float = Field(description="How probably")
    difference: float = Field(description="What going on would be worth more (below zero: less) if it is not so")


class StandingShape(Shape):
    """Stopping against going on."""

    stop: float = Field(description="What the best way out as it is brings")
    going_on: float | None = Field(description="What the best move that does not end the job is worth; null: none left")
    spread: float = Field(description="One standard deviation of what that brings, from one such unit to the next")
    because: ReasonShape | None = Field(description="What it hangs on most; null if on no single part")
    through: float | None = Field(
        description="What seeing it through is worth, about: no stopping before all is mended; null: none left"
    )
    said: bool = Field(
        description="Whether stopping came first before the last act already, and nothing since speaks clearly more "
        "for it; the moves that go on come first then"
    )
    sentence: str = Field(description="It in words")


class FinishShape(Shape):
    """The chance to finish: that the plan ends in a unit that works and was proved to."""

    chance: float = Field(
        description="By the plan behind the first move; where that is to stop, by the best move that goes on"
    )
    exact: bool = Field(
        description="Whether it is as exact as the belief; else an estimate: later tests are in it only roughly, and "
        "several faults count as independent, and a later decision to stop is not foreseen"
    )
    stops: bool = Field(description="Whether the plan is to stop now")
    words: str = Field(description="It in words, an estimate in tenths")


class SurpriseShape(Shape):
    """A smallest set of lines that can hardly all be true."""

    lines: list[int] = Field(description="Their numbers; a single one is a reading that only a slip can make")
    log10: float | None = Field(
        description="Log10 of the product of their single probabilities over their joint probability; null if infinite"
    )
    recheck: int = Field(
        description="Number of the line to make again first: without it the rest of the log surprises least; of "
        "several such lines the one of the fewest minutes"
    )
    message: str = Field(description="The same in words")


class NextAnswer(Shape):
    """`knowngood next`"""

    unit: str = Field(description="The unit's name")
    map: str = Field(description="Name of its map")
    log_seq: int = Field(description="The unit's last line, up to which this answer goes")
    currency: str = Field(description="ISO 4217 code of all money here")
    partly: PartlyShape | None = Field(None, description="Where exact tables do not fit: what this rests on")
    stop_worth: float = Field(description="What the best way out as it is brings")
    standing: StandingShape = Field(description="Whether it pays to go on, and why")
    known_good: float = Field(description="Chance that every promised function is good")
    finish: FinishShape = Field(description="The chance to finish")
    considered: int = Field(description="How many looks and tests could tell something now")
    followed: int = Field(
        description="How many of these a quick estimate picked to be followed exactly; the others are not here"
    )
    surprise: SurpriseShape | None = Field(
        description="Lines that can hardly all be true, as in `belief`; what is proposed trusts them no more than that"
    )
    moves: list[MoveShape] = Field(description="Best first")
    held: list[HeldShape] = Field(description="Moves that a hard rule or the person holds back for now")
    dispute: str | None = Field(None, description="The last day to dispute the purchase, if it is near and not past")


class TellsShape(Shape):
    """One test or look."""

    id: str = Field(description="Name of the test, or of the part to look at")
    minutes: float = Field(description="Hands-on minutes, access not counted")
    bits: float = Field(description="What it tells in the mean about which parts stop something")
    outcomes: list[OutcomeShape] = Field(description="What could come of it, the likeliest first")


class TellsAnswer(Shape):
    """`knowngood tells`"""

    unit: str = Field(description="The unit's name")
    map: str = Field(description="Name of its map")
    log_seq: int = Field(description="The unit's last line, up to which this answer goes")
    partly: PartlyShape | None = Field(None, description="Where exact tables do not fit: what this rests on")
    after: list[str] = Field(description="Lines that were only considered, as typed")
    questions: list[TellsShape] = Field(description="Tests and looks, those that tell most first")


class TurnShape(Shape):
    """One unit's next move."""

    unit: str = Field(description="The unit's name")
    map: str = Field(description="Name of its map")
    log_seq: int = Field(description="The unit's last line, up to which this goes")
    move: str = Field(description="What to do next, in words")
    kind: str = Field(description="Kind of the move, as in `moves`")
    target: str = Field(description="The part or test it is about, as in `moves`")
    log: str = Field(description="The line to log, as in `moves`")
    cautions: list[str] = Field(description="What can hurt here, in words")
    move_minutes: float = Field(description="Hands-on minutes of that move")
    currency: str = Field(description="ISO 4217 code of the money here")
    gain: float = Field(description="What going on is worth over stopping now, hands paid at the floor rate")
    minutes: float = Field(description="Hands-on minutes that the job still takes in the mean, selling included")
    per_hour: float | None = Field(description="Gain over these hours; null where hands can do nothing now")


class BenchNext(Shape):
    """`knowngood next` without a unit"""

    units: list[TurnShape] = Field(description="Units on the bench, best gain for an hour of hands first")
    troubles: dict[str, str] = Field(description="Unit of which nothing can be said, and why")


class RunnerUpShape(Shape):
    """The move that comes second."""

    move: str = Field(description="What to do, in words")
    log: str = Field(description="The line to log, as in `moves`")
    worth: float = Field(description="What the whole job is worth if this comes first")
    margin: float = Field(description="How much less that is than with the first move, money")


class BranchShape(Shape):
    """One outcome of the first move, and the advice after it."""

    outcome: str = Field(description="What could come of it; `done` for a move that shows nothing by itself")
    probability: float = Field(description="Chance of this outcome, as the log leaves it")
    line: str = Field(description="The line that would be logged; a reading stands in the middle of its state")
    known_good: float = Field(description="Chance that the unit is known good then")
    move: str = Field(description="What to do then, in words")
    worth: float = Field(description="What the whole job is worth then")
    outcomes: list[OutcomeShape] = Field(description="What could come of that")


class ThresholdShape(Shape):
    """How far one figure may go until another move comes first."""

    figure: str = Field(
        description="`hour`: what an hour must bring; `working`: what it sells for; `minutes` or `price` of the move"
    )
    now: float = Field(description="The figure now")
    at: float = Field(description="From here on `then` comes first; with `then` null, how far was looked")
    then: str | None = Field(description="What comes first then, in words; null if the advice stays")


class ChangeShape(Shape):
    """The line that changed the advice."""

    seq: int = Field(description="Number of the line")
    line: str = Field(description="The canonical line")
    followed: bool = Field(description="Whether the line is what the advice was before it")
    before: str = Field(description="The advice before it, in words")
    before_worth: float = Field(description="What the job was worth by that")
    part: str = Field(description="The suspect that moved most since")
    p_before: float = Field(description="Its chance to stop something, before the line")
    p_after: float = Field(description="The same after it")


class SettingChangeShape(Shape):
    """Settings of the bench that changed the advice since the unit's last line."""

    lines: list[str] = Field(description="The lines of the bench's log")
    before: str = Field(description="The advice before them, in words")
    before_worth: float = Field(description="What the job was worth by that")


class WhyAnswer(Shape):
    """`knowngood why`"""

    unit: str = Field(description="The unit's name")
    map: str = Field(description="Name of its map")
    log_seq: int = Field(description="The unit's last line, up to which this answer goes")
    currency: str = Field(description="ISO 4217 code of all money here")
    partly: PartlyShape | None = Field(None, description="Where exact tables do not fit: what this rests on")
    move: str = Field(description="What to do next, in words")
    why: str = Field(description="What speaks for it, in words")
    worth: float = Field(description="What the whole job is worth if this comes first")
    runner_up: RunnerUpShape | None = Field(description="The move that comes second, if there is one")
    branches: list[BranchShape] = Field(description="What each likely outcome leads to; none for a way out")
    thresholds: list[ThresholdShape] = Field(description="What would change the advice, below and above each figure")
    changed_by: ChangeShape | None = Field(description="The line that changed the advice; null if none of the last did")
    changed_by_settings: SettingChangeShape | None = Field(
        description="Settings changed since the unit's last line, if they changed the advice"
    )
