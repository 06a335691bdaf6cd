"""Bounded posteriors against the exact ones, on networks small enough for both."""

from __future__ import annotations

import numpy as np
import pytest

from knowngood.belief import FactorNetwork
from knowngood.belief.bounded import bounded_posteriors
from knowngood.belief.support import Array, Factor

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


@pytest.mark.parametrize("seed", range(12))
def test_the_exact_posterior_lies_in_every_interval_and_all_close_in_on_it(seed: int) -> None:
    states, factors, evidence = drawn(seed)
    exact = FactorNetwork(states, factors).posteriors(evidence)
    missed = []
    for cases in (1, 3, 10, 10_000):
        found = bounded_posteriors(states, factors, evidence, cases=cases, enough=0.0, piece=9, mini_bucket=9)
        assert found.cut
        for v in states:
            assert (found.low[v] <= exact[v][0] + 1e-12).all()
            assert (found.high[v] >= exact[v][0] - 1e-12).all()
            np.testing.assert_allclose(found.high[v] - found.low[v], found.missed, rtol=0, atol=1e-12)
        missed.append(found.missed)
    assert missed == sorted(missed, reverse=True)
    assert missed[0] > 0.0
    assert missed[-1] == 0.0


def test_it_stops_when_little_enough_is_missed() -> None:
    states, factors, evidence = drawn(3)
    whole = bounded_posteriors(states, factors, evidence, enough=0.0, cases=10_000, piece=9)
    some = bounded_posteriors(states, factors, evidence, enough=0.2, cases=10_000, piece=9)
    assert 0.0 < some.missed <= 0.2
    assert len(some.cases) < len(whole.cases)
    assert sum(share for _, share in some.cases) == pytest.approx(1.0)


def test_impossible_evidence_is_refused() -> None:
    states, factors, evidence = drawn(3)
    with pytest.raises(ValueError, match="nothing possible was found"):
        bounded_posteriors(states, factors, evidence | {"function0": np.zeros(3)}, piece=9)
