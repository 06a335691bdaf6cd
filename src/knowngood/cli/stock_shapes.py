"""The JSON of what is on the shelf and in donors, and of labels."""

from __future__ import annotations

from pydantic import Field

from knowngood.cli.mark_shapes import LotShape
from knowngood.cli.shape import Shape


class SeenShape(Shape):
    """A condition found on a part."""

    unit: str = Field(description="The unit in whose log it stands")
    seq: int = Field(description="Number of the line")
    condition: str = Field(description="The condition")
    degree: str | None = Field(description="`slight`, `clear` or `severe`; null if the line does not say")


class TestedShape(Shape):
    """What shows a part to work."""

    unit: str = Field(description="The unit in whose log it stands")
    seq: int = Field(description="Number of the line")
    line: str = Field(description="The line")


class StockRow(Shape):
    """One part, on the shelf or still in a donor."""

    part: str = Field(description="Name of the part on its map")
    what: str = Field(description="The part in words")
    unit: str = Field(description="The unit it was harvested from last, or is still in")
    map: str = Field(description="Name of that unit's map")
    time: str = Field(description="When it was harvested, or its unit bought: UTC, ISO 8601")
    route: list[str] = Field(description="Units it was in, oldest first, after `new` or `used` if it was bought loose")
    history: str = Field(description="What happened to it there, in words; empty if nothing is known")
    seen: list[SeenShape] = Field(description="Conditions found on it, oldest first")
    mended: list[str] = Field(description="Remedies done on it")
    tested: TestedShape | None = Field(
        description="The last line that shows it to work, with nothing since that could have changed that"
    )
    good: float | None = Field(
        description="Chance that nothing is wrong with it; null where its unit's log says what cannot be"
    )
    place: str = Field(description="Where it lies, or its donor does; empty if no line says so")
    revision: str | None = Field(description="Its revision, where it was read off")
    married: list[str] = Field(description="The parts it only works with")
    reserved_for: list[str] = Field(description="Units that are to get it")


class DonorShape(Shape):
    """A donor, or a unit that was parted, with parts in it."""

    unit: str = Field(description="Its name")
    map: str = Field(description="Name of its map")
    place: str = Field(description="Where it lies; empty if no line says so")
    parts: int = Field(description="How many parts are still in it")


class StockAnswer(Shape):
    """`knowngood stock`"""

    loose: list[LotShape] = Field(description="Loose small parts that are left, by kind and value")
    parts: list[StockRow] = Field(description="Harvested parts, by name of the part, then by time")
    donors: list[DonorShape] = Field(description="Donors with parts still in them")
    inside: list[StockRow] = Field(
        description="The parts still in donors that were asked for, by a part, a unit or a map; else empty"
    )
    warnings: list[str] = Field(description="Reservations of parts that are elsewhere")


class LabelShape(Shape):
    """One label."""

    asked: str = Field(description="What it is for, as U1, D1/lamp-door, S3 or a place")
    number: str = Field(description="What stands on it first, and largest")
    name: str = Field(description="Name of the part, step or lot; empty on the label of a unit or place")
    what: str = Field(description="What it is, in words")
    code: str = Field(description="What the QR code says")
    pair: str = Field(description="The mark of married parts in words; empty if it has none")
    shape: str = Field(description="The shape beside these words; empty if it has none")
    notes: list[str] = Field(description="Origin, proof, place")
    cautions: list[str] = Field(description="Cautions that hold")


class LabelAnswer(Shape):
    """`knowngood label`"""

    labels: list[LabelShape] = Field(description="In the order asked for")
    width: float = Field(description="Width of a label, in mm")
    height: float = Field(description="Height of a label, in mm")
    pages: int = Field(description="Pages of the PDF; 0 if none was asked for")
    svg: str | None = Field(description="The SVG file that was written")
    pdf: str | None = Field(description="The PDF file that was written")
