"""The shapes of whether a unit is proved, and what is still to pass."""

from __future__ import annotations

from pydantic import Field

from knowngood.cli.partly import PartlyShape
from knowngood.cli.shape import Shape


class ShownShape(Shape):
    """One promised function."""

    function: str = Field(description="The function's name")
    what: str = Field(description="The function in words")
    proven: bool = Field(description="Whether it was seen to work since the last act on the unit")
    p_good: float = Field(description="Chance that it works fully with the unit closed and warm")
    held: str | None = Field(description="Why a hard rule lets nobody try it yet, if it is still to be shown")


class MaskedShape(Shape):
    """A promised function that nobody can judge."""

    function: str = Field(description="The function's name")
    by: list[str] = Field(description="Functions that do not work, or parts that are not there, which hide it")


class DueShape(Shape):
    """A test that is still to pass, in its place of the order."""

    test: str = Field(description="The test's name")
    do: str = Field(description="What to do, in words")
    log: str = Field(description="The line to log if it passes")
    opens: list[str] = Field(description="Access steps on the way that are closed now")
    minutes: float = Field(description="Its own hands-on minutes")
    runs: float = Field(description="Minutes for which it is watched, if longer than a moment; else 0")
    from_cold: bool = Field(description="Whether it is the start from cold: the first power after the rest")
    shows: list[str] = Field(description="What it is made for: functions, and faults of parts that would show in it")
    p_pass: float = Field(description="Chance that it passes if all before it did")
    before: float = Field(description="Known good before it, if all before it passed")
    after: float = Field(description="Known good once it passed too")
    cautions: list[str] = Field(description="What to heed")
    precautions: list[str] = Field(description="What must be in place; without it a hard rule forbids the test")


class HeldShape(Shape):
    """A test that would show something and may not be made yet."""

    test: str = Field(description="The test's name")
    why: str = Field(description="The rule or the lack that holds it back")
    lifts: str = Field(description="What lifts it; empty where nothing at the bench does")


class ReturnsShape(Shape):
    """What comes back of units sold like this one, once all tests passed."""

    days: int = Field(description="Days of warranty, by the bench's settings")
    chance: float = Field(description="Chance that it comes back: that something promised is faulty after all")
    per_return: float = Field(description="What one that comes back costs: two carriages, an hour, the loss of price")
    reserve: float = Field(description="What to keep for that from each sale")
    in_100: float = Field(description="How many of 100 such units come back in the mean")
    in_100_low: int = Field(description="Lower end of the 95 % interval of that number")
    in_100_high: int = Field(description="Upper end")
    left_out: str = Field(description="What is not in it, and why")
    own_sold: int = Field(
        description="Sales of units of this map as working whose days of warranty are over, by this bench"
    )
    own_returned: int = Field(description="Of these, those that came back")
    own_in_100_low: int | None = Field(
        description="By that record alone: end of the 95 % interval of returns among the next 100; null before a sale"
    )
    own_in_100_high: int | None = Field(description="The other end")


class ExtraShape(Shape):
    """What more testing would do once all passed."""

    test: str = Field(description="The test's name")
    do: str = Field(description="What to do, in words")
    soak: bool = Field(description="Whether it is a test that passed, watched for ten minutes")
    p_fails: float = Field(description="Chance that it fails")
    caught: float = Field(description="Chance that a faulty unit is caught that would have been sold")
    false_alarm: float = Field(description="Chance that it fails on a good unit")
    known_good: float = Field(description="Known good if it passes")
    saves: float = Field(description="What is not lost by what is caught")
    costs: float = Field(description="Its minutes at the floor rate, and ten more for each false alarm")
    buys: float = Field(description="What it saves less what it costs")


class IntermittentShape(Shape):
    """A fault that comes and goes and may be left."""

    part: str = Field(description="The part")
    mode: str = Field(description="The fault")
    chance: float = Field(description="Chance that it is left once all passed")
    shows_every: float = Field(description="Minutes after which it shows once, on average")
    soak: float = Field(description="Minutes to run clean to see it with a chance of 95 % if it is there")


class ListedShape(Shape):
    """A function in the listing."""

    function: str = Field(description="The function's name")
    what: str = Field(description="The function in words")


class ListingShape(Shape):
    """What the listing may say, from the facts."""

    works: list[ListedShape] = Field(description="Promised functions seen to work since the last act on the unit")
    not_working: list[ListedShape] = Field(description="Functions declared as not working")
    not_shown: list[ListedShape] = Field(description="Promised functions that may not be claimed yet")


class ProofAnswer(Shape):
    """`knowngood proof`"""

    unit: str = Field(description="The unit's name")
    log_seq: int = Field(description="The unit's last line, up to which this answer goes")
    currency: str = Field(description="What money is in")
    proved: bool = Field(
        description="Every promised function was shown since the last act, closed, and what was touched, warm and cold"
    )
    partly: PartlyShape | None = Field(None, description="Where exact tables do not fit: what this rests on")
    known_good: float = Field(description="Chance that every promised function is good")
    unproven: list[str] = Field(description="Promised functions not seen to work since the last act on the unit")
    failing: list[str] = Field(description="Promised functions that did not work when last tried")
    masked: list[MaskedShape] = Field(description="Promised functions that others hide")
    functions: list[ShownShape] = Field(description="Every promised function")
    declared: list[str] = Field(description="Functions sold as not working, and said so")
    open: list[str] = Field(description="Access steps that are open")
    first: list[str] = Field(description="Lines to log before the first test: what goes back, what is still to cure")
    tests: list[DueShape] = Field(description="The tests of least time that are still to pass, in order")
    minutes: float = Field(description="Hands-on minutes of all that, opening and closing counted once")
    wait: float = Field(description="Minutes without hands: curing, and the rest before a start from cold")
    put_together: float = Field(description="Known good before the first test, the unit put together")
    p_all_pass: float = Field(description="Chance that all of them pass")
    known_good_after: float = Field(description="Known good once all passed")
    held: list[HeldShape] = Field(description="Tests that would show what is left, and may not be made yet")
    out_of_reach: list[str] = Field(description="What is to be shown and is held or masked")
    gaps: list[str] = Field(description="What no test of the map shows; the chances have it in")
    returns: ReturnsShape = Field(description="What comes back once all passed")
    more: list[ExtraShape] = Field(description="What ten more minutes of testing would buy, the best first")
    soak_shows: float = Field(
        description="Least mean minutes between failures that ten clean minutes show with 95 % confidence"
    )
    intermittent: list[IntermittentShape] = Field(description="Faults that come and go and may be left")
    listing: ListingShape = Field(description="What the listing may say")
