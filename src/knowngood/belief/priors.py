"""How likely each state of a part is before any evidence, and how acts on it move that.

States are ``part.states``: fine first, then its modes. Vectors have shape (states,) and sum to one; transitions have
shape (states before, states after), rows summing to one.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import numpy as np
from numpy.typing import NDArray

from knowngood.handbook.human_error import REVERSED_PER_TOUCH, UNSEATED_PER_TOUCH
from knowngood.maps.device import Part, Remedy
from knowngood.maps.words import REVERSED

Vector = NDArray[np.float64]

DEAD_ON_ARRIVAL = 0.01
"""Chance that a new part is faulty (common practice, no source)."""

NEW = "new"
USED = "used"


def bought(
    part: Part, past: Iterable[str], severity: Mapping[str, float] | None = None, harm: Vector | None = None
) -> Vector:
    """The part that came with the unit: the base odds of each mode times the multipliers of what happened to it.

    ``severity`` is what an event was worth where the part sits, against its multiplier; ``harm`` multiplies the odds of
    each mode by what other faults did to the part, shape (modes,).
    """
    odds = np.array([part.base / (1.0 - part.base) * mode.share for mode in part.modes])
    of_part = dict(part.past)
    of_modes = [dict(mode.past) for mode in part.modes]
    for event in dict.fromkeys(past):
        factors = np.array([of_part.get(event, 1.0) * mode.get(event, 1.0) for mode in of_modes])
        odds *= np.where(factors == 1.0, 1.0, factors * (severity or {}).get(event, 1.0))
    return _from_odds(odds if harm is None else odds * harm)


def fitted(part: Part, origin: str) -> Vector:
    """A part put in: new, or of unknown history. What is in the hand is not missing."""
    base = DEAD_ON_ARRIVAL if origin == NEW else part.base
    present = np.array([0.0 if mode.name == "missing" else mode.share for mode in part.modes])
    return _from_odds(base / (1.0 - base) * present)


def carried(part: Part, origin: str) -> NDArray[np.float64]:
    """What a part becomes that came along with what it sits on: nothing of the old one stays. What a new assembly may
    have on arrival is counted with the assembly itself."""
    fresh = np.eye(len(part.states))[0] if origin == NEW else fitted(part, origin)
    return np.tile(fresh, (len(part.states), 1))


def _from_odds(odds: Vector) -> Vector:
    weights: Vector = np.concatenate([[1.0], odds])
    weights /= weights.sum()
    return weights


def touched(part: Part) -> NDArray[np.float64] | None:
    """What making a connection again does: how it sits is drawn afresh, a lasting fault stays, and the hand may bring
    one about. None if nothing can change.

    The chance of not being fully seated is shared among the seating modes by their shares; being the wrong way round,
    for a connection that can be, has a chance of its own.
    """
    if not part.is_connection or not any(mode.seating or mode.by_touch for mode in part.modes):
        return None
    ways = [mode for mode in part.modes if mode.seating and mode.name != REVERSED]
    whole = sum(mode.share for mode in ways)
    fresh = np.zeros(len(part.states))
    for state, mode in enumerate(part.modes, start=1):
        if mode.name == REVERSED:
            fresh[state] = REVERSED_PER_TOUCH
        elif mode.seating:
            fresh[state] = UNSEATED_PER_TOUCH * (mode.share / whole if whole else 1.0 / len(ways))
        else:
            fresh[state] = mode.by_touch
    fresh[0] = 1.0 - fresh.sum()
    result = np.eye(len(part.states))
    result[[0, *(state for state, mode in enumerate(part.modes, start=1) if mode.seating)]] = fresh
    return result


def returned(part: Part, since: Iterable[str] = (), *, handled: bool = False) -> NDArray[np.float64]:
    """What being sold and coming back does: time has passed and hands of a stranger were on it.

    A fault stays. What was fine is drawn afresh, by the odds of a part in a broken unit that was bought with nothing
    known of its past but what happened ``since``; how a connection sits that the bench made again (``handled``) as if
    it were made once more, since what is not latched lets go on the way. Common practice, no source: a unit that comes
    back is an unknown unit.
    """
    fresh = bought(part, since)
    again = touched(part) if handled else None
    result = np.eye(len(part.states))
    result[0] = fresh if again is None else fresh @ again
    return result


def mended(part: Part, remedy: Remedy) -> NDArray[np.float64]:
    """What a remedy does: a mode it cures is gone with its chance, else stays; a fine part may be spoiled."""
    cures, spoils = dict(remedy.cures), dict(remedy.spoils)
    result = np.eye(len(part.states))
    for index, mode in enumerate(part.modes, start=1):
        chance = cures.get(mode.name, 0.0)
        result[index, index] -= chance
        result[index, 0] += chance
    for index, mode in enumerate(part.modes, start=1):
        chance = spoils.get(mode.name, 0.0)
        result[0, index] += chance
        result[0, 0] -= chance
    return result


def swapped(part: Part, fresh: Vector) -> NDArray[np.float64]:
    """What fitting a part does to its slot: what its kind's replacement does, else the fresh part's states."""
    if part.swap is None:
        return np.tile(fresh, (len(part.states), 1))
    return replaced(part, part.swap, fresh)


def replaced(part: Part, remedy: Remedy, fresh: Vector) -> NDArray[np.float64]:
    """What putting another part in does: cured modes give way to the fresh part's states; the rest (say a worn seat)
    stays with the chance that the remedy leaves it."""
    cures = dict(remedy.cures)
    result = np.tile(fresh, (len(part.states), 1))
    for index, mode in enumerate(part.modes, start=1):
        left = 1.0 - cures.get(mode.name, 0.0)
        result[index] *= 1.0 - left
        result[index, index] += left
    return result
