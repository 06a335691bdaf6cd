"""Tables that are made small by what stands above them hold what they would hold without."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from knowngood.belief import support
from knowngood.belief.elimination import make_plan
from knowngood.belief.network import FactorNetwork
from knowngood.belief.support import Factor, make_tables
from knowngood.errors import TooLargeError

STATES = dict.fromkeys("abcdefg", 3)
SCOPES = (("a", "b", "c"), ("c", "d", "a"), ("d", "e"), ("e", "f", "b"), ("f", "g"), ("g", "a", "d"), ("b", "e"))


def drawn(seed: int, zeros: float) -> list[Factor]:
    draw = np.random.default_rng(seed)
    shapes = ([STATES[v] for v in scope] for scope in SCOPES)
    return [(s, draw.random(shape) * (draw.random(shape) >= zeros)) for s, shape in zip(SCOPES, shapes, strict=True)]


@settings(deadline=None, max_examples=50)
@given(st.integers(0, 10**6), st.sampled_from([0.2, 0.5, 0.8]), st.sampled_from([1, 20]))
def test_narrowed_tables_are_the_same(seed: int, zeros: float, at_once: int) -> None:
    factors = drawn(seed, zeros)
    plan = make_plan(STATES, SCOPES)
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(support, "SMALL", 0)
        whole = make_tables(plan, STATES, factors, 10**6)
        patched.setattr(support, "AT_ONCE", at_once)
        narrowed = make_tables(plan, STATES, factors, 10**6)
    for one, other in zip(narrowed, whole, strict=True):
        assert sorted(zip(*_columns(one), strict=True)) == sorted(zip(*_columns(other), strict=True))
        np.testing.assert_array_equal(np.sort(one.values), np.sort(other.values))
        np.testing.assert_array_equal(one.codes, other.codes)


def _columns(table: support.Table) -> list[list[int]]:
    return [table.relation.columns[v].tolist() for v in sorted(table.relation.columns)]


def test_what_is_ruled_out_above_is_never_made(monkeypatch: pytest.MonkeyPatch) -> None:
    """A ring of which half the pairs are free and the other half let one state in fifty through."""
    states = {f"x{n}": 50 for n in range(4)}
    free, same = np.ones((50, 50)), np.eye(50)
    factors = [(("x3", "x0"), free), (("x0", "x1"), free), (("x1", "x2"), same), (("x2", "x3"), same)]
    monkeypatch.setattr(support, "AT_ONCE", 1000)
    network = FactorNetwork(states, factors, largest_table=5000)
    assert network.log_evidence()[0] == pytest.approx(np.log(50 * 50))
    monkeypatch.setattr("knowngood.belief.narrowing.LARGEST", 0)
    with pytest.raises(TooLargeError, match="exact inference needs a table of"):
        FactorNetwork(states, factors, largest_table=5000)
