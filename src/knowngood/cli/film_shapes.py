"""The JSON of a film by the log of a unit."""

from __future__ import annotations

from pydantic import Field

from knowngood.cli.shape import Shape


class ChapterShape(Shape):
    """A stretch of the film in which one sort of thing was done."""

    title: str = Field(description="What was done")
    start: float = Field(description="Seconds from the start of the film")
    end: float = Field(description="Seconds from the start of the film")
    lines: list[int] = Field(description="Lines of the log that it holds")


class HiddenShape(Shape):
    """A stretch that is not to be published."""

    start: float = Field(description="Seconds from the start of the film")
    end: float = Field(description="Seconds from the start of the film")
    why: str = Field(description="The reason")
    line: int = Field(description="The line that says so, or tells of what is private")
    by_itself: bool = Field(description="Whether no person hid it: the line tells of something private")


class SuspectedShape(Shape):
    """What was suspected after a line."""

    seq: int = Field(description="Number of the line")
    line: str = Field(description="The line")
    known_good: float | None = Field(
        description="Chance that all that is promised is good; null where not told exactly"
    )
    suspects: dict[str, float] = Field(description="By part shown: chance that it stops something promised")


class FilmAnswer(Shape):
    """`knowngood film`"""

    unit: str = Field(description="The unit's name")
    log_seq: int = Field(description="The unit's last line, up to which this answer goes")
    film: str | None = Field(description="Name of the film; null if only the picture of suspects was asked for")
    starts: str = Field(description="When it begins, UTC, ISO 8601; empty without a film")
    marks: list[int] = Field(description="Lines of the marks that align it with the log")
    rate: float = Field(
        description="Seconds of film for each second of the log; 1 unless marks a minute apart say else"
    )
    worst: float = Field(description="By how many seconds the mark that fits worst is off")
    end: float = Field(description="Where it ends, in seconds from its start")
    length_known: bool = Field(description="Whether its length was given; else it ends before a pause of an hour")
    chapters: list[ChapterShape] = Field(description="In order")
    hidden: list[HiddenShape] = Field(description="What is not to be published, in order")
    suspected: list[SuspectedShape] = Field(description="For the picture: after each line that may change the belief")
    vtt: str | None = Field(description="File of the chapters, if one was asked for")
    hide: str | None = Field(description="File of what is not to be published, if one was asked for")
    picture: str | None = Field(description="File of the picture of suspects, if one was asked for")
