"""How likely the unit would work after each of many sets of acts that are only considered, exactly and in few passes.

A menu lists what could be done to one part. Its choice is one more variable of the network, and what it leaves of the
part one more in its slot, so that a set of acts is a set of evidence: all sets share one compiled network, and faults
that hang together (a common cause, one explained by another) stay as they are tied.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import numpy as np
from numpy.typing import NDArray

from knowngood.belief.believe import Belief
from knowngood.belief.cases import Effort
from knowngood.belief.causes import Link
from knowngood.belief.evidence import Evidence, both
from knowngood.belief.sensing import BY_THE_MAP, Measuring
from knowngood.belief.story import Donors, tell
from knowngood.log.state import Replay
from knowngood.maps.device import Device

Acts = NDArray[np.float64]
"""What each act on a part makes of its states, shape (acts, states before, states after), rows summing to one."""

Chosen = NDArray[np.intp]
"""Sets of acts: the act of each menu, in the order of the menus, shape (sets, menus)."""


class Considered:
    """A unit with menus for some of its parts. Raises what ``believe`` raises.

    A part without a menu stays as it is. A slot that was emptied by a harvest holds nothing until an act fills it; its
    states before are those of the part that was taken out. With the effort for bounds, where exact tables do not fit
    chances are those of the likeliest cases, and ``missed`` says how far off they may be.
    """

    def __init__(
        self,
        device: Device,
        replay: Replay,
        menus: Mapping[str, Acts],
        *,
        donors: Donors | None = None,
        measuring: Measuring = BY_THE_MAP,
        effort: Effort = Effort.CASES,
    ) -> None:
        self.menus = tuple(menus)
        self._sizes = [len(acts) for acts in menus.values()]
        story = tell(device, replay, donors)
        for part, acts in menus.items():
            before, after = story.now[part], f"{part}#later"
            story.links.append(Link(_choice(part), np.full(len(acts), 1.0 / len(acts))))
            story.links.append(Link(after, acts, (_choice(part), before), part))
            story.later[part] = after
        self._belief = Belief(story, replay, measuring, effort=effort)

    def works(self, functions: Iterable[str], sets: Chosen) -> NDArray[np.float64]:
        """For each set of acts the chance that all of these functions are good as the unit will be used, (sets,)."""
        good = self._belief.when_all_good(tuple(functions))
        if not len(sets):
            return np.zeros(0)
        found = self._log_weights(both(self._belief.base, good), sets)
        chances: NDArray[np.float64] = np.exp(found - self._log_weights_of(sets))
        return np.broadcast_to(np.minimum(chances, 1.0), (len(sets),))

    def missed(self, sets: Chosen) -> NDArray[np.float64]:
        """For each set of acts how far at most ``works`` lies from the true chance, (sets,)."""
        if self._belief.part is None:
            return np.zeros(len(sets))
        # Each set has the same share of all weight, of which as much is missed as its cases do not hold.
        most = np.logaddexp(self._belief.log_evidence, self._belief.part.log_missed) - np.log(self._sizes).sum()
        missed: NDArray[np.float64] = np.clip(1.0 - np.exp(self._log_weights_of(sets) - most), 0.0, 1.0)
        return missed

    def _log_weights_of(self, sets: Chosen) -> NDArray[np.float64]:
        """The log of the weight of each set in what was worked out, (sets,); in the whole all weigh the same. Raises
        TooLargeError where none of a set's cases was."""
        if self._belief.part is None:
            return np.full(len(sets), self._belief.log_evidence - np.log(self._sizes).sum())
        found = self._log_weights(self._belief.base, sets)
        if np.isneginf(found).any():
            raise self._belief.part.too_large
        return found

    def _log_weights(self, evidence: Evidence, sets: Chosen) -> NDArray[np.float64]:
        rows = dict(evidence)
        for part, size, acts in zip(self.menus, self._sizes, sets.T, strict=True):
            rows[_choice(part)] = np.eye(size)[acts]
        return np.broadcast_to(self._belief.network.log_evidence(rows), (len(sets),))


def _choice(part: str) -> str:
    return f"{part}?"
