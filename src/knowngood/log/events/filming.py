"""What joins the log with recordings of the work: marks that align them, and ranges that nobody is to see."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from typing import Annotated, ClassVar, Literal

from pydantic import BeforeValidator, Field, model_validator

from knowngood.errors import LineError
from knowngood.log.events.line import Event, Reasoned

_AT = r"(?:\d+:)?\d{1,2}:\d{2}(?:\.\d{1,3})?"
_FILM = r"(?P<film>[A-Za-z0-9][\w.-]*)"


def seconds(at: str) -> float:
    """Seconds from the start of a film, of a time as 01:02:03.5."""
    found = 0.0
    for one in at.split(":"):
        found = 60.0 * found + float(one)
    return found


def seconds_of(at: str) -> float:
    """The same of a time as a person types it. Raises LineError."""
    try:
        return seconds(str(_in_a_film(at)))
    except ValueError as error:
        raise LineError(str(error)) from None


def film_time(at: float, digits: int = 0) -> str:
    """Seconds as a time of a film: 00:03:12, with so many digits behind the point."""
    whole = round(at * 10**digits)
    rest, part = divmod(whole, 10**digits)
    text = f"{rest // 3600:02d}:{rest // 60 % 60:02d}:{rest % 60:02d}"
    return f"{text}.{part:0{digits}d}" if digits else text


def _in_a_film(value: object) -> object:
    if not isinstance(value, str) or not re.fullmatch(_AT, value):
        raise ValueError(f"{value!r} is not a time of a film. Write hours, minutes and seconds: 00:03:12")
    if any(float(one) >= 60.0 for one in value.split(":")[-2:]):
        raise ValueError(f"'{value}': minutes and seconds go up to 59. Write it as 01:03:12")
    part = value.partition(".")[2].rstrip("0")
    return film_time(seconds(value), len(part))


def _moment(value: object) -> object:
    if not isinstance(value, str):
        return value
    try:
        when = datetime.fromisoformat(value)
    except ValueError:
        raise ValueError(f"'{value}' is not a moment. Write it as 2026-06-01T10:15:00Z") from None
    if when.tzinfo is None:
        raise ValueError(f"'{value}': in which time zone? End it with Z for UTC, or +02:00")
    return when.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


FilmTime = Annotated[str, BeforeValidator(_in_a_film)]
"""Hours, minutes and seconds from the start of a film."""
Moment = Annotated[str, BeforeValidator(_moment)]
"""UTC, ISO 8601, whole seconds, as lines have it."""
Film = Annotated[str, Field(pattern=r"^[A-Za-z0-9][\w.-]*$")]


class Clapped(Event):
    """A mark that log and film have in common: the moment of this line, of another one, or one said aloud, and where
    it is in the film."""

    form: ClassVar[str] = "clapped [line NUMBER|MOMENT] at HH:MM:SS of FILM"
    example: ClassVar[str] = "clapped at 00:03:12 of bench-1.mp4"
    pattern: ClassVar[str] = rf"(?:(?:line (?P<line>\d+)|(?P<moment>\d{{4}}-\S+)) )?at (?P<at>{_AT}) of {_FILM}"
    verb: Literal["clapped"] = "clapped"
    line: int | None = Field(None, ge=1)
    moment: Moment | None = None
    at: FilmTime
    film: Film

    @model_validator(mode="after")
    def _one_moment(self) -> Clapped:
        if self.line is not None and self.moment is not None:
            raise ValueError("A line or a moment, not both.")
        return self

    def words(self) -> str:
        of = f"line {self.line} " if self.line is not None else f"{self.moment} " if self.moment else ""
        return f"{of}at {self.at} of {self.film}"


class Hid(Reasoned):
    """A range of a film is not to be published, and why (the remark)."""

    form: ClassVar[str] = "hid HH:MM:SS to HH:MM:SS of FILM -- WHY"
    example: ClassVar[str] = "hid 00:04:00 to 00:05:10 of bench-1.mp4 -- the address label is in view"
    reason: ClassVar[str] = "What is hidden needs its reason, after ' -- '."
    pattern: ClassVar[str] = rf"(?P<start>{_AT}) to (?P<end>{_AT}) of {_FILM}"
    verb: Literal["hid"] = "hid"
    start: FilmTime
    end: FilmTime
    film: Film

    @model_validator(mode="after")
    def _forward(self) -> Hid:
        if seconds(self.start) >= seconds(self.end):
            raise ValueError(f"It ends at {self.end}, and that is not after {self.start}.")
        return self

    def words(self) -> str:
        return f"{self.start} to {self.end} of {self.film}"
