"""What can happen at the bench: one frozen class for each plain verb, with its one canonical line.

``parse(render(event)) == event`` holds for every event. A line may end in ``in 12 min`` (hands-on time, else the map's
figure counts) and `` -- a remark``.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Annotated, get_args

from pydantic import Field, ValidationError

from knowngood.errors import LineError, QuantityError
from knowngood.handbook.quantities import parse_minutes, parse_money
from knowngood.log.events.corrections import Redid, Undid
from knowngood.log.events.fasteners import Screwed, Unscrewed
from knowngood.log.events.filming import Clapped, Hid
from knowngood.log.events.findings import Asked, Checked, Drew, Found, Identified, Noted, Past, Read, Saw, Tried
from knowngood.log.events.going import Caused, Dispatched, Disposed, Refunded, Returned
from knowngood.log.events.intake import Cleared, Disputable, Left, Marked, Photographed, Quarantined, Recorded, Weighed
from knowngood.log.events.line import ALL, BACK, IDLE, TAIL, TO_BUY, UNIT, Event
from knowngood.log.events.listing import Graded, Listed
from knowngood.log.events.offers import Accepted, Offered, Received, Refused
from knowngood.log.events.release import Inspected, Measured, Overrode, Stated, Wiped
from knowngood.log.events.teardown import Met
from knowngood.log.events.trade import (
    Arrived,
    Bought,
    Got,
    Ordered,
    Paid,
    Parted,
    Planned,
    Priced,
    Released,
    Reserved,
    Scrapped,
    Sold,
    Vended,
)
from knowngood.log.events.wishes import Deferred, Has, Lacks, Resumed
from knowngood.log.events.work import (
    Began,
    Closed,
    Declared,
    Discharged,
    Dried,
    Fitted,
    Harvested,
    Mended,
    Opened,
    Plugged,
    Put,
    Removed,
    Unplugged,
    Used,
    Waited,
    Worked,
)
from knowngood.maps.shape import similar

__all__ = [
    "ALL",
    "BACK",
    "EVENTS",
    "IDLE",
    "TO_BUY",
    "UNIT",
    "Accepted",
    "AnyEvent",
    "Arrived",
    "Asked",
    "Began",
    "Bought",
    "Caused",
    "Checked",
    "Clapped",
    "Cleared",
    "Closed",
    "Declared",
    "Deferred",
    "Discharged",
    "Dispatched",
    "Disposed",
    "Disputable",
    "Drew",
    "Dried",
    "Event",
    "Fitted",
    "Found",
    "Got",
    "Graded",
    "Harvested",
    "Has",
    "Hid",
    "Identified",
    "Inspected",
    "Lacks",
    "Left",
    "Listed",
    "Marked",
    "Measured",
    "Mended",
    "Met",
    "Noted",
    "Offered",
    "Opened",
    "Ordered",
    "Overrode",
    "Paid",
    "Parted",
    "Past",
    "Photographed",
    "Planned",
    "Plugged",
    "Priced",
    "Put",
    "Quarantined",
    "Read",
    "Received",
    "Recorded",
    "Redid",
    "Refunded",
    "Refused",
    "Released",
    "Removed",
    "Reserved",
    "Resumed",
    "Returned",
    "Saw",
    "Scrapped",
    "Screwed",
    "Sold",
    "Stated",
    "Tried",
    "Undid",
    "Unplugged",
    "Unscrewed",
    "Used",
    "Vended",
    "Waited",
    "Weighed",
    "Wiped",
    "Worked",
    "parse",
    "render",
]

AnyEvent = Annotated[
    Offered
    | Refused
    | Accepted
    | Received
    | Bought
    | Recorded
    | Weighed
    | Disputable
    | Quarantined
    | Cleared
    | Left
    | Photographed
    | Marked
    | Past
    | Asked
    | Saw
    | Read
    | Drew
    | Tried
    | Found
    | Opened
    | Closed
    | Unscrewed
    | Screwed
    | Met
    | Unplugged
    | Plugged
    | Removed
    | Harvested
    | Put
    | Fitted
    | Mended
    | Used
    | Discharged
    | Began
    | Dried
    | Declared
    | Waited
    | Worked
    | Paid
    | Got
    | Sold
    | Parted
    | Vended
    | Scrapped
    | Disposed
    | Dispatched
    | Returned
    | Refunded
    | Caused
    | Priced
    | Lacks
    | Has
    | Deferred
    | Resumed
    | Identified
    | Planned
    | Reserved
    | Ordered
    | Arrived
    | Released
    | Stated
    | Inspected
    | Measured
    | Wiped
    | Checked
    | Overrode
    | Graded
    | Listed
    | Clapped
    | Hid
    | Noted
    | Undid
    | Redid,
    Field(discriminator="verb"),
]
"""Every event, told apart by its verb."""

EVENTS: dict[str, type[Event]] = {
    event.model_fields["verb"].default: event for event in get_args(get_args(AnyEvent)[0])
}
"""Event class by verb."""


def render(event: Event) -> str:
    """The canonical line of an event, without number and time."""
    verb: str = event.verb  # type: ignore[attr-defined]  # every child has one; the base cannot
    tail = f" in {event.minutes:.10g} min" if event.minutes is not None else ""
    return f"{verb} {event.words()}".rstrip() + tail + (f" -- {event.note}" if event.note else "")


def parse(line: str, events: Mapping[str, type[Event]] = EVENTS) -> Event:
    """The event of a canonical line, one of ``events`` by verb. Raises LineError that shows the form and an example."""
    verb, _, rest = " ".join(line.split()).partition(" ")
    event = events.get(verb)
    if event is None:
        raise LineError(f"'{verb}' is not one of the verbs. {similar(verb, events)}")
    pattern = event.pattern + ("$" if event is Noted else TAIL)
    # The tail begins with a blank, which a verb without words of its own has before it.
    match = re.fullmatch(pattern.removesuffix("$"), rest) or re.fullmatch(pattern.removesuffix("$"), f" {rest}")
    if match is None:
        raise LineError(f"'{line.strip()}' is not understood. Write: {event.form}. For example: {event.example}")
    try:
        return event.model_validate(_values(match.groupdict()))
    except QuantityError as error:
        raise LineError(f"'{line.strip()}': {error}") from None
    except ValidationError as error:
        first = error.errors()[0]
        key = f"{first['loc'][-1]}: " if first["loc"] else ""
        raise LineError(f"'{line.strip()}': {key}{_said(first['msg'])} For example: {event.example}") from None


def _said(message: str) -> str:
    said = message.removeprefix("Value error, ").rstrip(".")
    return said if said.endswith("?") else f"{said}."


def _values(groups: dict[str, str | None]) -> dict[str, object]:
    values: dict[str, object] = {}
    for key, text in groups.items():
        if text is None:
            continue
        if key in ("price", "amount", "worth"):
            values[key] = parse_money(text)
        elif key in ("minutes", "wait", "work"):
            values[key] = parse_minutes(text)
        elif key == "past":
            values[key] = tuple(word for word in text.split(",") if word)
        elif key in ("behind", "joins"):
            values[key] = tuple(text.split(" and "))
        elif key in ("reversible", "bench", "live"):
            values[key] = True
        elif key in ("line", "count"):
            values[key] = int(text)
        else:
            values[key] = text
    return values
