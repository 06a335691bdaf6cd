"""Bounded posteriors against the exact ones, on networks small enough for both."""

from __future__ import annotations

import numpy as np
import pytest

from knowngood.belief import FactorNetwork
from knowngood.belief.bounded import Bounded, bounded_posteriors
from knowngood.belief.support import Factor

SEEDS = range(12)


def drawn(seed: int) -> tuple[dict[str, int], list[Factor], dict[str, np.ndarray], list[str]]:
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
    evidence = {}
    for n in range(9):
        name = f"function{n}"
        before = draw.choice([v for v in states], size=2, replace=False)
        scope = (*map(str, before), name)
        states[name] = 3
        table = np.zeros([states[v] for v in scope])
        picked = draw.integers(0, 3, table.shape[:2])
        np.put_along_axis(table, picked[..., None], 1.0, axis=-1)
        factors.append((scope, table))
        evidence[name] = draw.uniform(0.05, 1.0, 3)
    return states, factors, evidence, faults


def width(found: Bounded) -> float:
    return max(float((found.high[v] - found.low[v]).max()) for v in found.low)


@pytest.mark.parametrize("seed", SEEDS)
def test_the_exact_posterior_lies_in_every_interval_and_all_close_in_on_it(seed: int) -> None:
    states, factors, evidence, faults = drawn(seed)
    exact = FactorNetwork(states, factors).posteriors(evidence)
    widths = []
    for effort in (1, 1000, 2000, 10**9):
        found = bounded_posteriors(states, factors, evidence, faults, effort=effort, enough=0.0, mini_bucket=9)
        widths.append(width(found))
        for v in states:
            assert (found.low[v] <= exact[v][0] + 1e-12).all()
            assert (found.high[v] >= exact[v][0] - 1e-12).all()
        assert width(found) == pytest.approx(found.missed)
    assert widths == sorted(widths, reverse=True)
    assert widths[-1] == 0.0


