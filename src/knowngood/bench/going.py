"""What to mind as a unit or a part of it goes, and as a unit comes back: said once, at the line itself."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from knowngood.bench.store import Store
from knowngood.log import events as ev
from knowngood.log.remembered import replay
from knowngood.log.state import Line, State
from knowngood.maps.device import Device
from knowngood.proof.release import BY_POST, CELL, cells_in

CELL_OUT = (
    "Tape its contacts before it lies beside anything; a hurt one in sand or a fire box, outdoors. It goes where cells "
    "are taken back, never into household waste. Local rules come first."
)
MAINS_OUT = (
    "Cut its cord, and mark what is unsafe so that nobody revives it. It goes where electrical waste is taken back, by "
    "local rules."
)
LAMP_OUT = "The lamp whole and bagged: it holds mercury. By local rules."
"""Ways out of what is dangerous (common practice, no source; local codes before all of them)."""


def going_remarks(store: Store, unit: str, added: Iterable[Line]) -> list[str]:
    """What lines that were just logged call for."""
    lines = [line for line in added if isinstance(line.event, (ev.Sold, ev.Scrapped, ev.Disposed, ev.Returned))]
    if not lines:
        return []
    name, device = store.unit_id(unit), store.device(unit)
    told = replay(device, store.lines(unit))
    before = {line.seq: state for line, state in zip(told.lines, told.before, strict=True)}
    return [said for line in lines if line.seq in before for said in _said(name, device, before[line.seq], line.event)]


def _said(unit: str, device: Device, state: State, event: ev.Event) -> Iterator[str]:
    match event:
        case ev.Sold():
            if cells := cells_in(device, state):
                yield f"{BY_POST} ({', '.join(cells)})."
        case ev.Scrapped(part=part) | ev.Disposed(part=part):
            inside = [one for one in device.parts.values() if part in (ev.UNIT, *device.within(one.id))]
            hazards = {
                hazard for one in inside if part != ev.UNIT or one.id not in state.removed for hazard in one.hazards
            }
            yield from (said for hazard, said in OUT.items() if hazard in hazards)
        case ev.Returned():
            yield (
                f"{unit} is an unknown unit again: it begins at intake, not at power (knowngood intake {unit}). Its "
                "safety test and the proof are void, and what its buyer stored in it has to be wiped."
            )
            if before := state.intake.serials:
                numbers = ", ".join(f"{number} ({part})" for part, number in before.items())
                yield f"Is it the same unit, with the same boards? Serials when it was sold: {numbers}."
            if state.touched:
                last = ", ".join(reversed(state.touched[-5:]))
                yield f"What was made again here, the last first: {last}. Suspect that before the world."
            yield "Money that goes back to the buyer: refunded MONEY. Once the cause is known: caused by PART MODE."
        case _:
            pass


OUT = {CELL: CELL_OUT, "mains": MAINS_OUT, "lamp": LAMP_OUT}
"""What is said, by the hazard of what goes."""
