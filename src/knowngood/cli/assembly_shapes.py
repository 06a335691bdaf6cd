"""The JSON of the way in, of the way back, and of the list before power."""

from __future__ import annotations

from pydantic import Field

from knowngood.cli.shape import Shape


class FastenerShape(Shape):
    """Fasteners of one sort that come out with a step."""

    count: int = Field(description="How many, by the map")
    sort: str = Field(description="Thread and length in one word, as a line of the log counts them: `M3x8`")
    driver: str = Field(description="What turns them")
    where: str | None = Field(description="Where they sit, if the map says so")
    odd: str = Field(description="Why they must not be mixed with others; empty if nothing speaks against it")


class PullShape(Shape):
    """A connection that opening a step takes apart."""

    connection: str = Field(description="Its name")
    what: str = Field(description="The connection in words")
    marks: list[str] = Field(description="What to do before it is pulled: orientation, polarity, latch, twins")


class OpeningShape(Shape):
    """One step of the way in."""

    step: str = Field(description="The access step")
    do: str = Field(description="What the hands do")
    minutes: float = Field(description="Hands-on time to open it")
    wait: float = Field(description="Minutes from the start before it may be opened")
    holds: str | None = Field(description="`glue`, `seal` or `one-way`; null for what opens and closes without loss")
    fasteners: list[FastenerShape] = Field(description="What is undone")
    pulls: list[PullShape] = Field(description="What is unplugged")
    takes_off: list[str] = Field(description="Parts that come off with it")
    cautions: list[str] = Field(description="To be read before hands go near, the risk of what holds among them")
    held: str = Field(description="Why a hard rule forbids it as the unit is; empty if none does")
    first: str = Field(description="The line that lifts this rule; empty if none does, or none is needed")


class FreeLookShape(Shape):
    """A look or test without power that the way leaves in reach: it costs no more access."""

    kind: str = Field(description="`look`, `test`, `measure` or `try`")
    do: str = Field(description="What the hands do")
    log: str = Field(description="The line to log, or its start where the outcome follows")
    outcomes: list[str] = Field(description="Words for the outcome; none for a look, whose condition follows")
    after: str | None = Field(description="The step after which it can be made; null if it can be made now")
    minutes: float = Field(description="Hands-on time")
    bits: float = Field(description="How much it tells in the mean about which parts stop something")
    worth: float = Field(description="Money that its answer is worth beyond its own minutes")


class WayAnswer(Shape):
    """`knowngood way`"""

    unit: str = Field(description="The unit's name")
    log_seq: int = Field(description="The unit's last line, up to which this answer goes")
    currency: str = Field(description="ISO 4217 code of all money here")
    targets: dict[str, str | None] = Field(description="What was named, and the step that must be open for it, if any")
    steps: list[OpeningShape] = Field(description="The cheapest way, in an order that ends soonest")
    minutes: float = Field(description="Hands-on minutes of all steps")
    closing: float = Field(description="Hands-on minutes to close again what is open then")
    elapsed: float = Field(description="Minutes until all is open, cooling included")
    drivers: dict[str, int] = Field(description="Driver, and how many fasteners it turns on the way")
    looks: list[FreeLookShape] = Field(description="Those that are worth their minutes, one for each part, best first")


class SheetLineShape(Shape):
    """One line of the sheet."""

    kind: str = Field(description="`open`, `wait`, `fit`, `plug`, `check`, `screw`, `unscrew` or `close`")
    target: str = Field(description="The step, part or connection")
    do: str = Field(description="What the hands do")
    log: str = Field(description="The line of the log that ticks it")
    notes: list[str] = Field(description="Orientation, latch, twins, where screws go, torque, remarks of the log")
    cautions: list[str] = Field(description="To be read before hands go near")
    held: str = Field(description="Why a hard rule forbids it as things are then; empty if none does")
    first: str = Field(description="The line that lifts this rule; empty if none does, or none is needed")


class BlockShape(Shape):
    """What comes before one step is closed, and its closing."""

    step: str | None = Field(description="The step that it closes; null for what comes before or after all of them")
    puts: list[str] = Field(description="Parts that go on with the step")
    remarks: list[str] = Field(description="What the lines that opened it remark, as the name of a photo")
    lines: list[SheetLineShape] = Field(description="In the order in which they can be done")


class BalanceShape(Shape):
    """Fasteners of one step that are not where they belong."""

    step: str = Field(description="The access step")
    opened: int | None = Field(description="In which place it was last opened, counted from 1; null if never")
    out: int = Field(description="How many came out")
    back: int = Field(description="How many went in again")
    missing: dict[str, int] = Field(
        description="Sort, and out less in; below zero if more went in. An empty sort: no line said which"
    )
    by_map: list[str] = Field(description="The sorts of these that no line counted out: the map's figure")


class ReassemblyAnswer(Shape):
    """`knowngood reassembly`"""

    unit: str = Field(description="The unit's name")
    log_seq: int = Field(description="The unit's last line, up to which this answer goes")
    blocks: list[BlockShape] = Field(description="In order; none if nothing is left open")
    balances: list[BalanceShape] = Field(description="Fasteners that are out, or one too many in, by step")


class PowerLineShape(Shape):
    """One line of the list before power."""

    kind: str = Field(description="`seated`, `look`, `cold` (ohms with power off), `count` or `general`")
    target: str = Field(description="The connection, part, rail, step or general check")
    do: str = Field(description="What the hands do")
    log: str = Field(description="The line of the log that ticks it; of `cold` its start, the reading follows")
    odds: float = Field(description="Chance that something is wrong there")
    damage: float = Field(description="Money that it would cost on average")
    at_stake: float = Field(description="Odds times damage: what the list is ordered by")
    hurts: str = Field(description="What it may hurt, in words")
    minutes: float = Field(description="Hands-on time, with opening what is in front of it")
    cautions: list[str] = Field(description="To be read before hands go near")
    source: str = Field(description="Where the odds come from; empty for the belief")
    opens: list[str] = Field(description="Steps that are closed in front of it")
    shown_by: str = Field(description="The try that shows a connection and as little else as there is; empty if none")
    held: str = Field(description="Why a hard rule forbids it now; empty if none does")
    first: str = Field(description="The line that lifts this rule; empty if none does, or none is needed")


class BeforePowerAnswer(Shape):
    """`knowngood before-power`"""

    unit: str = Field(description="The unit's name")
    log_seq: int = Field(description="The unit's last line, up to which this answer goes")
    currency: str = Field(description="ISO 4217 code of all money here")
    lines: list[PowerLineShape] = Field(description="What can be done now, most at stake first")
    closed_in: list[PowerLineShape] = Field(description="What lies behind closed steps, most at stake first")
    held: list[PowerLineShape] = Field(description="What a hard rule forbids now, most at stake first")
    any_fault: float = Field(description="Chance that at least one of all these would find something")
    minutes: float = Field(description="Hands-on minutes of what can be done now")
    apart: list[str] = Field(description="What is still open, unplugged or out, in words")
    no_power: list[str] = Field(description="Why the unit must have no power yet")
    with_power: list[str] = Field(description="Cautions that come with the power itself")
