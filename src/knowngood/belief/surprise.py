"""Lines that can hardly, or not at all, be true together, and which of them to look at again first.

The surprise of a set of lines is log10 of the product of their single probabilities over their joint probability. A
repeat in an unchanged state is no line of its own. A single reading has the claim beside it that it is no slip of the
hand or pen: one that no likely state of the rail makes (121 V on a 12 V rail) is a set of one.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from knowngood.belief import sensing
from knowngood.belief.network import FactorNetwork, Posteriors
from knowngood.belief.story import Sensed, Story
from knowngood.errors import ContradictionError
from knowngood.log.takes import LOOK_MINUTES
from knowngood.maps.device import RailToGround, RailVoltage

if TYPE_CHECKING:
    from knowngood.belief.believe import Belief
    from knowngood.belief.evidence import Weight

Array = NDArray[np.float64]
Rows = dict[str, Array]

LEVEL = 3.0
"""Sets of lines above this surprise are shown: all true together they are a thousandth as likely as each by itself."""

LARGEST = 5
"""Lines of the largest set that is looked for."""

WIDTH = 16
"""Sets of each size, from pairs on, that are made larger."""

ONLY_A_SLIP = 1e-9
"""A reading this unlikely to be other than a slip is one for certain, as far as numbers tell."""

AS_MUCH = 0.05
"""Differences in surprise below this (in decades) decide nothing."""


def is_slip(share: float, meant: float) -> bool:
    """Whether a reading alone is above ``LEVEL``: slips are ``share`` of all readings, and this one is ``meant`` to be
    what it says with that chance."""
    return bool(meant < (1.0 - share) / 10.0**LEVEL)


@dataclass(frozen=True)
class Surprise:
    """Lines that can hardly all be true. ``lines`` are their numbers, ``texts`` the lines, in the order of the log.

    ``recheck`` is the line that fits worst with all others of the log: leaving it out takes away most of the surprise
    of the whole log; of several, the one that takes the fewest minutes to make again. ``log10`` is infinite for a
    reading that only a slip can make.
    """

    lines: tuple[int, ...]
    texts: tuple[str, ...]
    log10: float
    recheck: int

    def __str__(self) -> str:
        listed = "; ".join(f"line {seq}: {text}" for seq, text in zip(self.lines, self.texts, strict=True))
        if len(self.lines) == 1:
            said = f"This line can hardly be true: {listed}. Nothing that this map knows reads so there. Recheck it"
        else:
            said = f"These lines can hardly all be true: {listed}. Recheck line {self.recheck} first"
        return said + _take_back(self.recheck)


def _take_back(seq: int) -> str:
    return f"; a slip of the hand or pen is taken back with 'undid {seq}'."


def surprise(belief: Belief, level: float = LEVEL) -> Surprise | None:
    """The smallest set of lines above ``level`` that was found, of several the most surprising; None if there is none.

    All single lines and all pairs are looked at, exactly. Larger sets, up to ``LARGEST`` lines, are grown from the
    ``WIDTH`` most surprising ones of each size: of a set found so no line can be left out, but a smaller or another one
    may be missed. Where the belief is a part of one that does not fit nothing is found: it says nothing of what the log
    makes unlikely.
    """
    weights = belief.weights
    if not weights or belief.part is not None:
        return None
    network = belief.network
    sensed = tuple(one.variable for one in weights)
    prior = network.posteriors(of=sensed)
    single = _chances(prior, weights)[0]
    by_itself = [_as_no_slip(belief, weight, prior[weight.variable][0]) for weight in weights]
    worst = int(np.argmax(by_itself))
    if by_itself[worst] > level:
        found, size = [worst], by_itself[worst]
    else:
        found, size = _grown(network, weights, np.log10(single), level)
        if size <= level:
            return None
    chosen = sorted((weights[one] for one in found), key=lambda one: one.lines[-1])
    first = recheck_first(network, weights, chosen, belief.story)
    return Surprise(tuple(one.lines[-1] for one in chosen), tuple(one.text for one in chosen), size, first.lines[-1])


def contradiction(network: FactorNetwork, weights: Sequence[Weight], story: Story) -> ContradictionError:
    """Names a smallest set (none can be left out) of lines that cannot all be true, and which to recheck first."""
    needed = list(weights)
    for weight in weights:
        without = [one for one in needed if one is not weight]
        if network.log_evidence(together(without))[0] == -np.inf:
            needed = without
    lines = sorted(weight.lines[-1] for weight in needed)  # of a repeat any one will do
    listed = "; ".join(f"line {weight.lines[-1]}: {weight.text}" for weight in needed)
    first = recheck_first(network, weights, needed, story).lines[-1]
    if len(needed) > 1:
        message = f"These lines cannot all be true on this map: {listed}. Recheck line {first} first"
    else:
        message = f"This line cannot be true on this map: {listed}. Recheck it"
    message += _take_back(first)
    return ContradictionError(message, lines, first)


def recheck_first(network: FactorNetwork, weights: Sequence[Weight], chosen: Sequence[Weight], story: Story) -> Weight:
    """Of the chosen ones, that without which the rest of the whole log surprises least; then the fewest minutes."""
    rows = [[one for one in weights if one is not left_out] for left_out in chosen]
    if not any(rows):
        return chosen[0]
    joint = network.log_evidence(_rows(network, rows))
    base = network.log_evidence()[0]
    single = network.log_evidence(_rows(network, [[one] for one in chosen])) - base
    # What the other lines have in common in their single probabilities is left out of all alike.
    left = -(single + joint)
    least = left.min()
    minutes = _minutes(story)
    near = [
        one
        for one, surprise_left in zip(chosen, left, strict=True)
        if surprise_left == least or surprise_left - least < AS_MUCH * math.log(10.0)
    ]
    return min(near, key=lambda one: minutes[one.lines[-1]])


def together(weights: Iterable[Weight]) -> Rows:
    """The product of pieces of evidence."""
    product: Rows = {}
    for weight in weights:
        product[weight.variable] = product.get(weight.variable, 1.0) * weight.values
    return product


def _rows(network: FactorNetwork, sets: Sequence[Iterable[Weight]]) -> Rows:
    """One row of evidence for each set."""
    products = [together(one) for one in sets]
    names = {name for one in products for name in one}
    return {name: np.array([one.get(name, np.ones(network.states[name])) for one in products]) for name in names}


def _chances(posteriors: Posteriors, weights: Sequence[Weight]) -> Array:
    """The chance of each line in each row of posteriors, shape (rows, lines); a density for a reading."""
    return np.column_stack([posteriors[one.variable] @ one.values for one in weights])


def _grown(
    network: FactorNetwork, weights: Sequence[Weight], log_single: Array, level: float
) -> tuple[list[int], float]:
    """The lines of the most surprising set of the smallest size above ``level`` that was found, and its surprise."""
    sets = [frozenset({one}) for one in range(len(weights))]
    sizes = np.zeros(len(weights))
    for _ in range(2, min(LARGEST, len(weights)) + 1):
        rows = _rows(network, [[weights[one] for one in chosen] for chosen in sets])
        given = network.posteriors(rows, tuple(one.variable for one in weights))
        larger: dict[frozenset[int], float] = {}
        grown = sizes[:, None] + log_single - np.log10(_chances(given, weights))
        for chosen, row in zip(sets, grown, strict=True):
            larger |= {chosen | {one}: float(row[one]) for one in range(len(weights)) if one not in chosen}
        sets = sorted(larger, key=lambda one: (-larger[one], sorted(one)))[:WIDTH]
        sizes = np.array([larger[one] for one in sets])
        if sizes[0] > level:
            return _reduced(network, weights, log_single, level, sorted(sets[0]), float(sizes[0]))
    return [], 0.0


def _reduced(
    network: FactorNetwork,
    weights: Sequence[Weight],
    log_single: Array,
    level: float,
    found: list[int],
    size: float,
) -> tuple[list[int], float]:
    """The set without what can be left out of it and have it stay above ``level``."""
    while len(found) > 2:
        fewer = [[one for one in found if one != left_out] for left_out in found]
        joint = network.log_evidence(_rows(network, [[weights[one] for one in chosen] for chosen in fewer]))
        joint = (joint - network.log_evidence()[0]) / math.log(10.0)
        sizes = [float(log_single[chosen].sum() - log) for chosen, log in zip(fewer, joint, strict=True)]
        if max(sizes) <= level:
            break
        found, size = fewer[int(np.argmax(sizes))], max(sizes)
    return found, size


def _as_no_slip(belief: Belief, weight: Weight, prior: Array) -> float:
    """The surprise of a reading and of its being no slip; 0 for all that is no reading. ``prior``: (states,)."""
    slips = [
        sensing.slip(
            belief.device,
            one.test,
            one.outcome,
            measuring=belief.measuring,
            seq=one.seq,
        )
        for one in belief.story.evidence
        if isinstance(one, Sensed)
        and one.seq in weight.lines
        and isinstance(one.test.senses, (RailVoltage, RailToGround))
    ]
    if not slips:
        return 0.0
    share = float(np.mean([share for share, _ in slips]))
    by_slip = float(np.mean([density for _, density in slips]))
    meant = 1.0 - by_slip / float(prior @ weight.values)
    return math.inf if meant < ONLY_A_SLIP else math.log10((1.0 - share) / meant)


def _minutes(story: Story) -> dict[int, float]:
    """Minutes to make each line again, access not counted."""
    return {one.seq: one.test.minutes if isinstance(one, Sensed) else LOOK_MINUTES for one in story.evidence}
