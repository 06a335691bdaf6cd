"""The JSON of marks that were seen and of loose parts on the shelf."""

from __future__ import annotations

from pydantic import Field

from knowngood.cli.shape import Shape


class OfferShape(Shape):
    """Parts on the shelf that are alike."""

    id: str = Field(description="A lot of loose parts, as S3, or a harvested part, as `D1 low-caps`")
    part: str = Field(description="Kind, value and ratings as they stand in its line or on its mark")
    left: int = Field(description="How many there are")
    place: str = Field(description="Where they are; empty if no line says so")
    unsure: str = Field(description="What is not sure about its value; empty if nothing is")


class ReplacementShape(Shape):
    """What on the shelf replaces a part."""

    value: float = Field(description="Its value, in the unit of what it replaces")
    error: float = Field(description="How far that is off, as a share")
    how: str = Field(description="`one part`, or how two are joined: `in series`, `in parallel`")
    offers: list[OfferShape] = Field(description="The part, or the two; one after the other in the order of value")
    mind: str = Field(description="What to mind of two together; empty if nothing")
    lacks: list[str] = Field(description="What its own lines do not say: look it up or measure")


class NearShape(Shape):
    """What has such a value and does not fit."""

    offer: OfferShape = Field(description="What is on the shelf")
    why: str = Field(description="What speaks against it")


class MeaningShape(Shape):
    """One way to read a mark."""

    kind: str = Field(description="`resistor`, `capacitor` or `inductor`")
    value: float = Field(description="In `unit`")
    unit: str = Field(description="ohm, F or H")
    text: str = Field(description="The part in words, with what stands beside the value")
    scheme: str = Field(description="By which scheme it is read so")
    sure: str = Field(description="`the only reading`, or how usual its value is")
    note: str | None = Field(description="What is not sure about this reading")
    low: float | None = Field(description="Least that it may have; null without a tolerance")
    high: float | None = Field(description="Most that it may have")
    nearest: float | None = Field(description="The nearest value that is made; null for a jumper")
    series: str = Field(description="The E series that has it (IEC 60063)")
    unsaid: list[str] = Field(description="What a replacement has to meet and the mark does not say")
    replacement: ReplacementShape | None = Field(description="What on the shelf replaces it; null if nothing fits")
    near: list[NearShape] = Field(description="What has such a value and does not fit")
    buy: str | None = Field(description="What to buy where nothing on the shelf fits")


class RuleShape(Shape):
    """What a replacement has to meet."""

    page: str = Field(description="The page of the book, as in `knowngood book PAGE`")
    must: str = Field(description="The rule in words")
    source: str = Field(description="Where it comes from")


class MarkShape(Shape):
    """A mark seen on a part."""

    seq: int = Field(description="Number of the line")
    part: str = Field(description="The part of the map that it was seen on")
    condition: str = Field(description="The condition seen with it; for `fine` the shelf is not searched")
    mark: str = Field(description="As seen")
    meanings: list[MeaningShape] = Field(description="Every reading that the book allows, usual values first")
    codes: list[str] = Field(description="What codes in it say besides a value")
    refused: list[str] = Field(description="What does not decode it, and why")
    rules: list[RuleShape] = Field(description="What a replacement has to meet, by kind")
    cautions: list[str] = Field(description="To be read before hands go near")


class MarksAnswer(Shape):
    """`knowngood marks`"""

    unit: str = Field(description="The unit's name")
    log_seq: int = Field(description="The unit's last line, up to which this answer goes")
    marks: list[MarkShape] = Field(description="Marks seen on what sits in the unit now, in the order of the log")


class LotShape(Shape):
    """Loose small parts on the shelf."""

    lot: str = Field(description="Name of the lot, after the line of the bench's log that stocked it")
    part: str = Field(description="Kind, value, ratings, size")
    left: int = Field(description="How many are left")
    place: str = Field(description="Where they are; empty if the line does not say")
    stocked: int = Field(description="How many were put there")
    time: str = Field(description="When: UTC, ISO 8601")
    note: str = Field(description="The remark of that line, as where they came from; empty without one")
