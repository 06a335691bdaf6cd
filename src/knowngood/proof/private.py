"""What a version for buyers does not show: prices, names of sources and suppliers, remarks, serial numbers."""

from __future__ import annotations

import re
from collections.abc import Iterable

from knowngood.log import events as ev
from knowngood.log.events.line import MONEY

SHOWN_REMARKS = (ev.Graded, ev.Listed, ev.Declared)
"""Lines whose remark is written for buyers; that of any other may hold names."""

SHOWN = 4
"""Characters of a serial number that are left, and never more than a third of it."""


def masked(serial: str) -> str:
    """A serial number of which the last four characters are left, fewer of a short one: enough to tell two units apart
    by, and too few to claim one with."""
    left = min(SHOWN, len(serial) // 3)
    return "…" + (serial[-left:] if left else "")


def without_serials(text: str, serials: Iterable[str]) -> str:
    """A text with every serial number in it masked, the longest first."""
    for serial in sorted(set(serials), key=len, reverse=True):
        text = re.sub(re.escape(serial), masked(serial), text, flags=re.IGNORECASE)
    return text


def for_buyers(event: ev.Event, serials: Iterable[str] = ()) -> str:
    """The line of an event as a buyer may read it, ``serials`` masked."""
    if isinstance(event, ev.Noted):
        return "noted [words]"
    remark = event.note if isinstance(event, SHOWN_REMARKS) else ""
    line = re.sub(MONEY, "[price]", ev.render(event.model_copy(update={"note": ""})))
    for key in ("source", "supplier"):
        if name := getattr(event, key, None):
            line = line.replace(f" from {name}", " from [name]")
    said = line + (f" -- {re.sub(MONEY, '[price]', remark)}" if remark else "")
    return without_serials(said, serials)
