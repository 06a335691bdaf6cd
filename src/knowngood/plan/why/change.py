"""What changed the advice: the last line of the log before which another move came first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from knowngood.belief.cases import Effort
from knowngood.belief.sensing import BY_THE_MAP, Measuring
from knowngood.belief.story import Donors
from knowngood.log import events as ev
from knowngood.log.state import Line, replay
from knowngood.plan.choose import Advice, Ranked, advise
from knowngood.plan.terms import Terms

LINES_BACK = 6
"""Lines of the log that are looked back over."""

SILENT = (ev.Noted, ev.Worked, ev.Paid, ev.Got)
"""Events that no advice depends on."""


@dataclass(frozen=True)
class Change:
    """The line that changed the advice, what the advice was before it, and which suspect it moved most."""

    line: Line
    before: Ranked
    part: str
    p_before: float
    p_after: float

    @property
    def followed(self) -> bool:
        """Whether the line is what the advice was, done."""
        return ev.render(self.line.event).startswith(self.before.move.log)


def change(
    advice: Advice,
    lines: Sequence[Line],
    terms: Terms,
    *,
    donors: Donors | None = None,
    measuring: Measuring = BY_THE_MAP,
) -> Change | None:
    """The change, if one of the last ``LINES_BACK`` lines brought it. ``lines`` is the whole log, undos included."""
    after = advice
    for count in range(1, min(LINES_BACK, len(lines) - 1) + 1):
        line = lines[-count]
        if isinstance(line.event, SILENT):
            continue
        told = replay(advice.asked.device, lines[:-count])
        before = advise(advice.asked.device, told, terms, donors=donors, measuring=measuring, effort=Effort.BOUNDS)
        if before.best.move.log != advice.best.move.log:
            was = {one.part: one.p_blocks for one in before.belief.suspects}
            now = {one.part: one.p_blocks for one in after.belief.suspects}
            part = max(now, key=lambda one: (abs(now[one] - was[one]), one))
            return Change(line, before.best, part, was[part], now[part])
        after = before
    return None
