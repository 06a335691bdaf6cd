"""How near a unit is to known good: what has been shown, what has not, and the chance that all of it is so."""

from __future__ import annotations

from dataclasses import dataclass

from knowngood.belief.believe import Belief
from knowngood.log.state import State
from knowngood.maps.device import Device, FunctionLevel
from knowngood.plan.lifting import allowed
from knowngood.plan.moves import test_move


@dataclass(frozen=True)
class Shown:
    """One promised function: whether it was seen to work since the last act on the unit, and how likely it is good."""

    function: str
    what: str
    proven: bool
    p_good: float
    held: str | None = None
    """Why a hard rule lets nobody try it yet, if it is still to be shown; None if it may be tried."""


@dataclass(frozen=True)
class Proof:
    """The state of the proof. ``known_good`` is never 1: something the map does not know is always in it."""

    known_good: float
    functions: tuple[Shown, ...]
    declared: tuple[str, ...]
    """Functions sold as not working, and said so."""
    open_steps: tuple[str, ...]

    @property
    def unproven(self) -> tuple[str, ...]:
        return tuple(shown.function for shown in self.functions if not shown.proven)


def proof(belief: Belief, state: State) -> Proof:
    """The proof of a unit as its log leaves it."""
    functions = tuple(
        Shown(
            name,
            belief.device.functions[name].what,
            name in state.proven,
            belief.good[name],
            None if name in state.proven else _held(belief.device, state, name),
        )
        for name in belief.wanted
    )
    return Proof(belief.known_good, functions, tuple(sorted(state.declared)), state.ajar)


def _held(device: Device, state: State, function: str) -> str | None:
    """The reason of the rule that holds back every test which would show the function."""
    showing = [test for test in device.tests.values() if test.senses == FunctionLevel(function)]
    free, held = allowed(device, state, [test_move(device, state, test) for test in showing])
    return str(held[0][1]) if held and not free else None
