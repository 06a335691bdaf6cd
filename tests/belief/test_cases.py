"""A network that is answered by cases answers as one in one piece does."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from knowngood.belief.believe import Belief, believe
from knowngood.belief.cases import Factors, SplitNetwork, cut, network
from knowngood.belief.explanations import explain
from knowngood.belief.network import FactorNetwork
from knowngood.belief.what_if import ask, everything
from knowngood.errors import TooLargeError
from knowngood.log.lines import understand
from knowngood.log.state import Line, replay
from knowngood.maps import load

STATES = {"a": 2, "b": 3, "c": 2, "d": 2, "e": 3}
SCOPES = (("a", "b"), ("b", "c"), ("c", "d"), ("d", "a"), ("d", "e"), ("a",))


def drawn(seed: int, zeros: float) -> list[tuple[tuple[str, ...], np.ndarray]]:
    draw = np.random.default_rng(seed)
    factors = []
    for scope in SCOPES:
        shape = [STATES[v] for v in scope]
        factors.append((scope, draw.random(shape) * (draw.random(shape) >= zeros)))
    return factors


@settings(deadline=None)
@given(st.integers(0, 10**6), st.sampled_from([0.0, 0.3]), st.sampled_from([("a",), ("d",), ("a", "c"), ("b", "e")]))
def test_cases_answer_as_one_piece_does(seed: int, zeros: float, split: tuple[str, ...]) -> None:
    factors = drawn(seed, zeros)
    whole, cases = FactorNetwork(STATES, factors), SplitNetwork(STATES, factors, split)
    draw = np.random.default_rng(seed + 1)
    evidence = {v: draw.random((4, n)) * (draw.random((4, n)) > 0.2) for v, n in STATES.items() if v != "c"}
    expected, found = whole.posteriors(evidence), cases.posteriors(evidence)
    np.testing.assert_allclose(found.log_evidence, expected.log_evidence, rtol=1e-12, atol=1e-12)
    for v in STATES:
        np.testing.assert_allclose(found[v], expected[v], rtol=1e-10, atol=1e-14)
    best, log_best = whole.max_marginals(tuple(STATES), evidence)
    found_best, found_log = cases.max_marginals(tuple(STATES), evidence)
    np.testing.assert_allclose(found_log, log_best, rtol=1e-12, atol=1e-12)
    for v in STATES:
        np.testing.assert_allclose(found_best[v], best[v], rtol=1e-10, atol=1e-14)
    one = {v: rows[:1] for v, rows in evidence.items()}
    if expected.log_evidence[0] > -np.inf:
        assert cases.most_probable(one)[1] == pytest.approx(whole.most_probable(one)[1], abs=1e-12)
    else:
        with pytest.raises(ValueError, match="weight 0"):
            cases.most_probable(one)


def ring(width: int, states: int) -> tuple[dict[str, int], list[tuple[tuple[str, ...], np.ndarray]]]:
    """Two variables that everything hangs on, and a chain through all of it: large unless they are fixed."""
    draw = np.random.default_rng(7)
    names = {f"x{number}": states for number in range(width)}
    all_states = {"hub": 3, **names}
    factors = [((a, b, "hub"), draw.random((states, states, 3))) for a, b in zip(names, [*names][1:], strict=False)]
    return all_states, factors


def test_what_does_not_fit_in_one_piece_is_answered_by_cases(monkeypatch: pytest.MonkeyPatch) -> None:
    states, factors = ring(4, 8)
    whole = FactorNetwork(states, factors)
    monkeypatch.setattr("knowngood.belief.cases.PIECES", (100,))
    parts = network(states, factors, largest_table=100)
    assert isinstance(parts, SplitNetwork)
    assert parts.split == ("hub",)
    assert len(parts.cases) == 3
    for v in states:
        np.testing.assert_allclose(parts.posteriors()[v], whole.posteriors()[v], rtol=1e-12)


def test_what_needs_too_many_cases_is_refused_with_its_size(monkeypatch: pytest.MonkeyPatch) -> None:
    states, factors = ring(4, 8)
    monkeypatch.setattr("knowngood.belief.cases.PIECES", (100,))
    monkeypatch.setattr("knowngood.belief.cases.MOST_CASES", 2)
    with pytest.raises(TooLargeError, match="exact inference needs a table of"):
        network(states, factors, largest_table=100)
    monkeypatch.setattr("knowngood.belief.cases.MOST_CASES", 81)
    monkeypatch.setattr("knowngood.belief.cases.MOST_ENTRIES", 100)
    with pytest.raises(TooLargeError, match="exact inference needs a table of"):
        network(states, factors, largest_table=100)


def test_the_cut_leaves_no_table_larger_than_a_piece() -> None:
    states, factors = ring(4, 8)
    assert cut(states, [scope for scope, _ in factors], 10**6)[0] == ()
    assert cut(states, [scope for scope, _ in factors], 100)[0] == ("hub",)


def told() -> Belief:
    device = load("some-mains-device")
    made = [Line(1, "", understand(device, replay(device, []).state, "bought some-mains-device for EUR 5"))]
    for text in (
        "tried standby-light works",
        "tried starts fails",
        "opened cover-off",
        "read main-rail 0.9 V",
        "unplugged fan-plug",
        "read main-rail 12.1 V",
        "plugged fan-plug",
        "closed all",
        "tried starts works",
        "tried output fails",
    ):
        made.append(Line(len(made) + 1, "", understand(device, replay(device, made).state, text)))
    return believe(device, replay(device, made))


def test_a_belief_by_cases_is_the_belief(monkeypatch: pytest.MonkeyPatch) -> None:
    whole = told()
    assert not isinstance(whole.network, SplitNetwork)

    def split(states: Mapping[str, int], factors: Factors, *, largest_table: int) -> FactorNetwork:
        return SplitNetwork(states, factors, cut(states, [scope for scope, _ in factors], 1024)[0])

    monkeypatch.setattr("knowngood.belief.wiring.network", split)
    parts = told()
    assert isinstance(parts.network, SplitNetwork)
    assert parts.cases > 1 == whole.cases
    assert parts.known_good == pytest.approx(whole.known_good, rel=1e-10)
    for ours, theirs in zip(parts.suspects, whole.suspects, strict=True):
        assert (ours.part, ours.p_blocks) == (theirs.part, pytest.approx(theirs.p_blocks, rel=1e-9, abs=1e-14))
    for one, other in zip(ask(parts, everything(parts)), ask(whole, everything(whole)), strict=True):
        np.testing.assert_allclose(one.probability, other.probability, rtol=1e-9, atol=1e-14)
        np.testing.assert_allclose(one.p_blocks, other.p_blocks, rtol=1e-8, atol=1e-12)
        np.testing.assert_allclose(one.known_good, other.known_good, rtol=1e-8, atol=1e-12)
    assert [one.faults for one in explain(parts)] == [one.faults for one in explain(whole)]
