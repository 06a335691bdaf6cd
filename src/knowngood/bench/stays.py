"""The units that a part was in, one after another, each with what its log says of that time."""

from __future__ import annotations

from dataclasses import dataclass

from knowngood.bench.donors import Origins
from knowngood.bench.passages import StockPart
from knowngood.log import events as ev
from knowngood.log.state import Line, Replay, State
from knowngood.maps.device import Device


@dataclass(frozen=True)
class Stay:
    """A part's time in one unit, up to the line that it left by."""

    came: StockPart
    device: Device
    lines: tuple[tuple[Line, State], ...]
    """From the one that put it in, or the purchase, to the one that took it out, each with the state before it."""
    state: State
    """What held when it left."""
    since: tuple[Line, ...]
    """Lines after that, up to where another part leaves that slot."""
    put_in: bool = False
    """It was not there when the unit was bought."""
    bought: str = ""
    """``new`` or ``used``, if it was bought for this unit."""

    @property
    def unit(self) -> str:
        return self.came.unit


def stays(origins: Origins, came: StockPart, under_way: frozenset[StockPart] = frozenset()) -> tuple[Stay, ...]:
    """The units that a part was in, oldest first. Parts logged in a circle come to an end."""
    device, told = origins.logs[came.unit][0], origins.told(came.unit)
    start, put, bought = 0, None, ""
    for line in told.lines:
        match line.event:
            case ev.Fitted(part=came.part, origin=origin) if line.seq < came.seq and origin != ev.BACK:
                start, put = line.seq, origins.moved.taken.get((came.unit, line.seq))
                bought = origin if origin in ev.TO_BUY else ""
            case _:
                pass
    stay = Stay(
        came,
        device,
        tuple(
            (line, before)
            for line, before in zip(told.lines, told.before, strict=True)
            if start <= line.seq <= came.seq
        ),
        _state_before(told, came.seq),
        _since(told, came),
        start > 0,
        bought,
    )
    earlier = stays(origins, put, under_way | {came}) if put is not None and put not in under_way else ()
    return (*earlier, stay)


def _state_before(told: Replay, seq: int) -> State:
    return next((before for line, before in zip(told.lines, told.before, strict=True) if line.seq >= seq), told.state)


def _since(told: Replay, came: StockPart) -> tuple[Line, ...]:
    found = []
    for line in told.lines:
        if line.seq > came.seq:
            if isinstance(line.event, (ev.Harvested, ev.Fitted)) and line.event.part == came.part:
                break
            found.append(line)
    return tuple(found)
