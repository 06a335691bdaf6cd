"""Lines of the bench's own log that take others back, or bring them again."""

from __future__ import annotations

from collections.abc import Sequence

from knowngood.errors import LineError
from knowngood.log import events as ev
from knowngood.log.state import Line, effective


def target(text: str, event: ev.Undid | ev.Redid, lines: Sequence[Line], about: str) -> ev.Event:
    """The event that a line takes back or brings again, among the ``lines`` that are ``about`` something.

    Raises LineError if it does not hold now, or was not undone.
    """
    holding = {line.seq: line.event for line in effective(lines)[0]}
    if isinstance(event, ev.Undid):
        if event.line not in holding:
            raise LineError(f"'{text}': line {event.line} of the bench's log is none about {about} that holds.")
        return holding[event.line]
    plain = {line.seq: line.event for line in lines if not isinstance(line.event, (ev.Undid, ev.Redid))}
    if event.line not in plain or event.line in holding:
        raise LineError(f"'{text}': line {event.line} of the bench's log was not undone.")
    return plain[event.line]
