"""What comes back, and what more testing would buy, against every course of events."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from oracle import Joint
from small import bench, log
from unit import UNIT

from knowngood.belief.believe import believe
from knowngood.proof.returns import CHASE_MINUTES, Warranty, extras, left_intermittent, reserve, soaks

WARRANTY = Warranty(days=90, carriage=10.0, hour=12.0, price_loss=100.0)
SOAKED = replace(UNIT, tests={name: replace(test, runs=10.0) for name, test in UNIT.tests.items()})
"""Every test of it takes ten minutes, so that a soak of ten is the same test again."""


@pytest.mark.parametrize("name", ["powers", "sound", "lamp"])
def test_a_soak_is_worth_what_the_same_test_made_again_would_find(name: str) -> None:
    if name == "powers":
        on = replace(SOAKED, functions={**SOAKED.functions, name: replace(SOAKED.functions[name], wanted=True)})
    else:
        on = SOAKED
    passed = f"tried {name} works"
    told = log(on, passed)
    later = believe(on, told, asked=soaks(on))
    (extra,) = (one for one in extras(later, told.state, bench(), WARRANTY) if one.test.id == name)
    once, twice = (Joint(on, log(on, *lines)) for lines in ((passed,), (passed, passed)))
    passes = np.exp(twice.log_evidence - once.log_evidence)
    assert extra.soak
    assert extra.p_fails == pytest.approx(1.0 - passes)
    assert extra.p_fails > 0.001
    assert extra.known_good == pytest.approx(twice.known_good())
    caught = (1.0 - once.known_good()) - passes * (1.0 - twice.known_good())
    assert extra.caught == pytest.approx(caught)
    assert extra.saves == pytest.approx(caught * 132.0)
    assert extra.costs == pytest.approx(bench().rate * extra.test.minutes)


def test_a_test_that_was_not_made_is_worth_what_it_would_catch_less_its_minutes_and_false_alarms() -> None:
    told = log(UNIT, "tried lamp works")
    later = believe(UNIT, told, asked=soaks(UNIT))
    (extra,) = (one for one in extras(later, told.state, bench(), WARRANTY) if one.test.id == "board-test")
    now, then = Joint(UNIT, told), Joint(UNIT, log(UNIT, "tried lamp works", "found board-test ok"))
    passes = np.exp(then.log_evidence - now.log_evidence)
    assert extra.p_fails == pytest.approx(1.0 - passes)
    assert extra.known_good == pytest.approx(then.known_good())
    false_alarm = now.known_good() - passes * then.known_good()
    assert extra.false_alarm == pytest.approx(false_alarm)
    assert extra.costs == pytest.approx(bench().rate * (3.0 + CHASE_MINUTES * false_alarm))
    assert extra.buys == extra.saves - extra.costs


def test_the_reserve_is_two_carriages_an_hour_and_the_loss_of_price_for_each_that_comes_back() -> None:
    kept = reserve(0.95, WARRANTY)
    assert kept.per_return == 132.0
    assert kept.money == pytest.approx(0.05 * 132.0)
    assert (kept.in_a_lot.expected, kept.in_a_lot.low, kept.in_a_lot.high) == (pytest.approx(5.0), 1, 10)


def test_faults_that_come_and_go_are_named_with_the_soak_that_shows_them() -> None:
    told = log(UNIT, "tried lamp works")
    found = left_intermittent(believe(UNIT, told))
    assert {(one.part, one.mode) for one in found} == {("lead", "poor-contact"), ("inner-plug", "poor-contact")}
    assert found[0].part == "lead"
    assert [one.soak for one in found] == pytest.approx([3.0 * 6.0] * 2, rel=0.01)
