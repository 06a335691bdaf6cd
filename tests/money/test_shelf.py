"""The best plan for a shelf: against every plan, by its properties, ended early, and why it is as it is."""

from __future__ import annotations

import signal
import subprocess
import sys
from collections import Counter
from dataclasses import replace
from threading import Event

import numpy as np
import pytest
from drawn_shelves import any_shelf, trade_shelf
from every_plan import EveryPlan, TooMany
from hypothesis import given, settings
from hypothesis import strategies as st

from knowngood.errors import ProblemError, StoppedError
from knowngood.money.shelf.explain import Margin, Price, explain
from knowngood.money.shelf.greedy import greedy
from knowngood.money.shelf.plan import Met, Plan, broken, tally
from knowngood.money.shelf.problem import (
    Alternative,
    Demand,
    Item,
    Need,
    Offer,
    Outlet,
    Problem,
    Supplier,
    Unit,
    Way,
)
from knowngood.money.shelf.program import Program
from knowngood.money.shelf.solve import Ended, solve

CENT = 60
"""Sixtieths in which a worth is counted."""


def best(problem: Problem) -> int | None:
    try:
        return solve(problem).worth
    except ProblemError:
        return None


def test_no_plan_of_all_is_better_on_small_shelves() -> None:
    """Every plan of drawn shelves of up to six units and five kinds of parts, but for the few that have too many."""
    sizes: Counter[int] = Counter()
    impossible = sensible = 0
    for seed in range(60):
        problem = any_shelf(np.random.default_rng(seed))
        try:
            every = EveryPlan(problem, most=10_000)
        except TooMany:
            continue
        assert best(problem) == every.best
        sizes[len(problem.units)] += 1
        impossible += every.best is None
        plan = greedy(problem)
        assert plan is None or tally(problem, plan).worth <= (every.best or 0)
        sensible += plan is not None and tally(problem, plan).worth == every.best
    assert sizes.total() > 45
    assert min(sizes[one] for one in range(1, 7)) > 4
    assert 0 < impossible < 15
    assert 20 < sensible < sizes.total() - impossible - 5


@settings(max_examples=40)
@given(st.integers(0, 2**32), st.integers(1, 12), st.integers(1, 8))
def test_nothing_is_used_twice_and_every_unit_of_money_is_in_one_place(seed: int, units: int, kinds: int) -> None:
    problem = any_shelf(np.random.default_rng(seed), units, kinds)
    try:
        answer = solve(problem)
    except ProblemError:
        return
    assert answer.bound == answer.worth == worth(problem, answer.plan)
    plan = greedy(problem)
    assert plan is None or worth(problem, plan) <= answer.worth


def worth(problem: Problem, plan: Plan) -> int:
    """Worth of a plan, entry by entry; fails if it does not keep to the problem. Shares nothing with ``tally``."""
    entries: list[int] = []
    hands: list[int] = []
    stock = {item.id: item for item in problem.items}
    bins: Counter[str] = Counter()
    receipts: Counter[str] = Counter()
    out: set[tuple[str, str] | None] = {None}
    for unit in problem.units:
        assert (unit.id in plan.ways) == (unit.inside in out)
        if unit.id in plan.ways:
            out.add((unit.id, plan.ways[unit.id]))
            [way] = [way for way in unit.ways if way.id == plan.ways[unit.id]]
            entries.append(way.value)
            hands.append(way.minutes)
            bins.update(way.demands)
            stock.update({item.id: item for item in way.gives})
    needs = [(unit, way, need) for unit, way in out - {None} for need in problem.way[unit, way].needs]
    assert plan.met.keys() == {(unit, need.id) for unit, _, need in needs}
    for unit, chosen, need in needs:
        met = plan.met[unit, need.id]
        [one] = [one for one in need.alternatives if one.id == met.alternative]
        entries.append(-one.cost)
        hands.append(one.minutes)
        for key, source in zip(one.takes, met.sources, strict=True):
            if source in stock:
                item = stock.pop(source)
                assert key in item.serves
                entries += [-item.cost, -item.risk]
                hands += [item.minutes, item.test_minutes]
            else:
                [offer] = [offer for offer in problem.offers if offer.id == source]
                assert key in offer.serves
                assert offer.days <= (problem.way[unit, chosen].within or offer.days)
                entries += [-offer.price, -offer.risk]
                hands.append(offer.test_minutes)
                receipts[source] += 1
    for source, demand in plan.outlets.items():
        item = stock.pop(source)
        [outlet] = [outlet for outlet in item.outlets if outlet.demand == demand]
        entries += [outlet.value, -item.cost]
        hands += [outlet.minutes, item.minutes]
        bins[demand] += 1
    for offer in problem.offers:
        assert offer.most is None or receipts[offer.id] <= offer.most
    entries += [
        -supplier.postage
        for supplier in problem.suppliers
        if any(receipts[offer.id] for offer in problem.offers if offer.supplier == supplier.id)
    ]
    for demand in problem.demands:
        assert demand.most is None or bins[demand.id] <= demand.most
        entries += [step for place, step in enumerate(demand.steps) if place < bins[demand.id]]
    assert problem.minutes is None or sum(hands) <= problem.minutes
    return 60 * sum(entries) - problem.hour * sum(hands)


def take(key: str, *others: Alternative) -> tuple[Need, ...]:
    return (Need(key, (Alternative("take", takes=(key,)), *others)),)


def unit(name: str, value: int, *needs: Need, gives: tuple[Item, ...] = (), minutes: int = 30) -> Unit:
    finish = Way("finish", value, minutes, ("working",), needs)
    apart = (Way("parts", minutes=10, gives=gives),) if gives else ()
    return Unit(name, (finish, *apart, Way("wait")))


def fan(name: str) -> Item:
    return Item(name, frozenset(["fan"]), (Outlet("loose", 300),))


TWO_AND_A_DONOR = Problem(
    (
        unit("A", 9000, *take("fan")),
        unit("B", 7000, *take("fan"), minutes=20),
        unit("C", 2000, *take("fan", Alternative("mend", 500, 30)), gives=(fan("C fan"),)),
    ),
    demands=(Demand("working", 2), Demand("loose", 1)),
    suppliers=(Supplier("post", 600),),
    offers=(Offer("new fan", "post", frozenset(["fan"]), 1500, most=1),),
    minutes=200,
)
"""A and B are to be finished, one with the fan out of C and one with a new one; worked by hand below."""


def test_a_shelf_worked_by_hand() -> None:
    """A 90.00 and B 70.00 are sold; C is taken apart for its fan; one fan is bought at 15.00 and 6.00 postage."""
    answer = solve(TWO_AND_A_DONOR)
    assert answer.ended is Ended.OPTIMAL
    assert dict(answer.plan.ways) == {"A": "finish", "B": "finish", "C": "parts"}
    assert Counter(answer.plan.orders()) == {"C fan": 1, "new fan": 1}
    assert answer.worth == (9000 + 7000 - 1500 - 600) * CENT
    assert tally(TWO_AND_A_DONOR, answer.plan).minutes == 60


def test_each_unit_and_scarce_thing_is_explained_by_what_would_be_without() -> None:
    """By hand, of 139.00 for the whole: without A, B takes the fan out of C (70.00); without B, A does (90.00); if C is
    not taken apart, A buys (69.00) and C is mended (15.00). One more fan saves the one that is bought (21.00). A third
    place would need a third fan, and a second new one a third place.
    """
    answer = solve(TWO_AND_A_DONOR)
    why = explain(TWO_AND_A_DONOR, answer)
    margins = {margin.unit: margin for margin in why.margins}
    assert margins["A"] == Margin("A", "finish", "wait", 6900 * CENT, 6900 * CENT)
    assert margins["B"] == Margin("B", "finish", "wait", 4900 * CENT, 4900 * CENT)
    assert margins["C"] == Margin("C", "parts", "finish", 5500 * CENT, 5500 * CENT)
    assert set(why.prices) == {
        Price("demand", "working", 0, 0),
        Price("offer", "new fan", 0, 0),
        Price("part", "fan", 2100 * CENT, 2100 * CENT),
    }
    assert not why.left_out
    none = explain(TWO_AND_A_DONOR, answer, seconds=0.0)
    assert none.left_out == ("unit A", "unit B", "unit C", "demand working", "offer new fan", "part fan")


def test_an_hour_is_worth_what_can_be_done_in_it() -> None:
    problem = replace(TWO_AND_A_DONOR, minutes=45)
    answer = solve(problem)
    assert dict(answer.plan.ways) == {"A": "finish", "B": "wait", "C": "parts"}
    why = explain(problem, answer, units=["B"])
    assert Price("hour", "", 4900 * CENT, 4900 * CENT) in why.prices
    assert [margin.unit for margin in why.margins] == ["B"]


def test_a_unit_that_has_to_go_its_way_has_no_margin() -> None:
    problem = Problem((Unit("A", (Way("wait", 5),)),))
    assert explain(problem, solve(problem)).margins == (Margin("A", "wait", None, 0, None),)


def test_what_the_sensible_rule_would_have_done_and_lost() -> None:
    """By hand: B comes first (49.00 in 20 minutes) and buys the only new fan, C is mended (15.00), and A finds none."""
    answer = solve(TWO_AND_A_DONOR)
    rule = greedy(TWO_AND_A_DONOR)
    assert rule is not None
    assert not broken(TWO_AND_A_DONOR, rule)
    assert worth(TWO_AND_A_DONOR, rule) == (4900 + 1500) * CENT
    assert answer.worth - worth(TWO_AND_A_DONOR, rule) == 7500 * CENT
    otherwise = {(unit, way, rule.ways[unit]) for unit, way in answer.plan.ways.items() if rule.ways[unit] != way}
    assert otherwise == {("A", "finish", "wait"), ("C", "parts", "finish")}
    impossible = Problem((Unit("A", (Way("finish", 100, 30),)),), minutes=20)
    assert greedy(impossible) is None


def test_married_parts_move_together_and_a_later_revision_serves_as_the_earlier() -> None:
    pair = Item("D pair", frozenset(["main+driver"]))
    later = Item("D lamp", frozenset(["lamp@A", "lamp@B"]))
    problem = Problem(
        (
            unit("A", 5000, *take("main+driver"), *take("lamp@A")),
            unit("B", 4000, *take("lamp@B")),
            Unit("D", (Way("parts", gives=(pair, later)), Way("wait", 100))),
        ),
        items=(Item("lamp", frozenset(["lamp@A"])),),
        demands=(Demand("working"),),
    )
    plan = solve(problem).plan
    assert plan.met["A", "main+driver"] == Met("take", ("D pair",))
    assert plan.met["A", "lamp@A"] == Met("take", ("lamp",))
    assert plan.met["B", "lamp@B"] == Met("take", ("D lamp",))


def test_what_may_prove_bad_is_tested_and_its_risk_counted() -> None:
    maybe = Item("fan", frozenset(["fan"]), test_minutes=6, chance=0.75, if_bad=1001)
    problem = Problem((unit("A", 5000, *take("fan")),), (maybe,), (Demand("working"),), hour=1000)
    assert maybe.risk == 250
    assert solve(problem).worth == (5000 - 250) * CENT - 36 * 1000


LARGE = trade_shelf(np.random.default_rng(5), 30)


def test_stopped_at_once_it_has_a_plan_and_a_true_bound() -> None:
    stop = Event()
    stop.set()
    answer = solve(LARGE, stop=stop)
    assert answer.ended is Ended.STOPPED
    assert not broken(LARGE, answer.plan)
    assert answer.bound >= solve(LARGE, gap=0.001).worth >= answer.worth
    assert answer.gap > 0


def test_ctrl_c_gives_the_best_so_far() -> None:
    answer = solve(LARGE, progress=lambda seen: signal.raise_signal(signal.SIGINT))
    assert answer.ended is Ended.STOPPED
    assert not broken(LARGE, answer.plan)
    assert answer.bound >= answer.worth


def test_a_time_limit_is_no_proof() -> None:
    answer = solve(LARGE, seconds=0.0)
    assert answer.ended is Ended.TIME
    assert answer.gap > 0.01


def test_a_gap_asked_for_is_kept_and_progress_narrows() -> None:
    seen = []
    answer = solve(LARGE, gap=0.01, progress=seen.append)
    assert answer.ended in (Ended.WITHIN, Ended.OPTIMAL)
    assert answer.gap <= 0.01
    bounds = [one.bound for one in seen]
    assert bounds == sorted(bounds, reverse=True)
    assert all(one.worth is None or one.worth <= one.bound for one in seen)


def test_a_large_shelf_is_narrowed_from_both_ends_first() -> None:
    problem, seen = trade_shelf(np.random.default_rng(3), 150), []
    answer = solve(problem, gap=0.01, progress=seen.append)
    assert answer.ended is Ended.WITHIN
    assert answer.worth == worth(problem, answer.plan)
    assert len(seen) >= 2
    assert answer.bound == seen[-1].bound
    stopped = solve(problem, gap=0.0, progress=lambda one: signal.raise_signal(signal.SIGINT))
    assert stopped.ended is Ended.STOPPED
    assert stopped.bound == answer.bound


def test_the_same_seed_gives_the_same_plan() -> None:
    assert solve(LARGE, gap=0.01, seed=3).plan == solve(LARGE, gap=0.01, seed=3).plan


def test_the_program_reads_its_plans_back() -> None:
    program, plan = Program(LARGE), greedy(LARGE)
    assert plan is not None
    values = program.values(plan)
    again = program.plan(values)
    assert again.ways == plan.ways
    assert program.values(again) == values
    assert sum(value * each for value, each in zip(values, program.worth, strict=True)) == tally(LARGE, plan).worth


def test_a_shelf_with_no_plan_says_which_limit_is_in_the_way() -> None:
    finish = Way("finish", 100, 30, ("working",))
    problem = Problem(
        (Unit("A", (finish,)), Unit("B", (Way("sell", demands=("working",)),))),
        minutes=20,
        demands=(Demand("working"),),
    )
    with pytest.raises(ProblemError, match="no plan keeps all limits\nshelf: there is a plan without its 20 minutes;"):
        solve(problem)
    one = replace(problem, minutes=30, demands=(Demand("working", 1),))
    with pytest.raises(ProblemError, match="there is a plan without demand working, at most 1; raise it"):
        solve(one)
    with pytest.raises(ProblemError, match="no single limit is in the way; give each unit a way that takes nothing"):
        solve(replace(one, minutes=20))
    with pytest.raises(ProblemError, match="without the ways that are ruled out"):
        solve(replace(problem, minutes=None), forbid=[("A", "finish")])


def test_stopped_before_there_is_any_plan() -> None:
    needs = tuple(Need(f"n{n}", (Alternative("a", 1, 1), Alternative("b", 2, 0))) for n in range(3))
    problem = Problem((Unit("A", (Way("finish", 100, 0, needs=needs),)),), minutes=1)
    assert greedy(problem) is None
    stop = Event()
    stop.set()
    with pytest.raises(StoppedError, match="Ended before there was any plan"):
        solve(problem, seconds=0.0, stop=stop)


WAIT = (Way("wait"),)


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (lambda: Problem((Unit("A", ()),)), "unit A: no way to go; give at least one, such as waiting"),
        (lambda: Problem((Unit("A", WAIT), Unit("A", WAIT))), "unit A is there 2 times"),
        (lambda: Problem((Unit("A", WAIT * 2),)), "unit A: way wait is there 2 times"),
        (lambda: Problem((Unit("A", (Way("wait", minutes=-1),)),)), "unit A: wait: minutes -1; not below 0"),
        (lambda: Problem((Unit("A", (Way("wait", demands=("x",)),)),)), "unit A: wait: no demand x"),
        (
            lambda: Problem((Unit("A", WAIT, ("B", "parts")), Unit("B", (Way("parts"),)))),
            "unit A: inside B parts, which is no way of a unit before it",
        ),
        (
            lambda: Problem((Unit("A", (Way("finish", needs=(Need("fan", ()),)),)),)),
            "unit A: finish: fan: no alternative; a need that nothing meets is a way that is not there",
        ),
        (
            lambda: Problem((Unit("A", (Way("a", gives=(Item("x"),)), Way("b", gives=(Item("x", cost=1),)))),)),
            "unit A: b: x is not as another way of this unit gives it; give it a name of its own",
        ),
        (
            lambda: Problem((Unit("A", (Way("a", gives=(Item("x"),)),)),), (Item("x"),)),
            "item or offer x is there 2 times",
        ),
        (
            lambda: Problem((), (Item("x", chance=1.5),)),
            "item x: chance 1.5; it lies between 0 and 1",
        ),
        (lambda: Problem((), (Item("x", outlets=(Outlet("y"),)),)), "item x: no demand y"),
        (
            lambda: Problem((), demands=(Demand("x", steps=(1, 2)),)),
            r"demand x: steps \(1, 2\) rise; each must bring at most what the one before it does",
        ),
        (lambda: Problem((), offers=(Offer("x", "y", frozenset(), 1),)), "offer x: no supplier y"),
    ],
)
def test_a_problem_that_does_not_fit_together(make: object, message: str) -> None:
    with pytest.raises(ProblemError, match=message):
        make()  # type: ignore[operator]


FAN = Met("take", ("C fan",))
GOOD = Plan({"A": "wait", "B": "finish", "C": "parts"}, {("B", "fan"): FAN}, {})


@pytest.mark.parametrize(
    ("plan", "message"),
    [
        (replace(GOOD, ways={"A": "wait", "B": "finish"}), "unit C: goes no way"),
        (replace(GOOD, ways={**GOOD.ways, "A": "fly"}), "unit A: no way fly"),
        (replace(GOOD, ways={**GOOD.ways, "Z": "wait"}), "unit Z: goes a way, but is not there"),
        (replace(GOOD, met={}), "unit B: fan: not met by one of its alternatives in full"),
        (replace(GOOD, met={**GOOD.met, ("A", "fan"): FAN}), "unit A: fan is met, but not needed"),
        (replace(GOOD, ways={**GOOD.ways, "C": "wait"}), "unit B: fan: takes C fan, which is not there"),
        (replace(GOOD, outlets={"C fan": "loose"}), "item C fan: used 2 times"),
        (replace(GOOD, met={}, ways={**GOOD.ways, "B": "wait"}, outlets={"C fan": "working"}), "item C fan: cannot go"),
        (
            Plan({**GOOD.ways, "C": "wait", "B": "wait"}, {}, {"C fan": "loose"}),
            "item C fan: goes to loose, but is not there",
        ),
        (
            Plan(
                dict.fromkeys("ABC", "finish"),
                {
                    ("A", "fan"): Met("take", ("new fan",)),
                    ("B", "fan"): Met("take", ("new fan",)),
                    ("C", "fan"): Met("mend"),
                },
                {},
            ),
            "demand working: 3 go to it, of at most 2",
        ),
    ],
)
def test_a_plan_that_does_not_hold(plan: Plan, message: str) -> None:
    assert not broken(TWO_AND_A_DONOR, GOOD)
    assert message in "\n".join(broken(TWO_AND_A_DONOR, plan))


def test_a_plan_that_takes_too_much_or_comes_too_late() -> None:
    both = {("A", "fan"): Met("take", ("new fan",)), ("B", "fan"): Met("take", ("new fan",))}
    plan = Plan({"A": "finish", "B": "finish", "C": "wait"}, both, {})
    assert broken(replace(TWO_AND_A_DONOR, minutes=49), plan) == [
        "offer new fan: 2 bought, of at most 1",
        "50 minutes of 49",
    ]
    late = Problem(
        (Unit("A", (Way("finish", needs=(*take("fan"), *take("lamp")), within=3),)),),
        (Item("lamp", frozenset(["bulb"])),),
        suppliers=(Supplier("post", 0),),
        offers=(Offer("fan", "post", frozenset(["fan"]), 1, days=4),),
    )
    met = {("A", "fan"): Met("take", ("fan",)), ("A", "lamp"): Met("take", ("lamp",))}
    assert broken(late, Plan({"A": "finish"}, met, {})) == [
        "unit A: fan: fan takes 4 days, and 3 are left",
        "unit A: lamp: takes lamp, which does not serve as lamp",
    ]


def test_the_solver_is_read_only_when_there_is_something_to_solve() -> None:
    code = "import sys, knowngood.money.shelf.explain; sys.exit('highspy' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_nothing_but_the_answer_is_on_standard_output() -> None:
    code = (
        "from knowngood.money.shelf.problem import Problem, Unit, Way; from knowngood.money.shelf.solve import solve;"
        "print(solve(Problem((Unit('A', (Way('wait', 5),)),))).worth)"
    )
    run = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True)
    assert run.stdout == "300\n"
