"""What money lies on a part when it leaves a unit, as far as that unit's own log says."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from knowngood.log import events as ev
from knowngood.log.state import Line, Replay, State


@dataclass(frozen=True)
class Slot:
    """How the part that left came to be there."""

    fits: tuple[tuple[int, int | None], ...]
    """Lines that put it in, the last first, each with what was paid for it in minor units; with None it was the unit's
    own that went back in, and the line before it counts. A line that took it off the shelf counts by what that says."""
    since_purchase: bool
    """It was there when the unit was bought, if no line says otherwise: it carries its share of the price."""

    def written(self) -> list[object]:
        """As JSON can hold it."""
        return [[list(one) for one in self.fits], self.since_purchase]

    @classmethod
    def read(cls, written: Sequence[object]) -> Slot:
        """From what ``written`` gave."""
        fits, since_purchase = written
        assert isinstance(fits, list)
        assert isinstance(since_purchase, bool)
        return cls(tuple((seq, paid) for seq, paid in fits), since_purchase)


def slots(told: Replay) -> dict[int, Slot]:
    """By the line of each harvest: what lay on the part."""
    lines = list(zip(told.lines, told.before, strict=True))
    return {
        line.seq: _slot(line.event.part, lines[:place])
        for place, (line, _) in enumerate(lines)
        if isinstance(line.event, ev.Harvested)
    }


def _slot(part: str, before: Sequence[tuple[Line, State]]) -> Slot:
    fits: list[tuple[int, int | None]] = []
    for line, state in reversed(before):
        match line.event:
            case ev.Harvested(part=other) if other == part:
                return Slot(tuple(fits), since_purchase=False)
            case ev.Fitted(part=other, origin=ev.BACK) if other == part:
                fits.append((line.seq, None))
            case ev.Fitted(part=other, origin=origin, price=price) if other == part:
                order = state.incoming.arrived.get(part) if origin in ev.TO_BUY else None
                bought = [one for one in (price, order.price if order else None) if one]
                paid = sum(one.minor for one in bought) if not origin[:1].isupper() else 0
                return Slot((*fits, (line.seq, paid)), since_purchase=False)
            case _:
                pass
    return Slot(tuple(fits), since_purchase=True)
