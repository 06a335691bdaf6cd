"""The JSON of the ledger: of one unit, and of the shelf."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from knowngood.cli.shape import IntervalShape, Shape


class BookingShape(Shape):
    """One amount of the ledger."""

    log: str = Field(description="Whose log the line is in: a unit's name, or `bench`")
    seq: int = Field(description="Number of the line that books it")
    time: str = Field(description="Time of the line: UTC, ISO 8601")
    what: str = Field(description="What it was for")
    kind: Literal["cash", "transfer", "valuation"] = Field(
        description="`cash` was paid; a `transfer` is what a part carries from account to account; a `valuation` is "
        "what a person thought a thing worth, and in no sum"
    )
    amount: str = Field(description="Currency and amount, below zero for what went out of the account")
    minor: int = Field(description="The amount in minor units of the currency")


class AccountShape(Shape):
    """The sums of one account: a unit's, or the shelf's."""

    account: str = Field(description="A unit's name, or `shelf`")
    map: str | None = Field(description="Name of the unit's map; null for the shelf")
    past: list[str] = Field(description="What is known to have happened to the unit")
    source: str | None = Field(description="Where it came from; null where its purchase does not say")
    paid: str = Field(description="Sum of what was paid, currency and amount")
    got: str = Field(description="Sum of what came in")
    carried: str = Field(description="What parts that left carried, less what parts that came in did")
    balance: str = Field(
        description="Got less paid, and carried: the profit of a settled unit; else, below zero, what is still in it"
    )
    minutes: float = Field(description="Hands-on minutes so far, to a tenth")
    minutes_assumed: float = Field(description="Of these, minutes by the map's figures because no line gave any")
    exit: str | None = Field(
        description="How it left the bench: `working`, `as-is`, `parts` or `scrapped`; null while it is here"
    )
    settled: bool = Field(description="Whether nothing of the unit is left: sold whole, or scrapped")
    sold: int = Field(description="How often it was sold")
    causes: list[str] = Field(description="For each time that it came back: why; `not known yet` until a line says so")


class DecileShape(Shape):
    """What was believed in one tenth of the chances, and what came."""

    low: float = Field(description="Least chance")
    high: float = Field(description="Most chance")
    count: int = Field(description="How many were believed so")
    believed: float = Field(description="Mean of the chances")
    true: int = Field(description="How many were so")
    share: IntervalShape = Field(description="The share that was so")


class ClaimShape(Shape):
    """One part that a line settled."""

    part: str = Field(description="Name of the part")
    believed: float = Field(description="Chance before that line that it is faulty, or stops what is promised")
    faulty: bool = Field(description="What it was")
    how: Literal["look", "cured", "shown"] = Field(
        description="Seen; the only act between a test that failed and the same one that worked; or never touched in a "
        "unit that was shown to work and sold so"
    )
    before: int = Field(description="The line before which the chance was believed")


class GuessShape(Shape):
    """One part: what was believed of it before hands went in, and what it was."""

    part: str = Field(description="Name of the part")
    what: str = Field(description="What it is")
    believed: float = Field(description="Chance before the unit was opened that it is faulty")
    faulty: bool | None = Field(description="What it was; null if no line settled it")
    how: Literal["look", "cured", "shown"] | None = Field(
        description="What settled it, as in `claims`; null if nothing"
    )


class GuessesShape(Shape):
    """The guess before the unit was opened beside the truth after it."""

    before: int = Field(description="The line by which hands first went in; one past the last if none did")
    parts: list[GuessShape] = Field(
        description="The likeliest parts then, and every part that proved faulty, the likeliest first"
    )


class ForecastShape(Shape):
    """What was expected of a unit that has left the bench, and what came; its purchase is in none of these."""

    unit: str = Field(description="The unit's name")
    at_purchase: float | None = Field(
        description="Expected on the purchase alone, net of time at the floor, fee and carriage; null if refused"
    )
    at_hands_on: float | None = Field(description="Expected before the first line by which hands went in")
    came: float | None = Field(description="What came, net of time at the floor")
    valued: bool = Field(description="Whether parts as valued are in what came")
    costs_booked: bool = Field(description="Whether a cost was booked after the sale")
    claims: list[ClaimShape] = Field(description="Parts that were settled")
    refused: str = Field(description="Why nothing is said of it; empty if something is")


class HindsightShape(Shape):
    """Forecast beside truth."""

    units: list[ForecastShape] = Field(description="Units that have left the bench")
    less_at_purchase: IntervalShape | None = Field(
        description="Mean of what came less what was expected at purchase; null without units"
    )
    less_at_hands_on: IntervalShape | None = Field(description="The same of what was expected when hands went in")
    brier: float | None = Field(description="Brier score of all claims, 0 is best; null without claims")
    deciles: list[DecileShape] = Field(description="The claims by tenths of what was believed, empty ones left out")
    calibrated: bool | None = Field(
        description="Whether the odds are no further off than chance allows; null for fewer than ten units"
    )
    warning: str = Field(description="Why this says little yet; empty if it says something")


class YieldShape(Shape):
    """What units that have something in common brought."""

    name: str = Field(description="What they have in common")
    units: int = Field(description="How many are settled")
    profit: str = Field(description="Their profit, time not counted")
    minutes: float = Field(description="Their hands-on minutes")
    per_hour: IntervalShape | None = Field(description="Their profit over their hours, money; null without time")
    open_units: int = Field(description="How many are not settled")
    open_money: str = Field(description="What is still in those")
    open_minutes: float = Field(description="The minutes that went into those")
    sold: int = Field(description="Sales of all of them; a unit that was sold again counts again")
    returned: int = Field(description="Of these sales, those whose unit came back")


class LedgerAnswer(Shape):
    """`knowngood ledger` of a unit"""

    unit: str = Field(description="The unit's name")
    log_seq: int = Field(description="The unit's last line, up to which this answer goes")
    currency: str = Field(description="ISO 4217 code of all money here")
    account: AccountShape = Field(description="The unit's sums")
    bookings: list[BookingShape] = Field(description="In the order of the log")
    profit_per_hour: float | None = Field(
        description="Balance over hands-on hours, money; null before there is any time"
    )
    hindsight: HindsightShape | None = Field(description="Forecast beside truth; null without `--forecast`")
    guesses: GuessesShape | None = Field(
        description="What was believed of its parts before it was opened, and what they were; null without `--forecast`"
    )
    csv: str | None = Field(description="The file that was written")


class ShelfLedger(Shape):
    """`knowngood ledger` without a unit"""

    log_seq: int = Field(description="The bench's last line, up to which this answer goes")
    currency: str = Field(description="ISO 4217 code of all money here")
    accounts: list[AccountShape] = Field(description="Every unit's, and the shelf's last")
    paid: str = Field(description="All that was paid")
    got: str = Field(description="All that came in")
    balance: str = Field(description="All accounts together: what came in less what was paid")
    settled: str = Field(description="Profit of the units that are settled")
    in_units: str = Field(description="What is still in the other units")
    in_parts: str = Field(description="What is in parts on the shelf")
    own: str = Field(description="The shelf's own: got less paid, for no unit and no part")
    all: YieldShape = Field(description="All units together")
    by: str | None = Field(description="What the rows are by: `map`, `past` or `source`; null if not asked for")
    rows: list[YieldShape] = Field(description="One for each; they add up to all")
    hindsight: HindsightShape | None = Field(description="Forecast beside truth; null without `--forecast`")
    others: dict[str, list[str]] = Field(description="Units that pay in another currency, by currency: not in here")
    csv: str | None = Field(description="The file that was written")
