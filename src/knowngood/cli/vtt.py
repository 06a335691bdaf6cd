"""Text tracks for films, as the W3C writes them: WebVTT, The Web Video Text Tracks Format (Candidate Recommendation,
4 April 2019, from memory): header, comments (4.1), cue times, chapter title text and metadata text (4.2 to 4.4)."""

from __future__ import annotations

from collections.abc import Iterable

from knowngood.cli import film_shapes as shapes
from knowngood.log.events.filming import film_time

ARROW = "-->"
"""What no text in a track may hold."""


def stamp(at: float) -> str:
    """A time of a cue: hours, minutes, seconds and thousandths."""
    return film_time(at, 3)


def chapters(answer: shapes.FilmAnswer) -> str:
    """A track of chapters, with a comment for each range that is not to be published."""
    notes = [f"NOTE Do not publish {stamp(one.start)} to {stamp(one.end)}: {_plain(one.why)}" for one in answer.hidden]
    cues = [
        _cue(str(number), one.start, one.end, _title(one.title)) for number, one in enumerate(answer.chapters, start=1)
    ]
    return _track(f"Chapters of {answer.film}, from the log of {answer.unit}", [*notes, *cues])


def not_to_publish(answer: shapes.FilmAnswer) -> str:
    """A track of metadata: a cue for each range that is not to be published, with the reason as its text."""
    cues = [_cue(f"line-{one.line}", one.start, one.end, _plain(one.why)) for one in answer.hidden]
    return _track(f"Not to be published of {answer.film}", cues)


def _track(header: str, blocks: Iterable[str]) -> str:
    return "\n\n".join([f"WEBVTT {_plain(header)}", *blocks]) + "\n"


def _cue(name: str, start: float, end: float, text: str) -> str:
    return f"{name}\n{stamp(start)} {ARROW} {stamp(end)}\n{text}"


def _plain(text: str) -> str:
    """A text on one line that does not look like the times of a cue."""
    return " ".join(text.split()).replace(ARROW, "->")


def _title(text: str) -> str:
    """The same for cue text, in which some signs begin a mark-up."""
    return _plain(text).replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
