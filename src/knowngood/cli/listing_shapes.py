"""The JSON of how a unit is shown to buyers: its grade, its listing, its report."""

from __future__ import annotations

from pydantic import Field

from knowngood.cli.shape import Shape
from knowngood.log.events.listing import Grade
from knowngood.proof.account import Subject


class ReasonShape(Shape):
    """A fact, and the best grade that it allows."""

    grade: Grade = Field(description="The best grade that goes with it")
    says: str = Field(description="The fact in words")
    lines: list[int] = Field(description="Lines of the log that it rests on")


class GradeShape(Shape):
    """The grade of a unit."""

    grade: Grade = Field(description="The one that holds: a person's goes before that of the facts")
    means: str = Field(description="What it means")
    by_facts: Grade = Field(description="The grade that the facts give")
    reasons: list[ReasonShape] = Field(description="All that keeps the unit from a better one, the gravest first")
    not_looked: list[str] = Field(description="Parts of the outside that nobody looked at as they are now")
    given_by: int | None = Field(description="The line that grades it; null if no person did")
    why: str = Field(description="Why the person gave it; empty if none did")
    against: list[ReasonShape] = Field(description="Facts that do not go with the grade that the person gave")


class GradeAnswer(Shape):
    """`knowngood grade`"""

    unit: str = Field(description="The unit's name")
    log_seq: int = Field(description="The unit's last line, up to which this answer goes")
    grade: GradeShape = Field(description="Its grade")


class ClaimShape(Shape):
    """One thing said of a unit."""

    subject: Subject = Field(description="What it is about")
    says: str = Field(description="The claim in words")
    how: str = Field(description="How it was found out; empty where the claim says it")
    lines: list[int] = Field(description="Lines of the log that it rests on; none for what is said not to be known")
    photos: list[str] = Field(description="Files of the photos that show it")


class SectionShape(Shape):
    """The claims under one heading."""

    title: str = Field(description="The heading")
    claims: list[ClaimShape] = Field(description="In order")


class ListingAnswer(Shape):
    """`knowngood listing`"""

    unit: str = Field(description="The unit's name")
    log_seq: int = Field(description="The unit's last line, up to which this answer goes")
    text: str = Field(description="The listing as plain text, to paste")
    grade: GradeShape = Field(description="Its grade")
    sections: list[SectionShape] = Field(description="What the text says, with the lines it rests on")
    remarks: list[str] = Field(description="What to put right or to log; not part of the text")
    listed_by: int | None = Field(description="The last line that says it is listed; null if none does")


class CitedShape(Shape):
    """A line of the log that a report cites."""

    seq: int = Field(description="Its number")
    time: str = Field(description="UTC, ISO 8601")
    line: str = Field(description="The line; for buyers without prices, names and remarks")


class PictureShape(Shape):
    """A photo that a report shows, as a copy without place or camera."""

    file: str = Field(description="The file of the original")
    says: str = Field(description="What it shows, and whether before or after the work")
    line: int = Field(description="The line of the log that names it")
    trouble: str = Field(description="Why there is none to see; empty if it is shown")


class ReportAnswer(Shape):
    """`knowngood report`"""

    unit: str = Field(description="The unit's name")
    log_seq: int = Field(description="The unit's last line, up to which this answer goes")
    title: str = Field(description="The device in words")
    for_buyers: bool = Field(description="Whether prices, names and remarks are left out")
    grade: GradeShape = Field(description="Its grade")
    sections: list[SectionShape] = Field(description="What the report says")
    pictures: list[PictureShape] = Field(description="The photos: before beside after first, two in a row")
    appendix: list[CitedShape] = Field(description="Every line that a claim rests on, in order")
    pdf: str = Field(description="The file it was written to")
