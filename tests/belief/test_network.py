"""FactorNetwork against sums over all assignments in exact fractions, and its guards."""

from __future__ import annotations

import math
from fractions import Fraction
from itertools import pairwise, product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

import knowngood.belief.network as network_module
from knowngood.belief import FactorNetwork
from knowngood.belief.elimination import make_plan, merged
from knowngood.errors import TooLargeError

Array = NDArray[np.float64]
Factors = list[tuple[tuple[str, ...], Array]]
Case = tuple[dict[str, int], Factors, dict[str, Array]]
ROWS = 3
ORDINARY = st.sampled_from([0.0, 0.25, 0.5, 1.0, 1.0, 3.0])
EXTREME = st.sampled_from([0.0, 1.0, 1.0, 0.7, 1e-200, 1e200, 5e-324])


@st.composite
def cases(draw: st.DrawFn, weights: st.SearchStrategy[float] = ORDINARY) -> Case:
    states = {f"v{i}": draw(st.integers(1, 3)) for i in range(draw(st.integers(1, 5)))}

    def table(shape: tuple[int, ...]) -> Array:
        size = math.prod(shape)
        return np.array(draw(st.lists(weights, min_size=size, max_size=size)), dtype=float).reshape(shape)

    scopes = draw(st.lists(st.lists(st.sampled_from(list(states)), unique=True, max_size=3), max_size=5))
    factors = [(tuple(scope), table(tuple(states[v] for v in scope))) for scope in scopes]
    observed = draw(st.lists(st.sampled_from(list(states)), unique=True))
    shapes = {v: draw(st.sampled_from([(states[v],), (1, states[v]), (ROWS, states[v])])) for v in observed}
    return states, factors, {v: table(shape) for v, shape in shapes.items()}


def row_of(evidence: dict[str, Array], row: int) -> dict[str, Array]:
    return {v: np.atleast_2d(w)[row if np.atleast_2d(w).shape[0] > 1 else 0] for v, w in evidence.items()}


def enumerate_weights(
    states: dict[str, int], factors: Factors, evidence: dict[str, Array]
) -> dict[tuple[int, ...], Fraction]:
    weights = {}
    for assignment in product(*(range(n) for n in states.values())):
        at = dict(zip(states, assignment, strict=True))
        terms = [float(table[tuple(at[v] for v in scope)]) for scope, table in factors]
        terms += [float(w[at[v]]) for v, w in evidence.items()]
        weights[assignment] = math.prod(map(Fraction, terms), start=Fraction(1))
    return weights


def log(weight: Fraction) -> float:
    return math.log(weight.numerator) - math.log(weight.denominator) if weight else -math.inf


def check_against_enumeration(case: Case) -> None:
    states, factors, evidence = case
    net = FactorNetwork(states, factors)
    p = net.posteriors(evidence)
    assert p.variables == tuple(states)
    np.testing.assert_allclose(net.log_evidence(evidence), p.log_evidence, rtol=1e-13, atol=1e-13)
    for row, log_evidence in enumerate(p.log_evidence):
        one_row = row_of(evidence, row)
        weights = enumerate_weights(states, factors, one_row)
        total = sum(weights.values(), Fraction(0))
        assert log_evidence == pytest.approx(log(total), rel=1e-12, abs=1e-11)
        for axis, (v, n) in enumerate(states.items()):
            assert p[v].shape == (len(p.log_evidence), n)
            if not total:
                assert np.isnan(p[v][row]).all()
                continue
            expected = [float(sum(w for a, w in weights.items() if a[axis] == s) / total) for s in range(n)]
            np.testing.assert_allclose(p[v][row], expected, rtol=0, atol=1e-11)
            assert p[v][row].sum() == pytest.approx(1, abs=1e-14)
        if total:
            best, log_weight = net.most_probable(one_row)
            assert log_weight == pytest.approx(log(max(weights.values())), rel=1e-12, abs=1e-11)
            assert log(weights[tuple(best.values())]) == pytest.approx(log_weight, rel=1e-12, abs=1e-11)
        else:
            with pytest.raises(ValueError, match="every assignment has weight 0"):
                net.most_probable(one_row)


@settings(max_examples=150, deadline=None)
@given(cases())
def test_equals_enumeration(case: Case) -> None:
    check_against_enumeration(case)


@settings(max_examples=150, deadline=None)
@given(cases(EXTREME))
def test_equals_enumeration_where_products_leave_the_range_of_doubles(case: Case) -> None:
    check_against_enumeration(case)


def test_a_product_that_comes_back_into_range_has_lost_nothing() -> None:
    tiny, great = np.array([5e-324, 5e-324]), np.array([1e200, 3e200])
    factors: Factors = [(("v",), np.array([0.7, 0.7])), (("v",), tiny), (("v",), great)]
    check_against_enumeration(({"v": 2}, factors, {}))


@settings(max_examples=50, deadline=None)
@given(cases(), st.randoms(use_true_random=False))
def test_names_and_order_change_nothing(case: Case, random: object) -> None:
    states, factors, evidence = case
    shuffle = random.shuffle  # type: ignore[attr-defined]
    numbers = list(range(len(states)))
    shuffle(numbers)
    renamed = {v: f"other{i}" for v, i in zip(states, numbers, strict=True)}
    moved = [(tuple(renamed[v] for v in scope), table) for scope, table in factors]
    shuffle(moved)
    plain = FactorNetwork(states, factors).posteriors(evidence)
    other_states = {renamed[v]: states[v] for v in sorted(states, key=lambda v: renamed[v])}
    other = FactorNetwork(other_states, moved).posteriors({renamed[v]: w for v, w in evidence.items()})
    np.testing.assert_allclose(other.log_evidence, plain.log_evidence, rtol=1e-13, atol=1e-13)
    for v in states:
        np.testing.assert_allclose(other[renamed[v]], plain[v], rtol=0, atol=1e-13)


@settings(max_examples=50, deadline=None)
@given(cases())
def test_portions_and_single_rows_give_the_whole_batch(case: Case) -> None:
    states, factors, evidence = case
    net = FactorNetwork(states, factors)
    whole = net.posteriors(evidence)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(network_module, "ENTRIES_AT_A_TIME", 1)
        portions = net.posteriors(evidence)
    for row in range(len(whole.log_evidence)):
        alone = net.posteriors(row_of(evidence, row))
        for v in states:
            np.testing.assert_allclose(portions[v][row], whole[v][row], rtol=0, atol=1e-14)
            np.testing.assert_allclose(alone[v][0], whole[v][row], rtol=0, atol=1e-14)
        assert alone.log_evidence[0] == pytest.approx(whole.log_evidence[row], abs=1e-13)
        assert portions.log_evidence[row] == pytest.approx(whole.log_evidence[row], abs=1e-13)


def chain(length: int) -> FactorNetwork:
    """A wire of ``length`` points, each equal to the one before: deterministic throughout."""
    names = [f"v{i}" for i in range(length)]
    links: Factors = [((a, b), np.eye(2)) for a, b in pairwise(names)]
    return FactorNetwork(dict.fromkeys(names, 2), [((names[0],), np.array([0.25, 0.75])), *links])


def test_a_thousand_findings_neither_underflow_nor_overflow() -> None:
    evidence = {f"v{i}": np.array([1e-30, 2e-30]) if i % 2 else np.array([2e30, 1e30]) for i in range(1000)}
    p = chain(1000).posteriors(evidence)
    assert p.log_evidence[0] == pytest.approx(500 * math.log(2), rel=1e-12)  # 2^500 e^0 either way, weights sum to 1
    np.testing.assert_allclose(p["v500"], [[0.25, 0.75]], atol=1e-11)


def test_a_possibility_out_of_range_survives_until_it_is_all_that_is_left() -> None:
    against = {f"v{i}": np.array([1e-100, 1.0]) for i in range(10)}
    p = chain(11).posteriors(against | {"v10": np.array([1.0, 0.0])})
    np.testing.assert_array_equal(p["v0"], [[1.0, 0.0]])
    assert p.log_evidence[0] == pytest.approx(math.log(0.25) - 1000 * math.log(10), rel=1e-12)


def test_an_impossible_row_leaves_the_others_alone() -> None:
    net = chain(3)
    p = net.posteriors({"v0": np.array([[1, 0], [1, 1]]), "v2": np.array([0, 1])})
    np.testing.assert_array_equal(p.log_evidence, [-np.inf, math.log(0.75)])
    np.testing.assert_array_equal(p["v1"], [[np.nan, np.nan], [0, 1]])


def test_no_evidence_and_no_variables() -> None:
    assert FactorNetwork({}, []).posteriors().log_evidence == [0.0]
    constant = FactorNetwork({}, [((), np.array(5.0))])
    assert constant.log_evidence() == [math.log(5)]
    assert constant.posteriors().variables == ()
    assert chain(2).posteriors({"v0": np.ones((0, 2))})["v1"].shape == (0, 2)


def test_the_caller_may_change_a_table_afterwards() -> None:
    table = np.array([1.0, 3.0])
    net = FactorNetwork({"a": 2}, [(("a",), table)])
    table[:] = np.nan
    np.testing.assert_array_equal(net.posteriors()["a"], [[0.25, 0.75]])


def test_joint_follows_the_order_asked_for() -> None:
    table = np.array([[1.0, 2.0, 3.0], [4.0, 5.0, 5.0]])
    net = FactorNetwork({"a": 2, "b": 3, "c": 2}, [(("a", "b"), table)])
    np.testing.assert_allclose(net.joint(("a", "b")), table[np.newaxis] / 20)
    np.testing.assert_allclose(net.joint(("b", "a"), {"a": np.eye(2)})[1], [[0, 4 / 14], [0, 5 / 14], [0, 5 / 14]])
    with pytest.raises(ValueError, match="b, c share no table"):
        net.joint(("b", "c"))
    with pytest.raises(ValueError, match="no variables"):
        net.joint(())


def test_plan_prints_before_anything_is_computed() -> None:
    plan = chain(3).plan
    assert (plan.largest, plan.total) == (4, 8)
    assert str(plan).splitlines() == [
        "3 variables in 2 tables; largest table 4 entries, all tables 8 entries",
        "  table 1 (4 entries): v0 given v1, to table 2",
        "  table 2 (4 entries): v1 v2",
    ]


@pytest.mark.parametrize("put_together", [False, True])
@settings(max_examples=50, deadline=None)
@given(case=cases())
def test_the_tree_is_a_tree_of_maximal_cliques(put_together: bool, case: Case) -> None:
    states, factors, _ = case
    scopes = [scope for scope, _ in factors]
    plan = make_plan(states, scopes)
    if put_together:
        plan = merged(plan, states)
    held = [set(c.variables) for c in plan.cliques]
    assert sorted(plan.order) == sorted(states)
    assert all(any(set(scope) <= clique for clique in held) for scope in scopes)
    assert not any(a < b or (a == b and i != j) for i, a in enumerate(held) for j, b in enumerate(held))
    for i, clique in enumerate(plan.cliques):
        if clique.parent is not None:
            assert clique.parent > i
            assert set(clique.separator) <= held[clique.parent]
        assert not any(set(clique.variables[: clique.own]) & later for later in held[i + 1 :])  # running intersection


def test_a_table_over_the_limit_is_refused_with_its_size() -> None:
    names = [f"v{i}" for i in range(60)]
    pairs: Factors = [((a, b), np.ones((2, 2))) for i, a in enumerate(names) for b in names[:i]]
    with pytest.raises(TooLargeError, match=r"a table of 131072 entries over 17 variables or more \(v") as error:
        FactorNetwork(dict.fromkeys(names, 2), pairs, largest_table=2**16)
    assert error.value.entries == 2**17
    with pytest.raises(TooLargeError, match="the limit is 3 entries"):
        FactorNetwork({"a": 4}, [], largest_table=3)


@pytest.mark.parametrize(
    ("scope", "table", "message"),
    [
        (("a", "x"), np.ones((2, 2)), "names 'x'; no variable of the network has that name"),
        (("a", "a"), np.ones((2, 2)), "names 'a' 2 times; each variable may stand in it once"),
        (("a", "b"), np.ones((3, 2)), r"has shape \(3, 2\); its variables' states make it \(2, 3\)"),
        (("a",), np.array([1.0, -0.5]), "holds -0.5; every weight must be finite and not negative"),
        (("a",), np.array([1.0, np.nan]), "holds nan"),
        (("a",), np.array([1.0, np.inf]), "holds inf"),
    ],
)
def test_wrong_factors_are_refused(scope: tuple[str, ...], table: Array, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        FactorNetwork({"a": 2, "b": 3}, [(scope, table)])


@pytest.mark.parametrize(
    ("evidence", "message"),
    [
        ({"x": np.ones(2)}, "evidence on 'x'; no variable"),
        ({"a": np.ones(3)}, r"evidence on 'a' has shape \(3,\); it must be \(2,\) or \(batch, 2\)"),
        ({"a": np.array([1.0, -1.0])}, "evidence on 'a' holds -1.0"),
        ({"a": np.array([np.nan, 1.0])}, "evidence on 'a' holds nan"),
        (
            {"a": np.ones((2, 2)), "b": np.ones((4, 3))},
            "evidence on 'b' has 4 rows where others have 2; it needs 2 or 1",
        ),
    ],
)
def test_wrong_evidence_is_refused(evidence: dict[str, Array], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        FactorNetwork({"a": 2, "b": 3}, []).posteriors(evidence)


def test_other_wrong_requests_are_refused() -> None:
    with pytest.raises(ValueError, match="variable 'a' has 0 states; it needs at least 1"):
        FactorNetwork({"a": 0}, [])
    with pytest.raises(ValueError, match="has 2 rows; the most probable assignment is found for 1 at a time"):
        FactorNetwork({"a": 2}, []).most_probable({"a": np.eye(2)})


def test_only_the_variables_asked_for_are_answered() -> None:
    net = chain(4)
    evidence = {"v3": np.array([[1.0, 3.0], [1.0, 0.0]])}
    some = net.posteriors(evidence, of=["v2", "v0"])
    assert some.variables == ("v2", "v0")
    np.testing.assert_array_equal(some["v0"], net.posteriors(evidence)["v0"])
    with pytest.raises(ValueError, match="names 'x'; no variable of the network has that name"):
        net.posteriors(of=["x"])
