"""FactorNetwork against pyAgrum's LazyPropagation, to 1e-9: drawn networks, and those of the bnlearn repository.

pyAgrum reads network files in single precision, so both sides here start from the same renormalised doubles.
"""

from __future__ import annotations

import warnings

import numpy as np
import pytest
from repository import Tables
from repository import network as repository_network

from knowngood.belief import FactorNetwork
from knowngood.belief.explanations import likeliest

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # its wrapper types have no __module__, which as an error ends the interpreter
    import pyagrum as gum

States = dict[str, int]
REPOSITORY = (
    *("asia", "cancer", "earthquake", "survey", "sachs", "child"),
    *("insurance", "alarm", "win95pts", "hepar2", "andes"),
)


def drawn_network(rng: np.random.Generator) -> tuple[States, Tables]:
    """Up to 30 variables of 2-4 states, each with up to three parents among the eight before it, a fifth zeros."""
    names = [f"v{i}" for i in range(rng.integers(1, 31))]
    states = {v: int(rng.integers(2, 5)) for v in names}
    tables: Tables = {}
    for i, v in enumerate(names):
        nearby = names[max(0, i - 8) : i]
        parents = rng.choice(nearby, size=rng.integers(0, min(3, len(nearby)) + 1), replace=False) if nearby else []
        scope = (v, *(str(p) for p in parents))
        table = rng.random([states[w] for w in scope]) * (rng.random([states[w] for w in scope]) > 0.2)
        table[0] += table.sum(axis=0) == 0
        tables[v] = scope, table / table.sum(axis=0)
    return states, tables


def to_agrum(states: States, tables: Tables) -> gum.BayesNet:
    bn = gum.BayesNet()
    for v, n in states.items():
        bn.add(gum.LabelizedVariable(v, v, n))
    for v, (scope, _) in tables.items():
        for parent in scope[1:]:
            bn.addArc(parent, v)
    for v, (scope, table) in tables.items():
        for index in np.ndindex(table.shape):
            bn.cpt(v)[dict(zip(scope, index, strict=True))] = float(table[index])
    return bn


def drawn_evidence(rng: np.random.Generator, states: States, tables: Tables, rows: int) -> list[dict[str, int]]:
    """Each row what a third of the variables, at most ten, show in one draw from the network: never impossible."""
    order: list[str] = []
    while len(order) < len(tables):
        order += [v for v, (scope, _) in tables.items() if v not in order and set(scope[1:]) <= set(order)]
    found = []
    for _ in range(rows):
        drawn: dict[str, int] = {}
        for v in order:
            scope, table = tables[v]
            column = table[(slice(None), *(drawn[p] for p in scope[1:]))]
            drawn[v] = int(rng.choice(states[v], p=column / column.sum()))
        observed = rng.choice(list(states), size=min(10, len(states) // 3), replace=False)
        found.append({str(v): drawn[str(v)] for v in observed})
    return found


def check(states: States, tables: Tables, rows: list[dict[str, int]]) -> None:
    evidence = {v: np.ones((len(rows), n)) for v, n in states.items()}
    for row, observed in enumerate(rows):
        for v, s in observed.items():
            evidence[v][row] = np.arange(states[v]) == s
    ours = FactorNetwork(states, list(tables.values())).posteriors(evidence)
    inference = gum.LazyPropagation(to_agrum(states, tables))
    for row, observed in enumerate(rows):
        inference.setEvidence(observed)
        inference.makeInference()
        assert np.exp(ours.log_evidence[row]) == pytest.approx(inference.evidenceProbability(), rel=1e-9)
        for v in states:
            np.testing.assert_allclose(ours[v][row], inference.posterior(v).toarray(), rtol=0, atol=1e-9)


@pytest.mark.parametrize("seed", range(20))
def test_ten_drawn_networks(seed: int) -> None:
    rng = np.random.default_rng(20_000 + seed)
    for _ in range(10):
        states, tables = drawn_network(rng)
        check(states, tables, [{}, *drawn_evidence(rng, states, tables, 2)])


@pytest.mark.parametrize("name", REPOSITORY)
def test_repository_network(name: str) -> None:
    labels, tables = repository_network(name)
    states = {variable: len(names) for variable, names in labels.items()}
    check(states, tables, [{}, *drawn_evidence(np.random.default_rng(1), states, tables, 5)])


def test_the_most_probable_explanations_of_drawn_networks() -> None:
    """The best against pyAgrum's; the runner-up against pyAgrum's best with each variable in turn in each state that it
    has not in the first. pyAgrum 3.3.1 fails on many structures ("Empty tensor"): those are left out, and counted."""
    checked = 0
    for seed in range(16):
        rng = np.random.default_rng(30_000 + seed)
        states, tables = drawn_network(rng)
        network, inference = FactorNetwork(states, list(tables.values())), gum.LazyPropagation(to_agrum(states, tables))
        [observed] = drawn_evidence(rng, states, tables, 1)
        hidden = [v for v in states if v not in observed]
        evidence = {v: (np.arange(states[v]) == s).astype(float) for v, s in observed.items()}
        (first, best), *more = likeliest(network, evidence, hidden, 2)
        others = [{**observed, v: s} for v in hidden for s in range(states[v]) if s != first[v]]
        try:
            theirs, *rest = (log_of_best(inference, one) for one in (observed, *others))
        except gum.FatalError:
            continue
        checked += 1
        assert best == pytest.approx(theirs, abs=1e-9)
        assert [log for _, log in more] == pytest.approx([max(rest)] if max(rest) > -np.inf else [], abs=1e-9)
    assert checked >= 5


def log_of_best(inference: gum.LazyPropagation, observed: dict[str, int]) -> float:
    """Natural log of the weight of pyAgrum's most probable explanation; -inf where there is none."""
    inference.setEvidence(observed)
    try:
        total = inference.evidenceProbability()
    except gum.IncompatibleEvidence:
        total = 0.0
    return float(np.log(total) + inference.mpeLog2Posterior()[1] * np.log(2.0)) if total else -np.inf
