"""What a drawn unit would be worth if what is wrong with it were known: about the most that any policy can get of it.

Nothing is asked, nothing is mended in vain, and the way to the parts is paid once. A remedy that cures with chance p
costs 1/p of its price, as if it could be repeated; what touching may break and what hard rules ask for is left out. So
a policy falls short of it, but for luck: a unit sold as working that is not may bring more than its parts.
"""

from __future__ import annotations

from knowngood.belief.evaluate import World, behave
from knowngood.log.state import State
from knowngood.maps.device import Device, Part
from knowngood.maps.words import Level
from knowngood.plan.judge import try_minutes
from knowngood.plan.moves import remedy_moves
from knowngood.plan.terms import Terms


def worth_if_known(
    device: Device, modes: dict[str, str], unknown: frozenset[str], past: tuple[str, ...], terms: Terms
) -> float:
    """Worth of a unit with these faults: mended at the least cost, or left as it is if that brings more."""
    as_it_is = max(terms.parts, terms.as_is - terms.list_minutes * terms.rate)
    proving = sum(try_minutes(device, name) for name in device.wanted)
    success = terms.working - (terms.list_minutes + proving) * terms.rate
    if not _works(device, {}, unknown):
        return as_it_is
    hurt = [part for part in modes if not _works(device, {part: modes[part]}, unknown)]
    others = [part for part in modes if part not in hurt]
    choices = ((), *((part,) for part in others), tuple(others))  # more where a fault stops only with another
    enough = next(more for more in choices if _works(device, {one: modes[one] for one in {*others} - {*more}}, unknown))
    mended = {part: modes[part] for part in (*hurt, *enough)}
    return max(as_it_is, success - _mending(device, State(past=past), terms, mended))


def _mending(device: Device, state: State, terms: Terms, modes: dict[str, str]) -> float:
    steps = {step for part in modes for step in _way(device, device.parts[part])}
    access = sum(device.steps[one].open_minutes + device.steps[one].close_minutes for one in steps) * terms.rate
    return access + sum(_cure(device, state, terms, device.parts[part], mode) for part, mode in modes.items())


def _cure(device: Device, state: State, terms: Terms, part: Part, mode: str) -> float:
    opening = sum(device.steps[one].open_minutes for one in _way(device, part)) * terms.rate
    prices = [
        (move.cost(terms) - opening) / chance
        for move in remedy_moves(device, state, terms, part)
        if move.remedy and (chance := dict(move.remedy.cures).get(mode, 0.0)) > 0.0
    ]
    return min(prices, default=float("inf"))


def _way(device: Device, part: Part) -> tuple[str, ...]:
    return device.path_to[part.behind] if part.behind else ()


def _works(device: Device, modes: dict[str, str], unknown: frozenset[str]) -> bool:
    """Whether every wanted function is good with these faults, closed, cold and warm."""
    for warm in (False, True):
        level = behave(device, World(modes, unknown=unknown, warm=warm)).level
        if any(level[name] != Level.GOOD for name in device.wanted):
            return False
    return True
