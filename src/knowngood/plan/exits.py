"""The ways out and what each is worth: sold working (only when all is shown to work), as it is, or parted out."""

from __future__ import annotations

from knowngood.belief.believe import Belief
from knowngood.handbook.quantities import percent
from knowngood.log.state import State
from knowngood.maps.device import Device
from knowngood.plan.access import closing_minutes
from knowngood.plan.hazards import Act
from knowngood.plan.moves import Move
from knowngood.plan.terms import Terms


def exit_moves(device: Device, state: State, terms: Terms, belief: Belief) -> list[tuple[Move, float]]:
    """The ways out with their worth: sold working (only when all is shown to work), sold as it is, parted out."""
    close = closing_minutes(device, state) * terms.rate
    work = terms.list_minutes
    ways = [
        (
            Move(
                "sell-as-is",
                "",
                "Sell it as it is, with what was found",
                work,
                0.0,
                Act(ends=True),
                log=f"sold as-is for {state.prices.get('as-is', device.worth.as_is)}",
            ),
            terms.as_is - close - work * terms.rate,
        ),
        (
            Move(
                "part-out",
                "",
                "Stop: part it out",
                0.0,
                0.0,
                Act(ends=True),
                log=f"parted worth {state.prices.get('parts', device.worth.parts)}",
            ),
            terms.parts,
        ),
    ]
    if not unproven(belief, state) and not state.open_steps:
        good = belief.known_good
        worth = good * terms.working - (1 - good) * terms.come_back - work * terms.rate
        do = f"Sell it as working: every promised function has been shown ({percent(good)} known good)"
        log = f"sold working for {state.prices.get('working', device.worth.working)}"
        ways.append((Move("sell", "", do, work, 0.0, Act(ends=True), log=log), worth))
    return ways


def unproven(belief: Belief, state: State) -> tuple[str, ...]:
    """Promised functions that have not been shown to work since the last act on the unit."""
    return tuple(name for name in belief.wanted if name not in state.proven)
