"""The JSON of ``knowngood bid``."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from knowngood.cli.shape import IntervalShape, Shape


class HeardShape(Shape):
    """A clause of a listing and what it was taken for."""

    words: str = Field(description="The clause, in small letters")
    line: str = Field(description="The line of the log that it stands for; empty for none")
    hear: str = Field(description="How the trade hears such words; empty where they are not understood")


class ReplyShape(Shape):
    """One answer that a seller could give."""

    words: str = Field(description="The answer")
    chance: float = Field(description="How probable it is")
    gain: float = Field(description="What buying at the asking price would leave on average after it")


class AskingShape(Shape):
    """Something to ask the seller before the bid."""

    kind: Literal["photo", "try", "past"] = Field(description="A photo, something to try, or what happened to it")
    name: str = Field(description="The part, the test, or the past")
    do: str = Field(description="What to ask for")
    worth: float = Field(description="What knowing the answer adds to the decision to buy at the asking price")
    replies: list[ReplyShape] = Field(description="Answers that turn the decision first, then by their chance")


class CandidateRow(Shape):
    """One offer."""

    candidate: str = Field(description="Its name, as C1")
    map: str = Field(description="Name of its map")
    asking: str = Field(description="What is asked for it")
    said: str = Field(description="The listing's own words")
    standing: Literal["open", "refused", "bought"] = Field(description="Where it stands")
    unit: str | None = Field(description="The unit that it became")
    note: str = Field(description="Why it was refused, if that was said")


class CandidateList(Shape):
    """`knowngood bid --list`, and `bid` with `--drop`"""

    candidates: list[CandidateRow] = Field(description="Offers, oldest first")


class BidShape(Shape):
    """What to pay for one candidate. All amounts are in the currency of the answer."""

    offer: CandidateRow = Field(description="The candidate")
    heard: list[HeardShape] = Field(
        description="What the listing's words were taken for; empty for one taken down before"
    )
    before: list[CandidateRow] = Field(description="The same listing, met before")
    lines: list[str] = Field(description="What is known of it, as lines of its log")
    exact: bool = Field(description="Whether every course of the job was listed, so that nothing was drawn")
    units: int = Field(description="How many units were drawn, or courses listed")
    unfinished: int = Field(description="Units on which the job went on past the planner's first moves")
    pairs: int = Field(description="How many of these were worked to the end by the planner")
    checked: int = Field(description="First so many units, of which all unfinished ones were worked to the end")
    net: IntervalShape = Field(description="What a unit brings on average, less all but its price and the way here")
    bias_known: bool = Field(description="Whether the interval holds what the stand-in for the rest of a job is off by")
    bias: IntervalShape | None = Field(description="What the stand-in is too high by, a unit; null where it is unknown")
    if_known: float | None = Field(description="What a unit would bring if what is wrong were known; null where exact")
    spread: list[float] = Field(description="What 5, 25, 50, 75 and 95 % of units bring no more than")
    tail: IntervalShape = Field(description="What all units but the bearable share bring at least")
    rate: str = Field(description="What an hour costs here: the bench's target rate")
    margin: str = Field(description="The wanted margin")
    bearable: float = Field(description="The bearable chance of a loss")
    shade: float = Field(description="Share taken off for poor information")
    known: int = Field(description="How many things the seller said or showed")
    askable: int = Field(description="How many more could be asked for")
    inward: str = Field(description="The way here")
    by_margin: float = Field(description="The most to pay for the margin")
    by_loss: float = Field(description="The most to pay for the bearable chance of a loss")
    most: str = Field(
        description="The most to pay: the lower of the two, rounded down; zero if it should not be bought"
    )
    because: Literal["margin", "loss"] = Field(description="Which of the two it is")
    gain: IntervalShape = Field(description="What is left on average at the asking price, shaded")
    loss: IntervalShape = Field(description="Chance that it brings less than it costs at the asking price")
    ask: list[AskingShape] = Field(description="What to ask the seller, the most valuable first")
    net_of_each: list[float] = Field(
        description="What each drawn unit brings, for the picture; the quick figures moved"
    )
    weights: list[float] = Field(description="What each of these counts")


class BidAnswer(Shape):
    """`knowngood bid`"""

    currency: str = Field(description="ISO 4217 code of all money here")
    seed: int = Field(description="The same seed draws the same units")
    stopped: bool = Field(description="Whether it was stopped before all units were drawn")
    budget: str | None = Field(description="The budget, if one was given")
    buy: list[str] = Field(description="The candidates to buy under it, or each that is worth its price without one")
    spends: str = Field(description="What these ask together")
    bids: list[BidShape] = Field(description="The candidates, those that leave most at their asking price first")
    picture: str | None = Field(description="File of the picture, if one was asked for")
