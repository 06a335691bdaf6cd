"""Which revision a part is, and whether it fits where it is to go, from the logs alone."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from knowngood.bench.passages import Log, Moves, StockPart
from knowngood.log import events as ev
from knowngood.log.state import Flag, Replay, effective
from knowngood.maps.device import Part

NOT_KNOWN = "revision not known"
"""What is said of a part that exists in revisions where none was read off it, or off the place that it is for."""


@dataclass(frozen=True)
class Reader:
    """Reads revisions in the logs of units that gave or got parts, joined by ``moved``."""

    logs: Mapping[str, Log]
    moved: Moves

    def of(self, came: StockPart) -> str | None:
        """The revision of a harvested part: read off it in its unit, before or since, or where it came from."""
        return self._read(came, frozenset())

    def _read(self, came: StockPart, under_way: frozenset[StockPart]) -> str | None:
        revision: str | None = None
        put: StockPart | None = None
        for line in effective(self.logs[came.unit][1])[0]:
            match line.event:
                case ev.Fitted(part=part, origin=origin) if part == came.part and origin != ev.BACK:
                    if line.seq > came.seq:
                        break
                    revision, put = None, self.moved.taken.get((came.unit, line.seq))
                case ev.Identified(part=part, revision=read) if part == came.part:
                    revision = read
                case _:
                    pass
        if revision is None and put is not None and put not in under_way:
            return self._read(put, under_way | {came})
        return revision

    def flags(self, unit: str, log: Replay, parts: Mapping[str, Part]) -> list[Flag]:
        """The fitted lines that put a part where, by what is known now, its revision does not fit."""
        last = {
            line.event.part: line
            for line in log.lines
            if isinstance(line.event, ev.Fitted) and line.event.origin != ev.BACK
        }
        found = []
        for name, line in last.items():
            came = self.moved.taken.get((unit, line.seq))
            revision = log.state.revisions.get(name) or (self.of(came) if came else None)
            if wrong := misfit(parts[name], revision, bought_with(log, name)):
                found.append(Flag(line.seq, f"{wrong} It counts as fitted all the same."))
        return found


def bought_with(log: Replay, part: str) -> str | None:
    """The revision that was read off the part that the unit was bought with; None if none was."""
    read = None
    for line, before in zip(log.lines, log.before, strict=True):
        if isinstance(line.event, ev.Identified) and line.event.part == part and part not in before.origin:
            read = line.event.revision
    return read


def known_for(log: Replay, part: str) -> str | None:
    """The revision that a place is known for: that of the part it was bought with, else of what sits there now."""
    return bought_with(log, part) or log.state.revisions.get(part)


def misfit(part: Part, revision: str | None, held: str | None) -> str:
    """Says that a revision does not fit where another was; empty if it does, or if one of them is not known."""
    if revision is None or held is None or revision in part.takes(held):
        return ""
    return f"This '{part.id}' is revision {revision}; the place of a {held} takes {' or '.join(part.takes(held))}."
