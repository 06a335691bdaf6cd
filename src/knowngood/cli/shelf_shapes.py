"""The JSON of what is on the shelf as a whole: the market, the plan, the orders."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from knowngood.cli.shape import Shape


class MarketLine(Shape):
    """One line about the market that counts."""

    seq: int = Field(description="Number of the line in the bench's log")
    line: str = Field(description="The canonical line")


class MarketAnswer(Shape):
    """`knowngood market`"""

    log_seq: int = Field(description="Last line of the bench's own log; 0 if it is empty")
    lines: list[MarketLine] = Field(description="Lines that count, in the order of the log")
    flags: list[str] = Field(description="Lines that hold and mean nothing now, each with its number and why")


class ComingShape(Shape):
    """A part on its way."""

    part: str = Field(description="The part's name")
    condition: str = Field(description="`new` or `used`")
    supplier: str = Field(description="Whom it was ordered from")
    price: str = Field(description="What was paid for it, currency and amount")
    due: str | None = Field(description="The day it ought to be here, ISO 8601; null where the line gives none")


class ShelfRow(Shape):
    """One unit that is here."""

    unit: str = Field(description="The unit's name")
    map: str = Field(description="Name of its map")
    planned: str | None = Field(description="What is to become of it: `finish`, `as-is`, `parts`, `donor`, `wait`")
    reserved: dict[str, str] = Field(description="Part that it is to get, and where from: a unit, `new` or `used`")
    ordered: list[ComingShape] = Field(description="Parts on order for it")
    arrived: list[str] = Field(description="Parts that arrived for it and are not fitted yet")


class ChangedShape(Shape):
    """A log that got lines which an accepted plan does not know of."""

    log: str = Field(description="The unit, or `bench`")
    lines: list[str] = Field(description="Its new lines, each with its number")


class AcceptedShape(Shape):
    """The plan that was accepted last."""

    seq: int = Field(description="Its line in the bench's log")
    time: str = Field(description="When: UTC, ISO 8601")
    stale: bool = Field(description="Whether something was found since that it does not know of")
    changed: list[ChangedShape] = Field(description="What was found since; lines that only carry the plan out are not")
    new: list[str] = Field(description="Units that came since")


class ShelfAnswer(Shape):
    """`knowngood shelf`"""

    accepted: AcceptedShape | None = Field(description="The accepted plan; null if none was")
    units: list[ShelfRow] = Field(description="Units that are here, then donors, by number")
    conflicts: list[str] = Field(description="What in the reservations cannot be kept, one sentence each")


class SettledShape(Shape):
    """How one need of a unit is met."""

    parts: list[str] = Field(description="The part, or those of a married group")
    how: str = Field(description="`take`, or the remedy, or what else is done in its place")
    origin: str | None = Field(description="Where it comes from: a unit, `new` or `used`; null if nothing is taken")
    supplier: str | None = Field(description="Whom it is bought from; null if it is not, or nobody is named")
    price: str | None = Field(description="What it is bought at, currency and amount")
    chance: float = Field(description="Chance that what is taken is good")


class GivenShape(Shape):
    """A part that leaves a unit."""

    part: str = Field(description="The part, or a married group joined by +")
    to: str = Field(description="The unit that gets it, or the demand that it goes to, as `loose MAP/PART`")


class NextBest(Shape):
    """What the shelf would be worth less if a unit went another way."""

    way: str | None = Field(description="Its best other way; null if no plan has another")
    least: float = Field(description="How much less the best plan is worth then, money: at least")
    most: float | None = Field(
        description="And at most; the same where it was proved to the last; null if there is no such plan"
    )


class GoingShape(Shape):
    """What becomes of one unit."""

    unit: str = Field(description="The unit's name")
    way: str = Field(description="`finish`, `as-is`, `parts`, `donor` or `wait`")
    settled: list[SettledShape] = Field(description="What it needs for that, and how each need is met")
    gives: list[GivenShape] = Field(description="Parts that leave it")
    next_best: NextBest | None = Field(None, description="Why this way, with `--why`")


class ScarceShape(Shape):
    """Something of which there is only so much."""

    kind: Literal["hour", "part", "demand", "offer"] = Field(description="What sort of thing")
    id: str = Field(description="The part as `MAP/PART`, the demand or offer as they are named; empty for the hour")
    least: float = Field(description="What the best plan would be worth more with one more of it, money: at least")
    most: float = Field(description="And at most; the same where it was proved to the last")


class BuyShape(Shape):
    """A part that is to be bought."""

    unit: str = Field(description="The unit that it is for")
    part: str = Field(description="The part's name")
    condition: str = Field(description="`new` or `used`")
    price: str = Field(description="Currency and amount")


class OrderShape(Shape):
    """What a plan buys from one supplier."""

    supplier: str = Field(description="The supplier's name")
    postage: str = Field(description="Of the order, currency and amount")
    days: int = Field(description="Until it is here")
    parts: list[BuyShape] = Field(description="What is bought")
    payable: str = Field(description="All of it with the postage, currency and amount")


class DifferenceShape(Shape):
    """What a plan changes for one unit of what was accepted."""

    unit: str = Field(description="The unit's name")
    was: str | None = Field(description="Its way as accepted; null if none was")
    way: str = Field(description="Its way now")
    parts: dict[str, list[str | None]] = Field(
        description="Part, and where it was to come from and comes from now; null for nowhere"
    )


class ShelfPlanAnswer(Shape):
    """`knowngood shelf plan`"""

    currency: str = Field(description="ISO 4217 code of all money here")
    period: int = Field(description="Days that the plan is for")
    hours: int = Field(description="Hands-on hours in them")
    minutes: int = Field(description="Hands-on minutes that the plan takes")
    brings: float = Field(description="What it is expected to bring, time not counted")
    worth: float = Field(description="The same less what its minutes must bring at least (`rate-floor`)")
    bound: float = Field(description="No plan is worth more than this")
    gap: float | None = Field(description="How much more that is, as a part of `worth`; null if that is nothing")
    ended: str = Field(description="Why there is no better plan in the answer, in words")
    seconds: float = Field(description="How long the program was at it")
    rule_worth: float | None = Field(description="`worth` of the plan of the sensible rule: best unit first")
    units: list[GoingShape] = Field(description="What becomes of each unit")
    orders: list[OrderShape] = Field(description="What to buy from whom")
    scarce: list[ScarceShape] | None = Field(None, description="What one more of a scarce thing is worth, with `--why`")
    left_out: list[str] = Field([], description="Units and scarce things that `--why` had no time for")
    troubles: dict[str, str] = Field(description="Unit that is in no plan, and why")
    differences: list[DifferenceShape] | None = Field(
        description="What it changes of the plan that was accepted last; null if none was"
    )
    accepted: int | None = Field(None, description="The line of the bench's log that says it was accepted")


class MaybeShape(Shape):
    """A part that may be needed and pays to be ordered along."""

    unit: str = Field(description="The unit that may need it")
    part: str = Field(description="The part's name")
    condition: str = Field(description="`new` or `used`")
    price: str = Field(description="Currency and amount")
    chance: float = Field(description="Chance that it is needed")
    with_it: float = Field(description="What having ordered it costs if it is not needed, money")
    without_it: float = Field(description="What it costs in the mean to be without it, money")


class BasketShape(Shape):
    """What is wanted from one supplier."""

    supplier: str = Field(description="The supplier's name")
    parts: list[BuyShape] = Field(description="What is wanted")
    postage: str = Field(description="Currency and amount")
    payable: str = Field(description="All of it with the postage, currency and amount")
    days: int = Field(description="Until it is here")
    interval: float | None = Field(
        description="Days between two orders that cost least; null where waiting or posting costs nothing"
    )
    age: float = Field(description="Days since the oldest want")
    waiting: str = Field(description="What a day of waiting costs for all of it, currency and amount")
    send: bool = Field(description="Whether to send it now")
    maybes: list[MaybeShape] = Field(description="Parts that pay to be ordered along")


class SentShape(Shape):
    """Lines that an order, an arrival or an accepted plan wrote."""

    log: str = Field(description="The unit, or `bench`")
    line: str = Field(description="Its number and the line")


class OnOrderShape(ComingShape):
    """A part on its way to a unit."""

    unit: str = Field(description="The unit that it is for")


class OrdersAnswer(Shape):
    """`knowngood orders`"""

    currency: str = Field(description="ISO 4217 code of all money here")
    baskets: list[BasketShape] = Field(description="By supplier")
    nowhere: dict[str, list[str]] = Field(description="Unit, and parts to be bought for it that no supplier offers")
    coming: list[OnOrderShape] = Field(description="What is on order and not here yet")
    sent: list[SentShape] = Field(description="Lines that `--send` wrote")


class WokenShape(Shape):
    """A unit that parts arrived for."""

    unit: str = Field(description="The unit's name")
    parts: list[str] = Field(description="What arrived for it")
    still: list[str] = Field(description="What it goes on waiting for")
    next: str | None = Field(description="What to do with it next, in words; null if that cannot be said")
    log: str | None = Field(description="The line to log for that, or its start")
    kind: Literal["awake", "waits"] = Field(description="`waits` if the next thing is to wait for something else")


class ArrivedAnswer(Shape):
    """`knowngood arrived`"""

    supplier: str = Field(description="The supplier's name")
    units: list[WokenShape] = Field(description="Units that it wakes up")
