"""Bounded posteriors against the exact ones, on networks small enough for both."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from knowngood.belief import FactorNetwork
from knowngood.belief.bounded import PartialNetwork
from knowngood.belief.support import Array, Factor
from knowngood.errors import ContradictionError, TooLargeError

Case = tuple[dict[str, int], list[Factor], dict[str, Array]]


def drawn(seed: int) -> Case:
    """Faults, some caused by others; functions that follow from faults and functions before; noisy findings."""
    draw = np.random.default_rng(seed)
    faults = [f"fault{n}" for n in range(8)]
    states = {name: int(draw.integers(2, 4)) for name in faults}
    factors: list[Factor] = []
    for n, name in enumerate(faults):
        scope = (name,) if n < 5 else (faults[n - 5], name)
        table = draw.random([states[v] for v in scope]) * 0.2
        table[..., 0] = 1.0
        factors.append((scope, table / table.sum(axis=-1, keepdims=True)))
    evidence: dict[str, Array] = {}
    for n in range(9):
        name = f"function{n}"
        before = draw.choice(list(states), size=2, replace=False)
        scope = (*map(str, before), name)
        states[name] = 3
        table = np.zeros([states[v] for v in scope])
        picked = draw.integers(0, 3, table.shape[:2])
        np.put_along_axis(table, picked[..., None], 1.0, axis=-1)
        factors.append((scope, table))
        evidence[name] = draw.uniform(0.05, 1.0, 3)
    return states, factors, evidence


def partly(case: Case, **limits: Any) -> PartialNetwork:
    states, factors, evidence = case
    return PartialNetwork(states, factors, evidence, TooLargeError("a table of 99 entries", 99), **limits)


@pytest.mark.parametrize("seed", range(12))
def test_the_exact_posterior_lies_in_every_interval_and_all_close_in_on_it(seed: int) -> None:
    states, factors, evidence = drawn(seed)
    exact = FactorNetwork(states, factors).posteriors(evidence)
    draw = np.random.default_rng(seed)
    more = evidence | {"fault0": draw.uniform(0.0, 1.0, states["fault0"])}
    exact_of_more = FactorNetwork(states, factors).posteriors(more)
    seen = []
    for cases in (1, 3, 10, 10_000):
        network = partly((states, factors, evidence), cases=cases, enough=0.0, pieces=(9,), mini_bucket=9)
        assert network.split
        for said, true in ((evidence, exact), (more, exact_of_more)):
            found = network.posteriors(said)
            missed = float(network.missed_in(found.log_evidence)[0])
            assert found.log_evidence[0] <= true.log_evidence[0] + 1e-12
            assert true.log_evidence[0] <= np.logaddexp(found.log_evidence[0], network.log_missed) + 1e-12
            for v in states:
                low = (1.0 - missed) * found[v][0]
                assert (low <= true[v][0] + 1e-12).all()
                assert (low + missed >= true[v][0] - 1e-12).all()
        seen.append(float(network.missed_in(network.log_evidence(evidence))[0]))
    assert seen == sorted(seen, reverse=True)
    assert seen[0] > 0.0
    assert seen[-1] == 0.0


def test_it_stops_when_little_enough_is_missed() -> None:
    whole = partly(drawn(3), enough=0.0, cases=10_000, pieces=(9,))
    some = partly(drawn(3), enough=0.2, cases=10_000, pieces=(9,))
    assert 0.0 < float(some.missed_in(some.log_evidence(drawn(3)[2]))[0]) <= 0.2
    assert len(some.cases) < len(whole.cases)


def test_what_cannot_be_is_a_contradiction_and_what_was_not_found_is_too_large() -> None:
    states, factors, evidence = drawn(3)
    with pytest.raises(ContradictionError, match="cannot all be true"):
        partly((states, factors, evidence | {"function0": np.zeros(3)}), pieces=(9,))
    with pytest.raises(
        TooLargeError, match="a table of 99 entries; of its cases 0 were worked out, and none is possible"
    ):
        partly((states, factors, evidence), pieces=(9,), cases=0)
