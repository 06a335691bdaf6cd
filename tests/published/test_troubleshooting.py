"""Published and computed values of troubleshooting, and the program's own plan against them.

``one_by_one`` follows the order of chance over cost, which is optimal for one fault, independent costs, perfect
remedies and a free check. How far the chance to be solved has come after each remedy it takes from a product of
independent parts: exact where the parts are independent and the belief says no more than that, an approximation where
they exclude one another. So here its *order* is compared with the exact optimum for one fault, and its *worth* with an
enumeration of independent faults.
"""

from __future__ import annotations

import doctest
import random
from itertools import permutations, product
from math import prod

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from knowngood.handbook.quantities import Money
from knowngood.log.events import parse
from knowngood.log.state import Line, replay
from knowngood.maps.device import Device, Function, FunctionLevel, Mode, Part, Prices, Remedy, Test, Worth
from knowngood.maps.words import Level
from knowngood.plan import judge, order
from knowngood.plan.choose import advise
from knowngood.plan.order import by_ratio, expected_cost
from knowngood.plan.terms import Terms
from knowngood.plan.value import Outlook, one_by_one

CHANCES, COSTS = (0.50, 0.30, 0.15, 0.05), (10.0, 2.0, 5.0, 1.0)
"""Actions A1 to A4 of one fault; the costs of orders below are computed from the formula of Heckerman et al. 1995."""


def cost_of_repair(actions: tuple[int, ...], chances: tuple[float, ...], costs: tuple[float, ...]) -> float:
    """Expected cost of repair, fault by fault: all steps up to the one that helps; all of them if none does."""
    total = (1.0 - sum(chances)) * sum(costs)
    for fault, chance in enumerate(chances):
        total += chance * sum(costs[one] for one in actions[: actions.index(fault) + 1])
    return total


@st.composite
def one_fault(draw: st.DrawFn) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Chances of 2 to 6 actions that exclude one another, and their costs."""
    count = draw(st.integers(2, 6))
    weights = draw(st.lists(st.integers(1, 50), min_size=count, max_size=count))
    rest = draw(st.integers(0, 50))
    costs = draw(st.lists(st.integers(1, 200), min_size=count, max_size=count))
    return tuple(one / (sum(weights) + rest) for one in weights), tuple(one / 4 for one in costs)


@settings(max_examples=300, deadline=None)
@given(one_fault())
def test_chance_over_cost_is_the_optimum_for_one_fault(case: tuple[tuple[float, ...], tuple[float, ...]]) -> None:
    chances, costs = case
    actions = by_ratio(chances, costs)
    best = min(cost_of_repair(one, chances, costs) for one in permutations(range(len(chances))))
    assert cost_of_repair(actions, chances, costs) == pytest.approx(best, rel=1e-12)
    assert expected_cost(actions, chances, costs) == pytest.approx(best, rel=1e-12)


@given(one_fault(), st.randoms(use_true_random=False))
def test_the_cost_of_any_order_is_that_of_its_faults(
    case: tuple[tuple[float, ...], tuple[float, ...]], draw: random.Random
) -> None:
    chances, costs = case
    actions = tuple(draw.sample(range(len(chances)), len(chances)))
    assert expected_cost(actions, chances, costs) == pytest.approx(cost_of_repair(actions, chances, costs), rel=1e-12)


@pytest.mark.parametrize(
    ("actions", "cost"),
    [
        ((1, 0, 3, 2), 9.95),  # the best
        ((1, 3, 0, 2), 9.95),  # A1 and A4 tie
        ((0, 1, 2, 3), 12.05),  # by chance
        ((3, 1, 2, 0), 11.15),  # by cost
        ((2, 0, 3, 1), 14.45),  # the worst
    ],
)
def test_four_actions_worked_by_hand(actions: tuple[int, ...], cost: float) -> None:
    assert expected_cost(actions, CHANCES, COSTS) == pytest.approx(cost, abs=1e-9)
    all_costs = [expected_cost(one, CHANCES, COSTS) for one in permutations(range(4))]
    assert (min(all_costs), max(all_costs)) == pytest.approx((9.95, 14.45), abs=1e-9)
    assert by_ratio(CHANCES, COSTS) == (1, 0, 3, 2)


PRINTED = {"YZX": 91.637125, "YXZ": 92.28, "ZYX": 95.287125, "XYZ": 95.91125, "ZXY": 98.41, "XZY": 99.105}
"""Costs 51.75, 2.00, 52.40 and chances to fail .125, .075, .140 of an exercise (C. T. Ragsdale, from memory)."""
LIKELY_MEANT = {"XZY": 5.355, "ZXY": 5.41, "XYZ": 5.4425, "ZYX": 5.512125, "YXZ": 5.56125, "YZX": 5.612125}
"""The same with 1.75 and 2.40, of which the others look like misprints. No answer is printed: both are computed."""


@pytest.mark.parametrize(("costs", "values"), [((51.75, 2.0, 52.4), PRINTED), ((1.75, 2.0, 2.4), LIKELY_MEANT)])
def test_tests_that_stop_at_the_first_failure(costs: tuple[float, ...], values: dict[str, float]) -> None:
    """Order by chance to fail over cost: L. Mitten 1960, for independent tests."""
    chances = (0.125, 0.075, 0.140)
    for actions in permutations(range(3)):
        name = "".join("XYZ"[one] for one in actions)
        assert expected_cost(actions, chances, costs, one_fault=False) == pytest.approx(values[name], abs=1e-9)
    assert "".join("XYZ"[one] for one in by_ratio(chances, costs)) == min(values, key=values.__getitem__)


def test_worked_examples_in_the_documentation() -> None:
    assert doctest.testmod(order).failed == 0
    assert by_ratio([0.1, 0.1], [1.0, 0.0]) == (1, 0)


# ---- the plan's value ---------------------------------------------------------------------------------------------


def outlook(costs: tuple[float, ...], *, check: float, success: float, stop: float) -> Outlook:
    """Perfect remedies and nothing unknown."""
    return Outlook(np.array(costs), np.ones(len(costs)), 1.0, check, success, stop, bit=0.0)


def followed(
    actions: tuple[int, ...], chances: tuple[float, ...], costs: tuple[float, ...], view: Outlook, start: float
) -> float:
    """Worth of following an order for independent faults that are enumerated, stopping where that is worth more.

    It is known after each step whether the unit works, and nothing else.
    """
    works_after = [0.0] * (len(actions) + 1)
    for faulty in product((False, True), repeat=len(chances)):
        weight = prod(chance if bad else 1 - chance for chance, bad in zip(chances, faulty, strict=True))
        for done in range(len(actions) + 1):
            if not any(faulty[one] for one in actions[done:]):
                works_after[done] += weight
    worth, success, check = view.stop, float(view.success), float(view.check)
    for step in reversed(range(len(actions))):
        helped = (works_after[step + 1] - works_after[step]) / (1 - works_after[step])
        going_on = helped * success + (1 - helped) * worth - costs[actions[step]] - check
        worth = max(view.stop, going_on)
    return max(view.stop, start * success + (1 - start) * worth - check)


@given(
    st.lists(st.sampled_from([0.05, 0.1, 0.3, 0.6]), min_size=1, max_size=5),
    st.lists(st.integers(1, 60), min_size=5, max_size=5),
    st.sampled_from([0.0, 0.5, 3.0]),
)
def test_the_worth_is_exact_for_independent_parts(faults: list[float], given_costs: list[int], check: float) -> None:
    chances, costs = tuple(faults), tuple(float(one) for one in given_costs[: len(faults)])
    view = outlook(costs, check=check, success=100.0, stop=20.0)
    start = prod(1 - one for one in chances)
    value = one_by_one(view, np.array([chances]), np.array([start])).worth[0]
    exact = followed(by_ratio(chances, costs), chances, costs, view, start)
    assert value == pytest.approx(exact, rel=1e-9)


def test_the_four_actions_by_the_plan_itself() -> None:
    """Known to be broken, so the product of independent parts is stretched from 0 to 1: near 9.95, and A2 is first."""
    view = outlook(COSTS, check=0.0, success=1000.0, stop=0.0)
    value = one_by_one(view, np.array([CHANCES]), np.array([0.0])).worth[0]
    assert 1000.0 - value == pytest.approx(9.95, rel=0.2)
    by_first = one_by_one(view, np.tile(CHANCES, (4, 1)), np.zeros(4), np.arange(4)).worth
    assert np.argmax(by_first) == 1
    assert by_first[1] == pytest.approx(value)


# ---- the planner on a map -----------------------------------------------------------------------------------------


def single_fault_device(chances: tuple[float, ...], costs: tuple[float, ...], rare: float = 1e-6) -> Device:
    """One fault for all that is known once it fails: parts so seldom faulty that two at once do not matter."""
    parts = {}
    for number, (chance, cost) in enumerate(zip(chances, costs, strict=True), start=1):
        name = f"a{number}"
        cure = Remedy("mend", "mend", (("dead", 1.0),), cost, None, False, 0.0, (), (), ())
        mode = Mode("dead", "dead", 1.0, Level.NONE)
        parts[name] = Part(name, name, "made", chance * rare, (mode,), (), (), (cure,), Prices())
    works = Function("works", "works", "behaviour", tuple(parts), wanted=True)
    tried = Test(
        "works",
        "tried",
        "try",
        FunctionLevel("works"),
        ("works", "weak", "fails"),
        0.0,
        "mains",
        miss=0.0,
        false_alarm=0.0,
    )
    money = Money("EUR", 100)
    return Device(
        id="one-fault",
        what="one fault",
        power="mains",
        protection_class="none",
        unknown=0.0,
        worth=Worth(money, money, money),
        parts=parts,
        functions={"works": works},
        tests={"works": tried},
        steps={},
        married=(),
        hazards={},
        stores_data=False,
        content_hash=repr((chances, costs)),
    )


def planned(chances: tuple[float, ...], costs: tuple[float, ...]) -> tuple[int, ...]:
    """The order in which the planner mends a unit with one fault, as long as it goes on failing."""
    device = single_fault_device(chances, costs)
    bench = Terms("EUR", 1.0, working=5000.0, as_is=1.0, parts=1.0, come_back=0.0, list_minutes=0.0)
    lines, left, mended = ["bought one-fault for EUR 1", "tried works fails"], set(range(len(chances))), []
    while len(left) > 1:
        told = replay(device, [Line(seq, "", parse(line)) for seq, line in enumerate(lines, start=1)])
        move = advise(device, told, bench).best.move
        assert move.kind in ("mend", "try"), move.name
        if move.kind == "mend":
            mended.append(int(move.target[1:]) - 1)
            left.remove(mended[-1])
        lines.append(move.log if move.kind == "mend" else "tried works fails")
    return (*mended, *left)  # the last is the fault for certain


@pytest.mark.parametrize("seed", range(10))
def test_the_planner_mends_in_the_order_of_chance_over_cost(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """No tests but the free check, perfect remedies, a unit worth any of them; costs that differ more than chances."""
    monkeypatch.setattr(judge, "CHECK_MINUTES", 0.0)
    draw = random.Random(seed)
    weights = [draw.uniform(2, 3) for _ in range(draw.randint(3, 5))]
    chances = tuple(one / sum(weights) for one in weights)
    ratios = draw.sample([0.02, 0.06, 0.18, 0.54, 1.62], len(chances))
    costs = tuple(chance / ratio for chance, ratio in zip(chances, ratios, strict=True))
    assert planned(chances, costs) == by_ratio(chances, costs)


@pytest.mark.parametrize("seed", range(10))
def test_whatever_the_chances_the_planners_order_costs_little_more(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """The product of independent parts may put a likely remedy before a cheap one (see the top of this file)."""
    monkeypatch.setattr(judge, "CHECK_MINUTES", 0.0)
    draw = random.Random(seed)
    weights = [draw.uniform(1, 9) for _ in range(draw.randint(3, 5))]
    costs = tuple(draw.uniform(1, 20) for _ in weights)
    chances = tuple(one / sum(weights) for one in weights)
    best = expected_cost(by_ratio(chances, costs), chances, costs)
    assert best <= expected_cost(planned(chances, costs), chances, costs) <= 1.1 * best
