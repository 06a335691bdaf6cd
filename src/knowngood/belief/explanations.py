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

from knowngood.belief.believe import Belief
from knowngood.belief.causes import Link
from knowngood.belief.evidence import Batch, Evidence
from knowngood.belief.network import FactorNetwork
from knowngood.belief.terms import unknown_of

Course = Mapping[str, int]
"""A course of events: a state number for each hidden variable."""

EXPLAINS = 2.0
"""A line is explained by a course in which it is at least so many times as likely as in the one with fewest faults."""

STRANGE = 0.1
"""A line is strange in a course in which it is less likely than this share of what it can be at best."""

NAMED = 0.1
"""An unknown fault is named from this chance on, where something unknown is part of the explanation."""


@dataclass(frozen=True)
class Fault:
    """A part in a fault mode: from the act in line ``since`` (None: as bought) to that in ``until`` (None: still)."""

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
    """Lines at least ``EXPLAINS`` times as likely in its likeliest course as with the fewest faults that can be."""
    strange: tuple[int, ...]
    """Other lines, less likely in that course than ``STRANGE`` of what they can be: chance, errors, or wrong."""


def explain(belief: Belief, most: int = 5) -> tuple[Explanation, ...]:
    """The likeliest joint explanations, ``most`` or as many as are possible, the likeliest first."""
    chains: dict[str, list[Link]] = {part: [] for part in belief.device.parts}
    for link in belief.story.links:
        if link.part is not None:
            chains[link.part].append(link)
    links = [link for chain in chains.values() for link in chain]
    found = likeliest(belief.network, belief.base, [link.name for link in links], most)
    fewest, _ = belief.network.most_probable({link.name: _almost_fine(belief, link) for link in links})
    faults = [
        [fault for part, chain in chains.items() for fault in _faults(belief, part, chain, course)]
        for course, _ in found
    ]
    fixed = [[link for part in {fault.part for fault in one} for link in chains[part]] for one in faults]
    given = _given(belief, [course for course, _ in found], links, fixed)
    return tuple(
        Explanation(
            tuple(of_parts), *chances, float(np.exp(log - belief.log_evidence)), *_explained(belief, course, fewest)
        )
        for of_parts, (course, log), chances in zip(faults, found, given, strict=True)
    )


# ---- the search -----------------------------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class _Region:
    """The assignments that have only states that are ``left``, with the best of them and the runner-up, the best that
    differs from it in some of the variables in question: it has state ``state`` of ``variable`` and log weight ``log``.
    """

    left: Mapping[str, NDArray[np.bool_]]
    best: Course
    log: float = -np.inf
    variable: str = ""
    state: int = 0


def likeliest(
    network: FactorNetwork, evidence: Evidence, variables: Sequence[str], most: int
) -> list[tuple[Course, float]]:
    """The ``most`` likeliest assignments that differ in ``variables``, with the logs of their weights, greatest first.

    The assignments left after each are parted in two by one state of one variable, and the best of each part is read
    off its max-marginals (D. Nilsson, An efficient algorithm for finding the M most probable configurations in
    probabilistic expert systems, Statistics and Computing 8, 1998; parted in two as by C. Yanover and Y. Weiss, Finding
    the M most probable configurations using loopy belief propagation, 2003, exact on a tree of tables).
    """
    best, log = network.most_probable(evidence)
    found: list[tuple[Course, float]] = [(best, log)]
    regions = _runners_up(network, evidence, variables, [_Region({}, best)])
    while len(found) < most:
        region = max(regions, key=lambda one: one.log)
        if region.log == -np.inf:
            break
        regions.remove(region)
        chosen = np.arange(network.states[region.variable]) == region.state
        kept = region.left.get(region.variable, np.ones_like(chosen))
        inside = {**region.left, region.variable: kept & chosen}
        best, log = network.most_probable(_within(evidence, inside))
        found.append((best, log))
        if len(found) < most:
            outside = {**region.left, region.variable: kept & ~chosen}
            parted = [_Region(inside, best), _Region(outside, region.best)]
            regions += _runners_up(network, evidence, variables, parted)
    return found


def _within(evidence: Evidence, left: Mapping[str, NDArray[np.bool_]]) -> Evidence:
    return {**evidence, **{name: states * evidence.get(name, np.ones(len(states))) for name, states in left.items()}}


def _runners_up(
    network: FactorNetwork, evidence: Evidence, variables: Sequence[str], regions: Sequence[_Region]
) -> list[_Region]:
    """Each region with its runner-up."""
    batch = Batch(evidence, len(regions), network.states)
    for row, region in enumerate(regions):
        for name, states in region.left.items():
            batch.multiply(row, name, states.astype(float))
    shares, log_best = network.max_marginals(tuple(variables), batch.rows)
    found = []
    for row, region in enumerate(regions):
        other = {name: shares[name][row].copy() for name in variables}
        for name in variables:
            other[name][region.best[name]] = 0.0
        name = max(other, key=lambda one: other[one].max())
        with np.errstate(divide="ignore"):
            log = float(log_best[row] + np.log(other[name].max()))
        found.append(replace(region, log=log, variable=name, state=int(other[name].argmax())))
    return found


# ---- what is said of them -------------------------------------------------------------------------------------------


def _faults(belief: Belief, part: str, chain: Sequence[Link], course: Course) -> list[Fault]:
    """The faults of one part, oldest first; one that an act left as it was is one fault."""
    names = belief.device.parts[part].states
    faults: list[Fault] = []
    before = 0
    for link in chain:
        state = course[link.name]
        if state != before and before:
            faults[-1] = replace(faults[-1], until=link.seq)
        if state != before and state:
            faults.append(Fault(part, names[state], link.seq, None))
        before = state
    return faults


def _only(belief: Belief, batch: Batch, row: int, name: str, state: int) -> None:
    batch.multiply(row, name, (np.arange(belief.network.states[name]) == state).astype(float))


def _given(
    belief: Belief, found: Sequence[Course], links: Sequence[Link], fixed: Sequence[Sequence[Link]]
) -> list[tuple[dict[str, float], float, float]]:
    """For each: the unknown that it needs, its probability given the log, and that with whatever else."""
    unknowns = {function: unknown_of(function) for function in belief.device.functions}
    unknowns = {function: name for function, name in unknowns.items() if name in belief.network.states}
    count = len(found)
    batch = Batch(belief.base, 3 * count, belief.network.states)
    for row, (course, of_faulty) in enumerate(zip(found, fixed, strict=True)):
        for link in links:
            _only(belief, batch, row, link.name, course[link.name])
            _only(belief, batch, count + row, link.name, course[link.name])
        for name in unknowns.values():
            _only(belief, batch, count + row, name, 0)
        for link in of_faulty:
            _only(belief, batch, 2 * count + row, link.name, course[link.name])
    chance = np.exp(belief.network.log_evidence(batch.rows) - belief.log_evidence)
    named: list[dict[str, float]] = [{} for _ in found]
    needed = [row for row in range(count) if chance[count + row] < chance[row] / 2]
    if needed:
        posterior = belief.network.posteriors(batch.of(needed), tuple(unknowns.values()))
        for n, row in enumerate(needed):
            chances = {function: float(posterior[name][n, 1]) for function, name in unknowns.items()}
            ranked = sorted(chances, key=lambda one: -chances[one])
            named[row] = {one: chances[one] for one in ranked if chances[one] >= min(NAMED, chances[ranked[0]])}
    return [(named[row], float(chance[row]), float(chance[2 * count + row])) for row in range(count)]


def _explained(belief: Belief, course: Course, fewest: Course) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """The lines that a course explains, and those that stay strange under it."""
    explained: list[int] = []
    strange: list[int] = []
    for weight in belief.weights:
        likely = weight.values[course[weight.variable]]
        if likely >= EXPLAINS * weight.values[fewest[weight.variable]]:
            explained += weight.lines
        elif likely < STRANGE * weight.values.max():
            strange += weight.lines
    return tuple(sorted(explained)), tuple(sorted(strange))


def _almost_fine(belief: Belief, link: Link) -> NDArray[np.float64]:
    """Weights under which the most probable course is one with the fewest faults that can be."""
    weights: NDArray[np.float64] = np.full(belief.network.states[link.name], 1e-30)
    weights[0] = 1.0
    return weights
