"""What together would explain the log: the likeliest joint explanations, each with what it explains.

An explanation says of every part in which fault mode it was and is, from purchase to now. It is found and ranked by its
*likeliest course*: the most probable assignment of all hidden variables that has these modes (max-product, exact). Its
probability is the posterior mass of the modes, summed over whatever else is hidden; the order by that may differ.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from knowngood.belief.believe import Batch, Belief, Evidence
from knowngood.belief.network import FactorNetwork, Posteriors
from knowngood.belief.story import Link
from knowngood.belief.wiring import unknown_of

Modes = Mapping[str, int]
"""A state number for each variable of a part."""

EXPLAINS = 2.0
"""A line is explained by what makes it at least so many times as likely as the course with the fewest faults does."""

STRANGE = 0.1
"""A line is strange to an explanation under which it is less likely than this share of what it can be at best."""

NAMED = 0.1
"""An unknown fault is named from this chance on, where something unknown is part of the explanation."""


@dataclass(frozen=True)
class Fault:
    """A part in a fault mode: since the act in line ``since`` (None: as bought), until that in ``until`` (None: now)."""

    part: str
    mode: str
    since: int | None
    until: int | None


@dataclass(frozen=True)
class Explanation:
    """Exactly these faults, past and present, and no other.

    ``unknown`` is empty unless the log needs something this map does not know beside them (a chance of at least one in
    two); then it names functions, each with the chance that its unknown fault is there.
    """

    faults: tuple[Fault, ...]
    unknown: dict[str, float]
    probability: float
    """Given the log, of exactly these faults."""
    with_others: float
    """Given the log, of these faults and whatever else."""
    likeliest: float
    """Given the log, of the likeliest course with exactly these faults: what they are ranked by."""
    explains: tuple[int, ...]
    """Lines at least ``EXPLAINS`` times as likely with these faults as with the fewest that can be."""
    strange: tuple[int, ...]
    """Lines that stay strange: errors of a test, chance, or wrong."""


def explain(belief: Belief, most: int = 5) -> tuple[Explanation, ...]:
    """The likeliest joint explanations, ``most`` or as many as are possible, the likeliest first."""
    links = [link for link in belief.story.links if link.part in belief.device.parts]
    found = likeliest(belief.network, belief.base, [link.name for link in links], most)
    chains: dict[str, list[Link]] = {}
    for link in links:
        chains.setdefault(link.part, []).append(link)
    faults = [tuple(fault for chain in chains.values() for fault in _faults(belief, chain, modes)) for modes, _ in found]
    given = _given(belief, [modes for modes, _ in found], [{fault.part for fault in one} for one in faults], chains)
    explained = _explained(belief, [modes for modes, _ in found], links)
    return tuple(
        Explanation(one, unknown, exactly, others, float(np.exp(log - belief.log_evidence)), *lines)
        for one, (_, log), (unknown, exactly, others), lines in zip(faults, found, given, explained, strict=True)
    )


# ---- the search -----------------------------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class _Region:
    """The assignments that some states are left to, with the best one's modes and the best with other modes.

    That one has state ``state`` of ``variable``, and ``log`` is the log of its weight.
    """

    left: Mapping[str, NDArray[np.bool_]]
    best: Modes
    log: float = -np.inf
    variable: str = ""
    state: int = 0


def likeliest(
    network: FactorNetwork, evidence: Evidence, variables: Sequence[str], most: int
) -> list[tuple[Modes, float]]:
    """The ``most`` likeliest assignments that differ in ``variables``, with the logs of their weights, greatest first.

    The assignments left after each are parted in two by one state of one variable, and the best of each part is read
    off its max-marginals (D. Nilsson, An efficient algorithm for finding the M most probable configurations in
    probabilistic expert systems, Statistics and Computing 8, 1998; parted in two as by C. Yanover and Y. Weiss, Finding
    the M most probable configurations using loopy belief propagation, 2003, exact on a tree of tables).
    """
    best, log = network.most_probable(evidence)
    found = [({name: best[name] for name in variables}, log)]
    regions = _runners_up(network, evidence, [_Region({}, found[0][0])])
    while len(found) < most:
        region = max(regions, key=lambda one: one.log)
        if region.log == -np.inf:
            break
        regions.remove(region)
        chosen = np.arange(network.states[region.variable]) == region.state
        kept = region.left.get(region.variable, np.ones_like(chosen))
        inside = {**region.left, region.variable: kept & chosen}
        best, log = network.most_probable(_within(evidence, inside))
        found.append(({name: best[name] for name in variables}, log))
        if len(found) < most:
            outside = {**region.left, region.variable: kept & ~chosen}
            parted = [_Region(inside, found[-1][0]), _Region(outside, region.best)]
            regions += _runners_up(network, evidence, parted)
    return found


def _within(evidence: Evidence, left: Mapping[str, NDArray[np.bool_]]) -> Evidence:
    return {**evidence, **{name: evidence.get(name, 1.0) * states for name, states in left.items()}}


def _runners_up(network: FactorNetwork, evidence: Evidence, regions: Sequence[_Region]) -> list[_Region]:
    """Each region with the best of it that has other modes than its best one."""
    batch = Batch(evidence, len(regions), network.states)
    for row, region in enumerate(regions):
        for name, states in region.left.items():
            batch.multiply(row, name, states.astype(float))
    shares, log_best = network.max_marginals(batch.rows)
    found = []
    for row, region in enumerate(regions):
        other = {name: shares[name][row].copy() for name in region.best}
        for name, state in region.best.items():
            other[name][state] = 0.0
        name = max(other, key=lambda one: other[one].max())
        with np.errstate(divide="ignore"):
            log = float(log_best[row] + np.log(other[name].max()))
        found.append(replace(region, log=log, variable=name, state=int(other[name].argmax())))
    return found


# ---- what is said of them -------------------------------------------------------------------------------------------


def _faults(belief: Belief, chain: Sequence[Link], modes: Modes) -> list[Fault]:
    """The faults of one part, oldest first; one that an act left as it was is one fault."""
    names = belief.device.parts[chain[0].part].states
    faults: list[Fault] = []
    before = 0
    for link in chain:
        state = modes[link.name]
        if state != before and before:
            faults[-1] = replace(faults[-1], until=link.seq)
        if state != before and state:
            faults.append(Fault(link.part, names[state], link.seq, None))
        before = state
    return faults


def _only(belief: Belief, batch: Batch, row: int, name: str, state: int) -> None:
    batch.multiply(row, name, (np.arange(belief.network.states[name]) == state).astype(float))


def _given(
    belief: Belief, found: Sequence[Modes], faulty: Sequence[set[str]], chains: Mapping[str, list[Link]]
) -> list[tuple[dict[str, float], float, float]]:
    """For each: the unknown that it needs, its probability given the log, and that with whatever else."""
    unknowns = {function: unknown_of(function) for function in belief.device.functions}
    unknowns = {function: name for function, name in unknowns.items() if name in belief.network.states}
    count = len(found)
    batch = Batch(belief.base, 3 * count, belief.network.states)
    for row, (modes, parts) in enumerate(zip(found, faulty, strict=True)):
        for name, state in modes.items():
            _only(belief, batch, row, name, state)
            _only(belief, batch, count + row, name, state)
        for name in unknowns.values():
            _only(belief, batch, count + row, name, 0)
        for link in (link for part in parts for link in chains[part]):
            _only(belief, batch, 2 * count + row, link.name, modes[link.name])
    posterior = belief.network.posteriors(batch.rows)
    chance = np.exp(posterior.log_evidence - belief.log_evidence)
    result = []
    for row in range(count):
        named = {}
        if chance[count + row] < chance[row] / 2:
            chances = {function: float(posterior[name][row, 1]) for function, name in unknowns.items()}
            ranked = sorted(chances, key=lambda one: -chances[one])
            named = {one: chances[one] for n, one in enumerate(ranked) if n == 0 or chances[one] >= NAMED}
        result.append((named, float(chance[row]), float(chance[2 * count + row])))
    return result


def _explained(
    belief: Belief, found: Sequence[Modes], links: Sequence[Link]
) -> list[tuple[tuple[int, ...], tuple[int, ...]]]:
    """For each: the lines that it explains, and those that stay strange."""
    fewest, _ = belief.network.most_probable({link.name: _almost_fine(belief, link) for link in links})
    rows: list[Modes] = [*found, {link.name: fewest[link.name] for link in links}]
    batch = Batch({}, len(rows), belief.network.states)
    for row, modes in enumerate(rows):
        for name, state in modes.items():
            _only(belief, batch, row, name, state)
    posterior: Posteriors = belief.network.posteriors(batch.rows)
    result = []
    for row in range(len(found)):
        explained, strange = [], []
        for weight in belief.weights:
            likely = posterior[weight.variable] @ weight.values
            if likely[row] >= EXPLAINS * likely[-1]:
                explained += weight.lines
            if likely[row] < STRANGE * weight.values.max():
                strange += weight.lines
        result.append((tuple(sorted(explained)), tuple(sorted(strange))))
    return result


def _almost_fine(belief: Belief, link: Link) -> NDArray[np.float64]:
    """Weights under which the most probable course is one with the fewest faults that can be."""
    weights: NDArray[np.float64] = np.full(belief.network.states[link.name], 1e-30)
    weights[0] = 1.0
    return weights
