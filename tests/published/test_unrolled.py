"""The whole network of a log, as the belief unrolls it, against pyAgrum's LazyPropagation, to 1e-9.

Drawn units of the shipped maps with drawn tests, looks, openings and remedies; each network goes to pyAgrum factor by
factor, with the evidence of all lines. This checks inference on networks of the size and shape that are met at the
bench; whether the network means what the log says is checked elsewhere (``tests/belief``).
"""

from __future__ import annotations

import warnings

import numpy as np
import pytest
from numpy.typing import NDArray

from knowngood.belief.believe import Belief, believe
from knowngood.errors import TooLargeError
from knowngood.maps.device import Device
from knowngood.maps.kinds import shipped_maps
from knowngood.maps.load import load
from knowngood.plan import moves
from knowngood.plan.rehearse import HiddenUnit
from knowngood.plan.terms import DEFAULTS, terms

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # its wrapper types have no __module__, which as an error ends the interpreter
    import pyagrum as gum

Array = NDArray[np.float64]
LOGS = 5
LARGEST = 2**20
"""Entries of the largest table that pyAgrum is asked to work with; a drawn log that needs more is drawn again."""


def factors_of(belief: Belief) -> list[tuple[tuple[str, ...], Array]]:
    """The factors that the belief's network was built of: the one place that knows where they are kept."""
    return [(tuple(scope), np.asarray(table, float)) for scope, table in belief.wiring._factors]


def to_agrum(belief: Belief) -> gum.BayesNet:
    """Each factor is the table of its last variable, given those before it."""
    bn = gum.BayesNet()
    for variable, count in belief.network.states.items():
        bn.add(gum.LabelizedVariable(variable, variable, count))
    for scope, _ in factors_of(belief):
        for parent in scope[:-1]:
            bn.addArc(parent, scope[-1])
    for scope, table in factors_of(belief):
        np.testing.assert_allclose(table.sum(axis=-1), 1.0, rtol=0, atol=1e-12)
        cpt = bn.cpt(scope[-1])
        axes = [scope.index(name) for name in reversed(cpt.names)]  # the first name changes fastest
        cpt.fillWith(table.transpose(axes).ravel().tolist())
    return bn


def draw_moves(hidden: HiddenUnit, device: Device, draw: np.random.Generator) -> list[moves.Move]:
    state, prices = hidden.replayed.state, terms(device, **DEFAULTS)
    there = [part for part in device.parts.values() if part.id not in state.removed]
    part = there[draw.integers(len(there))]
    tests = moves.possible_tests(device, state, prices)
    kinds = [
        [moves.test_move(device, state, tests[draw.integers(len(tests))])],
        [moves.look_move(device, state, part)],
        moves.remedy_moves(device, state, prices, part),
    ]
    return kinds[int(draw.choice(3, p=[0.6, 0.25, 0.15]))]


def drawn_belief(device: Device, draw: np.random.Generator) -> Belief:
    """The belief of a log of some lines about one drawn unit, whose tables are small enough for pyAgrum."""
    while True:
        hidden = HiddenUnit(device, ("dropped",), draw)
        for _ in range(int(draw.integers(4, 12))):
            for move in draw_moves(hidden, device, draw)[:1]:
                hidden.carry_out(move)
        try:
            belief = believe(device, hidden.replayed)
        except TooLargeError:
            continue
        if belief.network.plan.largest <= LARGEST:
            return belief


@pytest.mark.parametrize("name", sorted(shipped_maps()))
def test_the_network_of_a_log(name: str) -> None:
    draw = np.random.default_rng([5, len(name)])
    for _ in range(LOGS):
        belief = drawn_belief(load(name), draw)
        assert {scope[-1] for scope, _ in factors_of(belief)} == set(belief.network.states)
        inference = gum.LazyPropagation(to_agrum(belief))
        for variable, weights in belief.base.items():
            # Of any scale for us, at most one for pyAgrum.
            inference.addEvidence(variable, (weights / weights.max()).tolist())
        inference.makeInference()
        for variable in belief.network.states:
            theirs = inference.posterior(variable).toarray()
            np.testing.assert_allclose(belief.posterior[variable][0], theirs, rtol=0, atol=1e-9, err_msg=variable)
        scale = sum(np.log(weights.max()) for weights in belief.base.values())
        assert belief.log_evidence == pytest.approx(np.log(inference.evidenceProbability()) + scale, abs=1e-9)
        plan = belief.network.plan
        print(f"{name}: {belief.log_seq} lines, {len(belief.network.states)} variables, largest {plan.largest}")
