"""What going on is worth: what must hold whatever the numbers are."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import prod

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from knowngood.plan.value import LONGEST, Access, Array, Outlook, _solved, found_out, one_by_one

CHANCE = st.one_of(st.sampled_from([0.0, 1.0]), st.floats(1e-3, 1.0))
PRICE = st.floats(0.5, 80.0)


@dataclass(frozen=True)
class Case:
    """One belief with its outlook."""

    outlook: Outlook
    blocks: Array
    good: Array

    def plan(self, **changes: object) -> float:
        return float(one_by_one(replace(self.outlook, **changes), self.blocks, self.good).worth[0])  # type: ignore[arg-type]

    def found(self, **changes: object) -> float:
        return float(found_out(replace(self.outlook, **changes), self.blocks, self.good).worth[0])  # type: ignore[arg-type]


@st.composite
def cases(draw: st.DrawFn, least: int = 1) -> Case:
    count = draw(st.integers(least, 6))

    def row(of: st.SearchStrategy[float]) -> Array:
        return np.array(draw(st.lists(of, min_size=count, max_size=count)))

    cost, cures = row(st.one_of(PRICE, st.just(np.inf))), row(CHANCE)
    blocks, no_unknown = row(CHANCE), draw(st.floats(0.5, 1.0))
    works = no_unknown * float(np.prod(1 - blocks)) * draw(st.floats(0.0, 1.0))
    stop = draw(st.floats(0.0, 40.0))
    access = None
    if draw(st.booleans()):
        behind = np.array(draw(st.lists(st.sampled_from([0.0, 1.0]), min_size=2 * count, max_size=2 * count)))
        access = Access(behind.reshape(count, 2), np.array([draw(PRICE), draw(PRICE)]))
    check, success, bit = draw(st.floats(0.0, 10.0)), stop + draw(st.floats(0.0, 300.0)), draw(st.floats(0.0, 3.0))
    return Case(Outlook(cost, cures, no_unknown, check, success, stop, bit, access), blocks[None], np.array([works]))


@given(cases())
def test_going_on_is_never_worth_less_than_stopping_nor_more_than_a_unit_that_works(case: Case) -> None:
    for worth in (case.plan(), case.found()):
        assert case.outlook.stop <= worth <= case.outlook.success + 1e-9


@given(cases(), st.floats(0.0, 100.0))
def test_more_money_for_a_unit_that_works_never_lowers_it(case: Case, more: float) -> None:
    assert case.plan(success=case.outlook.success + more) >= case.plan() - 1e-9
    assert case.found(success=case.outlook.success + more) >= case.found() - 1e-9


@given(cases(), st.floats(0.0, 50.0))
def test_a_better_way_out_never_lowers_it(case: Case, more: float) -> None:
    assert case.plan(stop=case.outlook.stop + more) >= case.plan() - 1e-9


@given(cases(), st.floats(0.1, 20.0))
def test_money_in_another_unit_is_worth_as_much_of_it(case: Case, factor: float) -> None:
    look = case.outlook
    access = None if look.access is None else Access(look.access.behind, look.access.cost * factor)
    scaled = {name: getattr(look, name) * factor for name in ("cost", "check", "success", "stop", "bit")}
    assert case.plan(**scaled, access=access) == pytest.approx(factor * case.plan(), rel=1e-9, abs=1e-9)
    assert case.found(**scaled, access=access) == pytest.approx(factor * case.found(), rel=1e-9, abs=1e-9)


@given(cases(), st.integers(0, 5))
def test_a_remedy_that_cures_nothing_is_worth_what_none_is(case: Case, which: int) -> None:
    index = which % len(case.outlook.cost)
    cures, none = case.outlook.cures.copy(), case.outlook.cost.copy()
    cures[index], none[index] = 0.0, np.inf
    with_it, without = {"cures": cures}, {"cures": cures, "cost": none}
    assert case.plan(**with_it) == pytest.approx(case.plan(**without), rel=1e-9, abs=1e-9)
    assert case.found(**with_it) == pytest.approx(case.found(**without), rel=1e-9, abs=1e-9)


@given(cases())
def test_a_unit_that_surely_works_is_worth_its_price_less_the_check(case: Case) -> None:
    sure = Case(case.outlook, np.zeros_like(case.blocks), np.array([1.0]))
    expected = max(case.outlook.stop, case.outlook.success - case.outlook.check)
    assert sure.plan() == pytest.approx(expected, rel=1e-9, abs=1e-9)


@given(cases())
def test_a_fault_that_nothing_can_be_done_about_stays(case: Case) -> None:
    """However much is mended beside it, the unit works at most with the chance that it is not there."""
    hopeless = Case(
        replace(
            case.outlook,
            cost=np.append(case.outlook.cost, np.inf),
            cures=np.append(case.outlook.cures, 0.0),
            access=None,
        ),
        np.append(case.blocks, [[0.9]], axis=1),
        case.good * 0.1,
    )
    look = case.outlook
    limit = max(look.stop, 0.1 * look.success + 0.9 * look.stop)
    assert hopeless.plan() <= limit + 1e-9
    assert hopeless.found() <= limit + 1e-9


def test_remedies_beyond_those_looked_ahead_do_not_help_by_themselves() -> None:
    many = LONGEST + 8
    look = Outlook(np.full(many, 0.01), np.ones(many), 1.0, 0.0, 100.0, 0.0, 0.0)
    blocks = np.full((1, many), 0.2)
    worth = float(one_by_one(look, blocks, np.array([0.8**many])).worth[0])
    assert worth <= 100.0 * 0.8**8 + 1e-9


@given(cases())
def test_the_chance_to_be_solved_rises_with_each_remedy(case: Case) -> None:
    chance = np.clip(case.blocks, 0, 1 - 1e-12)
    solved = _solved(np.log1p(-chance), np.log1p(-chance * (1 - case.outlook.cures)), case.good, np.array([1.0]))
    assert (np.diff(solved, axis=1) >= -1e-12).all()
    assert solved[0, 0] == pytest.approx(case.good[0])
    assert (solved <= 1 + 1e-12).all()


def test_one_part_by_hand() -> None:
    look = Outlook(np.array([10.0]), np.array([0.5]), 1.0, 2.0, 100.0, 20.0, 1.0)
    blocks, good = np.array([[0.4]]), np.array([0.6])
    mended = 0.5 * 100 + 0.5 * 20 - 10 - 2  # if it does not work, it is that part
    assert one_by_one(look, blocks, good).worth[0] == pytest.approx(0.6 * 100 + 0.4 * mended - 2)
    first = one_by_one(look, blocks, good, np.array([0])).worth[0]  # mended unseen
    assert first == pytest.approx(0.8 * 100 + 0.2 * 20 - 12)  # it works if it did before, or if it was mended


def test_a_step_is_paid_once_for_all_behind_it() -> None:
    cost, cures = np.array([1.0, 1.0]), np.ones(2)
    shut = Access(np.ones((2, 1)), np.array([8.0]))
    plain = Outlook(cost, cures, 1.0, 0.0, 1000.0, 0.0, 0.0)
    blocks, good = np.array([[0.5, 0.5]]), np.array([0.25])
    free = one_by_one(plain, blocks, good).worth[0]
    paid = one_by_one(replace(plain, access=shut), blocks, good).worth[0]
    assert free - paid == pytest.approx(0.75 * 8.0)  # wherever it does not work at once


def test_rows_are_judged_each_by_itself() -> None:
    look = Outlook(np.array([5.0, 9.0]), np.array([0.9, 0.6]), 0.9, 1.0, 120.0, 10.0, 1.0)
    blocks, good = np.array([[0.1, 0.2], [0.7, 0.0], [0.0, 0.9]]), np.array([0.6, 0.2, 0.05])
    together = one_by_one(look, blocks, good).worth
    alone = [one_by_one(look, blocks[row : row + 1], good[row : row + 1]).worth[0] for row in range(3)]
    assert together == pytest.approx(alone)
    assert prod(blocks.shape) == 6


@given(cases(), st.floats(0.1, 20.0))
def test_spread_is_none_where_it_stops_and_grows_with_the_money(case: Case, factor: float) -> None:
    look = case.outlook
    access = None if look.access is None else Access(look.access.behind, look.access.cost * factor)
    money = {name: getattr(look, name) * factor for name in ("cost", "check", "success", "stop", "bit")}
    dear = replace(look, **money, access=access)
    for plain, scaled in (
        (one_by_one(look, case.blocks, case.good), one_by_one(dear, case.blocks, case.good)),
        (found_out(look, case.blocks, case.good), found_out(dear, case.blocks, case.good)),
    ):
        assert plain.variance[0] >= 0.0
        assert plain.worth[0] > look.stop or plain.variance[0] == 0.0
        if plain.worth[0] > look.stop + 1e-6:
            assert scaled.variance[0] == pytest.approx(factor**2 * plain.variance[0], rel=1e-6, abs=1e-9)


def test_spread_of_a_check_and_one_sure_remedy() -> None:
    """Half of the units bring 98, the other half 98 less a remedy of 12 and another check of 2."""
    look = Outlook(np.array([12.0]), np.ones(1), 1.0, 2.0, 100.0, 5.0, 0.0)
    plan = one_by_one(look, np.array([[0.5]]), np.array([0.5]))
    assert plan.worth[0] == pytest.approx(0.5 * 98 + 0.5 * 84)
    assert np.sqrt(plan.variance[0]) == pytest.approx(0.5 * (12 + 2))


def test_spread_of_a_part_that_nothing_mends() -> None:
    """A fifth of the units end as they are: 100 or 5, less nothing."""
    look = Outlook(np.array([np.inf]), np.zeros(1), 1.0, 0.0, 100.0, 5.0, 0.0)
    for told in (
        one_by_one(look, np.array([[0.2]]), np.array([0.8])),
        found_out(look, np.array([[0.2]]), np.array([0.8])),
    ):
        assert told.worth[0] == pytest.approx(0.8 * 100 + 0.2 * 5)
        assert np.sqrt(told.variance[0]) == pytest.approx(0.4 * 95)


def test_a_second_remedy_of_a_part_by_hand() -> None:
    """Reseated for 1 (cures 30 %), else replaced for 40 (cures 90 % of the rest): checks of 2, works 100, stop 10."""
    look = Outlook(
        np.array([1.0]), np.array([0.3]), 1.0, 2.0, 100.0, 10.0, 0.0, None, np.array([40.0]), np.array([0.9])
    )
    blocks, good = np.array([[1.0 - 1e-12]]), np.array([0.0])
    replaced = 0.9 * 100 + 0.1 * 10 - 42
    reseated = 0.3 * 100 + 0.7 * replaced - 3
    assert one_by_one(look, blocks, good, np.array([0])).worth[0] == pytest.approx(reseated)
    row = look.series()
    assert (row.cost[0], row.tries[0], row.cures[0]) == pytest.approx((1 + 0.7 * 40, 1.7, 0.3 + 0.7 * 0.9))
    found = found_out(look, blocks, good).worth[0]
    assert found == pytest.approx(0.93 * 100 + 0.07 * 10 - (1 + 0.7 * 40) - 1.7 * 2)
    nothing = replace(look, then_cost=np.array([np.inf]), then_cures=np.array([0.0]))
    assert one_by_one(nothing, blocks, good, np.array([0])).worth[0] == pytest.approx(0.3 * 100 + 0.7 * 10 - 3)


def test_cleared_parts_are_no_sign_that_it_works_where_it_is_known_to_fail() -> None:
    """Ten parts cleared to 1 %, a function that fails, and as likely as not something unknown: little to be had."""
    look = Outlook(np.full(10, 5.0), np.ones(10), 0.5, 1.0, 100.0, 0.0, 0.0)
    blocks = np.full((1, 10), 0.01)
    works = 0.5 * 0.99**10
    within = (0.5 - works) / (1.0 - works)
    assert found_out(look, blocks, np.array([0.0])).worth[0] == pytest.approx(within * 100 - 0.1 * 6)
    assert found_out(look, blocks, np.array([works])).worth[0] == pytest.approx(0.5 * 100 - 0.1 * 6)
