"""The likeliest joint explanations against a sum over every course of events, and what is said of them."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product

import devices as dv
import numpy as np
import pytest
from hypothesis import assume, given
from oracle import Joint
from test_network import Case as Network
from test_network import cases as networks
from test_network import enumerate_weights, log, row_of
from test_oracle import Case, believed, cases, drawn, jointly, steady

from knowngood.belief import FactorNetwork
from knowngood.belief.believe import believe
from knowngood.belief.explanations import Course, Explanation, Fault, explain, likeliest
from knowngood.belief.story import Link
from knowngood.maps.device import Device


@drawn(60)
@given(networks())
def test_max_marginals_are_the_greatest_weights_with_each_state(case: Network) -> None:
    states, factors, evidence = case
    asked = tuple(states)[1:] or tuple(states)
    shares, log_best = FactorNetwork(states, factors).max_marginals(asked, evidence)
    assert tuple(shares) == asked
    for row, log_weight in enumerate(log_best):
        weights = enumerate_weights(states, factors, row_of(evidence, row))
        best = max(weights.values())
        assert log_weight == pytest.approx(log(best), rel=1e-12, abs=1e-11)
        for v in asked:
            axis = list(states).index(v)
            if not best:
                assert np.isnan(shares[v][row]).all()
                continue
            expected = [max(w for a, w in weights.items() if a[axis] == s) / best for s in range(states[v])]
            assert list(shares[v][row]) == pytest.approx([float(one) for one in expected], rel=1e-11, abs=1e-12)


@drawn(100)
@given(networks())
def test_the_likeliest_assignments_of_some_variables_are_those_of_all_assignments(case: Network) -> None:
    states, factors, evidence = case
    evidence = row_of(evidence, 0)
    weights = enumerate_weights(states, factors, evidence)
    assume(any(weights.values()))
    some = list(states)[::2]
    best: dict[tuple[int, ...], float] = {}
    for assignment, weight in weights.items():
        key = assignment[::2]
        best[key] = max(best.get(key, -np.inf), log(weight))
    found = likeliest(FactorNetwork(states, factors), evidence, some, 6)
    expected = sorted((one for one in best.values() if one > -np.inf), reverse=True)[:6]
    assert [weight for _, weight in found] == pytest.approx(expected, rel=1e-12, abs=1e-11)
    keys = [tuple(modes[name] for name in some) for modes, _ in found]
    assert len(set(keys)) == len(keys)
    assert [best[key] for key in keys] == pytest.approx(expected, rel=1e-12, abs=1e-11)


@drawn(60)
@given(cases())
def test_explanations_are_the_likeliest_courses_of_events(drawn_case: Case) -> None:
    case = steady(drawn_case)  # what a fault that comes and goes shows is hidden, too, but only where it was looked for
    check(case, jointly(case))


@drawn(6)
@given(cases(parts=12, functions=3, most=2**12, modes=1, least=9))
def test_explanations_on_devices_of_many_parts(drawn_case: Case) -> None:
    case = steady(drawn_case)
    check(case, jointly(case))


def check(case: Case, joint: Joint) -> None:
    assume(joint.total > 0.0)
    belief = believed(case)
    unknown = tuple(range(len(joint.parts), joint.weights.ndim))
    mass, best = joint.weights.sum(axis=unknown) / joint.total, joint.weights.max(axis=unknown) / joint.total
    chains = [[link for link in belief.story.links if link.part == part.id] for part in joint.parts]
    names = [link.name for chain in chains for link in chain]
    found = likeliest(belief.network, belief.base, names, 5)
    explained = explain(belief)
    expected = np.sort(best[best > 0.0])[::-1][:5]
    assert [one.likeliest for one in explained] == pytest.approx(list(expected), rel=1e-12, abs=1e-12)
    places = [place(joint, chains, modes) for modes, _ in found]
    assert len(set(places)) == len(places)
    for at, one in zip(places, explained, strict=True):
        assert one.likeliest == pytest.approx(best[at], rel=1e-12, abs=1e-12)
        assert one.probability == pytest.approx(mass[at], rel=1e-10, abs=1e-12)
        faulty = {fault.part for fault in one.faults}
        fixed = tuple(
            course if part.id in faulty else slice(None) for part, course in zip(joint.parts, at, strict=True)
        )
        assert one.with_others == pytest.approx(mass[fixed].sum(), rel=1e-10, abs=1e-12)
        check_unknown(joint, at, one)


def place(joint: Joint, chains: Sequence[Sequence[Link]], course: Course) -> tuple[int, ...]:
    """Where the course of events with these fault modes stands in the oracle's sum."""
    of_parts = (tuple(course[link.name] for link in chain) for chain in chains)
    known = ([states for _, states in each] for each in joint.courses)
    return tuple(each.index(one) for each, one in zip(known, of_parts, strict=True))


def check_unknown(joint: Joint, at: tuple[int, ...], one: Explanation) -> None:
    """Unknown faults are named where, with these modes given, there is one at least as likely as none."""
    left = joint.weights[at] / joint.weights[at].sum()
    left = left.sum(axis=tuple(range(len(joint.device.functions), left.ndim)))
    none = float(left[(0,) * left.ndim])
    assume(abs(none - 0.5) > 1e-9)
    assert bool(one.unknown) == (none < 0.5)
    for function, chance in one.unknown.items():
        axis = list(joint.device.functions).index(function)
        assert chance == pytest.approx(float(left.take(1, axis).sum()), rel=1e-10, abs=1e-12)


# ---- what is said of them -------------------------------------------------------------------------------------------


def lamp(unknown: float = 0.01, miss: float = 0.01) -> Device:
    """A lamp behind a fuse; both have remedies that may fail."""
    cure = dv.remedy("mend", {"dead": 0.9})
    return dv.device(
        [dv.part("fuse", remedies=(cure,)), dv.part("lamp", remedies=(cure,)), dv.part("foot")],
        [dv.function("power", "fuse"), dv.function("light", "power", "lamp", wanted=True)],
        [dv.tried(f"{one}.tried", one, miss=miss, false_alarm=0.01) for one in ("power", "light")],
        unknown=unknown,
    )


def explained(device: Device, *lines: str, most: int = 5) -> tuple[Explanation, ...]:
    return explain(believe(device, dv.log(device, lines)), most)


def test_nothing_wrong_is_an_explanation() -> None:
    first = explained(lamp())[0]
    assert first.faults == ()
    assert first.unknown == {}
    assert first.probability == pytest.approx(0.9**3)
    assert first.with_others == pytest.approx(1.0)
    assert first.explains == first.strange == ()


def test_an_explanation_says_which_lines_it_explains_and_which_stay_strange() -> None:
    found = explained(lamp(), "tried light.tried fails", "tried power.tried works", "noted a remark", most=20)
    by_faults = {tuple(fault.part for fault in one.faults): (one.explains, one.strange) for one in found}
    assert found[0].faults == (Fault("lamp", "dead", None, None),)
    assert by_faults["lamp",] == ((1,), ())
    assert by_faults["fuse",] == ((1,), (2,))
    assert by_faults[()] == ((), (1,))


def test_a_fault_is_there_until_the_act_that_ended_it_or_in_spite_of_it() -> None:
    """Line 2 mends the lamp; what was before it keeps its meaning, and a remedy may fail."""
    found = explained(lamp(), "tried light.tried fails", "mended lamp mend", "tried light.tried works")
    assert found[0].faults == (Fault("lamp", "dead", None, 2),)
    assert found[0].explains == (1,)
    failed = explained(lamp(), "tried light.tried fails", "mended lamp mend", "tried light.tried fails", most=20)
    lasting = next(one for one in failed if one.faults == (Fault("lamp", "dead", None, None),))
    assert lasting.explains == (1, 3)


def test_a_fault_that_an_act_brought_is_there_since_then() -> None:
    plug = dv.part("plug", dv.mode("unseated", seating=True), joins=("lamp",))
    device = dv.device(
        [dv.part("lamp"), plug], [dv.function("light", "lamp", "plug", wanted=True)], [dv.tried("t", "light")]
    )
    found = explained(device, "tried t works", "unplugged plug", "plugged plug", "tried t fails")
    assert found[0].faults == (Fault("plug", "unseated", 3, None),)
    assert found[0].explains == (4,)


def test_what_no_fault_of_the_map_explains_is_put_down_to_what_it_does_not_know() -> None:
    """Fuse and lamp are found fine without doubt, and yet there is no light."""
    device = dv.device(
        [dv.part("lamp")],
        [dv.function("light", "lamp", wanted=True), dv.function("heat", wanted=True)],
        [
            dv.tried("light.tried", "light", miss=0.0, false_alarm=0.0),
            dv.found("ohms", dv.PartModes("lamp", (("dead", 1.0),)), false_alarm=0.0),
        ],
        unknown=0.1,
    )
    only = explained(device, "found ohms ok", "tried light.tried fails")
    assert len(only) == 1
    assert only[0].faults == ()
    assert only[0].unknown == {"light": pytest.approx(1.0)}
    assert only[0].probability == pytest.approx(1.0)
    assert (only[0].explains, only[0].strange) == ((2,), ())


def test_there_are_no_more_explanations_than_courses() -> None:
    one = dv.device([dv.part("lamp")], [dv.function("light", "lamp", wanted=True)], [])
    assert [e.faults for e in explained(one)] == [(), (Fault("lamp", "dead", None, None),)]
    assert sum(e.probability for e in explained(one)) == pytest.approx(1.0)
    states = product(range(2), repeat=3)
    assert len(explained(lamp(), most=20)) == len(list(states))
