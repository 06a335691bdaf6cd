"""The bid: an arithmetic example, the control variate, the knapsack, words of listings, and expectations as a type."""

from __future__ import annotations

from itertools import combinations
from math import inf

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from knowngood.errors import QuantityError
from knowngood.handbook.quantities import Money, parse_money
from knowngood.log.events import parse
from knowngood.maps import load
from knowngood.money.bid.drawing import Case
from knowngood.money.bid.listing import heard, lines_of, power_try
from knowngood.money.bid.most import Wish, chance_of_loss, gain, most_to_pay, shade_for, shaded
from knowngood.money.bid.outcome import Outcome
from knowngood.money.bid.question import pooled, value_of
from knowngood.money.bid.ranking import best_set
from knowngood.money.bid.seller import questions
from knowngood.money.expectation import Expectation
from knowngood.plan.terms import Terms


def listed(nets: list[float], chances: list[float]) -> Outcome:
    """Every outcome with its chance."""
    net = np.array(nets)
    return Outcome(net, np.zeros(len(net), bool), np.full(len(net), np.nan), np.array(chances))


def wish(margin: str = "EUR 0", loss: float = 0.99, shade: float = 0.0, inward: str = "EUR 0") -> Wish:
    return Wish(parse_money(margin), loss, shade, parse_money(inward))


WET_HANDHELD = ((0.30, 96, 6, 1.6), (0.30, 96, 28, 3.2), (0.28, 38, 0, 1.3), (0.12, 6, 0, 0.8))
"""Chance, net of the sale, parts, hours of each outcome. All figures are invented."""


@pytest.mark.parametrize(("hour", "expected", "most"), [(24.0, 13.2, 5), (12.0, 36.0, 25)])
def test_the_invented_example_of_a_wet_handheld(hour: float, expected: float, most: int) -> None:
    """(Sum of chance times what is left) less the shade of 15 %, less a way here of 6; in whole units."""
    nets = [sale - parts - hour * hours for _, sale, parts, hours in WET_HANDHELD]
    found = listed(nets, [chance for chance, *_ in WET_HANDHELD])
    assert round(found.net.mean, 1) == expected
    assert most_to_pay(found, wish(shade=0.15, inward="EUR 6")).pay.minor // 100 in (most - 1, most)
    assert round(most_to_pay(found, wish(shade=0.15, inward="EUR 6")).by_margin.value) == most


def test_the_right_to_stop_is_worth_one_more_in_the_invented_example() -> None:
    nets = [sale - parts - 24.0 * hours for _, sale, parts, hours in WET_HANDHELD]
    nets[1] = 38 - 0 - 24.0 * 1.8
    found = listed(nets, [chance for chance, *_ in WET_HANDHELD])
    assert round(nets[1], 1) == -5.2
    assert round(most_to_pay(found, wish(shade=0.15, inward="EUR 6")).by_margin.value) == 6


def test_the_most_to_pay_is_the_lower_of_margin_and_bearable_loss() -> None:
    found = listed([10.0, 50.0, 90.0], [0.25, 0.5, 0.25])
    assert most_to_pay(found, wish(loss=0.25)).pay == parse_money("EUR 50")
    risky = most_to_pay(found, wish(loss=0.24))
    assert (risky.pay, risky.because) == (parse_money("EUR 10"), "loss")
    careful = most_to_pay(found, wish(margin="EUR 12.50", loss=0.25, inward="EUR 3"))
    assert (careful.pay, careful.because) == (parse_money("EUR 34.50"), "margin")
    assert most_to_pay(found, wish(margin="EUR 60")).pay == parse_money("EUR 0")
    assert chance_of_loss(found, wish(), parse_money("EUR 50")).mean == 0.25
    assert chance_of_loss(found, wish(), parse_money("EUR 50.01")).mean == 0.75
    assert chance_of_loss(found, wish(shade=0.2, inward="EUR 10"), parse_money("EUR 30.01")).mean == 0.75
    assert gain(found, wish(shade=0.2, inward="EUR 10"), parse_money("EUR 20")).value == pytest.approx(10.0)


def test_the_shade_falls_with_what_is_known_and_never_makes_a_loss_less() -> None:
    assert [shade_for(said, 10 - said) for said in (0, 5, 10)] == [0.25, 0.175, pytest.approx(0.10)]
    assert shaded(-8.0, 0.25) == -8.0


def test_pairs_take_the_bias_of_the_stand_in_away_and_the_interval_holds_the_truth() -> None:
    """200 times: the mean of 300 units, 40 of the unfinished worked out, against the mean of a million."""
    rng = np.random.default_rng(4)

    def drawn(count: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        over = rng.random(count) < 0.4
        rest = rng.normal(90.0, 30.0, count)
        return np.where(over, rest + 12.0, 50.0), over, np.where(over, rest + rng.normal(0.0, 15.0, count), 50.0)

    _, _, whole = drawn(1_000_000)
    truth, below = whole.mean(), (whole <= 60.0).mean()
    inside, tail, means = 0, 0, []
    for _ in range(200):
        quick, over, full = drawn(300)
        full[~over] = np.nan
        full[np.flatnonzero(over)[40:]] = np.nan
        found = Outcome(quick, over, full)
        assert abs(found.each().mean() - found.net.mean) < 1e-9
        means.append(found.net.mean)
        inside += found.net.low <= truth <= found.net.high
        tail += found.at_most(60.0).low <= below <= found.at_most(60.0).high
    assert abs(np.mean(means) - truth) < 4 * np.std(means) / np.sqrt(200)
    assert abs(quick.mean() - truth) > 3.0  # the stand-in alone is off by 0.4 times 12
    assert 180 <= inside <= 199
    assert 180 <= tail <= 200


def test_a_stand_in_that_is_not_measured_is_said() -> None:
    quick, over = np.array([1.0, 2.0, 3.0]), np.array([False, True, True])
    assert not Outcome(quick, over, np.array([np.nan, np.nan, 5.0])).bias_known
    known = Outcome(quick, over, np.array([np.nan, 4.0, 5.0]))
    assert known.bias_known
    assert known.bias.mean == pytest.approx(-(2.0 + 2.0) / 3.0)
    assert (known.checked, Outcome(quick, over, np.full(3, np.nan)).checked) == (3, 1)


@given(
    st.lists(st.tuples(st.integers(0, 40), st.integers(-9, 30)), max_size=8),
    st.integers(0, 90),
)
def test_the_set_under_a_budget_is_the_best_of_all_sets(offers: list[tuple[int, int]], budget: int) -> None:
    costs, gains = [cost for cost, _ in offers], [float(gain) for _, gain in offers]
    found = best_set(costs, gains, budget)
    sets = (of for size in range(len(offers) + 1) for of in combinations(range(len(offers)), size))
    best = max(sum(gains[one] for one in of) for of in sets if sum(costs[one] for one in of) <= budget)
    assert sum(costs[one] for one in found) <= budget
    assert sum(gains[one] for one in found) == best


@given(st.integers(1, 4), st.integers(1, 5), st.integers(1, 4), st.integers(0, 10**6))
def test_an_answer_is_worth_something_and_no_more_than_knowing_all(
    acts: int, states: int, answers: int, seed: int
) -> None:
    rng = np.random.default_rng(seed)
    prior, payoff = rng.dirichlet(np.ones(states)), rng.normal(0.0, 10.0, (acts, states))
    likelihood = rng.dirichlet(np.ones(answers), states)
    found = value_of(prior, payoff, likelihood)
    by_hand = sum(
        max(float(payoff[act] @ (prior * likelihood[:, one])) for act in range(acts)) for one in range(answers)
    )
    assert found.informed == pytest.approx(by_hand)
    assert -1e-9 <= found.worth <= value_of(prior, payoff, np.eye(states)).worth + 1e-9


def test_answers_that_few_drawn_units_speak_for_count_together() -> None:
    likelihood = np.array([[1.0, 0.0, 0.0]] * 60 + [[0.0, 1.0, 0.0]] * 3 + [[0.0, 0.0, 1.0]] * 37)
    found = pooled(np.full(100, 0.01), likelihood, 20.0)
    assert found.sum(axis=0).tolist() == [60.0, 0.0, 37.0, 3.0]


# ---- words of a listing ---------------------------------------------------------------------------------------------

PROJECTOR = load("ceiling-projector")


@pytest.mark.parametrize(
    ("words", "line"),
    [
        ("No power", "tried standby-light fails"),
        ("does not switch on", "tried standby-light fails"),
        ("has power", "tried standby-light works"),
        ("small drop", "past dropped"),
        ("got slightly wet", "past wet"),
        ("worked when stored", "past aged"),
        ("only needs a fuse", "past opened-before"),
        ("repaired by a friend", "past opened-before"),
        ("lightning", "past surged"),
        ("no picture", "tried picture fails"),
        ("sound works", "tried sound works"),
        ("cracked top cover", "saw top-cover cracked"),
        ("remote control missing", "saw remote-control missing"),
    ],
)
def test_words_of_a_listing_stand_for_lines(words: str, line: str) -> None:
    assert lines_of(heard(PROJECTOR, f"{words}, {words}")) == (line,)


@pytest.mark.parametrize("words", ["untested", "never opened", "not wet", "parts complete"])
def test_words_that_count_for_nothing_say_so(words: str) -> None:
    [found] = heard(PROJECTOR, words)
    assert not found.line
    assert "nothing" in found.hear


def test_what_is_not_understood_is_said_and_not_guessed() -> None:
    found = heard(PROJECTOR, "lovely condition and no power; fan")
    assert [(one.words, one.line, bool(one.hear)) for one in found] == [
        ("lovely condition", "", False),
        ("no power", "tried standby-light fails", True),
        ("fan", "", False),
    ]


def test_power_is_shown_by_the_first_thing_that_lights_or_starts() -> None:
    maps = ("ceiling-projector", "some-mains-device", "some-battery-device")
    assert [power_try(load(name)) for name in maps] == ["standby-light", "standby-light", "starts"]


# ---- drawing --------------------------------------------------------------------------------------------------------

BATTERY = load("some-battery-device")
TERMS = Terms(currency="EUR", rate=0.4, working=150.0, as_is=20.0, parts=13.0, come_back=30.0)


def case(*lines: str) -> Case:
    return Case(BATTERY, (parse("offered some-battery-device at EUR 9 past dropped"), *map(parse, lines)), TERMS)


def test_a_wet_unit_is_not_to_be_tried_by_its_seller() -> None:
    assert any(one.kind == "try" for one in questions(BATTERY, case().told))
    wet = questions(BATTERY, case("past wet").told)
    assert not any(one.kind == "try" for one in wet)
    assert any(one.kind == "photo" for one in wet)


# ---- expectations ---------------------------------------------------------------------------------------------------


def test_an_expectation_becomes_an_amount_only_by_rounding_down() -> None:
    assert Expectation("EUR", 12.349).payable_at_most() == Money("EUR", 1234)
    assert Expectation("EUR", 0.1 + 0.2).payable_at_most() == Money("EUR", 30)
    assert Expectation("JPY", 12.9).payable_at_most() == Money("JPY", 12)
    assert Expectation("EUR", -3.0).payable_at_most() == Money("EUR", 0)
    assert not isinstance(Expectation("EUR", 1.0), Money)


def test_errors_of_expectations_add_as_independent_ones() -> None:
    found = Expectation("EUR", 10.0, 3.0) - Expectation("EUR", 4.0, 4.0) + Money("EUR", 100)
    assert (found.value, found.error) == (7.0, 5.0)
    assert found.times(-2.0) == Expectation("EUR", -14.0, 10.0)


def test_two_currencies_are_not_added_and_infinity_is_not_paid() -> None:
    with pytest.raises(QuantityError, match=r"EUR and USD: two currencies cannot be added. Convert one of them."):
        Expectation("EUR", 1.0) + Money("USD", 100)
    with pytest.raises(QuantityError, match=r"An expectation of EUR inf is no amount that could be paid."):
        Expectation("EUR", inf).payable_at_most()
