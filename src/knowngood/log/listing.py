"""What of a unit's log says how it is shown to buyers: the grade a person gave it, and what its listing names."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from knowngood.log import events as ev
from knowngood.log.events.listing import Grade

Show = ev.Graded | ev.Listed


@dataclass(frozen=True)
class Listing:
    """What is so after some line of the log."""

    graded: tuple[int, Grade, str] | None = None
    """The last line that grades it, its grade and its reason."""
    listed: int | None = None
    """The last line that says it is listed."""
    named: frozenset[str] = frozenset()
    """Functions that were declared as not working when it was listed last: the listing says so."""

    def after(self, event: Show, seq: int, declared: Iterable[str]) -> Listing:
        """What is so after an event."""
        match event:
            case ev.Graded(grade=grade, note=why):
                return replace(self, graded=(seq, grade, why))
            case ev.Listed():
                return replace(self, listed=seq, named=frozenset(declared))
