"""The value of information beside two published examples, solved by the function that ranks questions before a bid."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest

from knowngood.money.bid.question import value_of


def test_the_oil_wildcatter() -> None:
    """H. Raiffa, Decision Analysis, 1968; P. Shenoy, Operations Research 40, 1992; likelihoods of the seismic test:
    SAS/OR User's Guide, the DTREE procedure, table 7.2. Printed or recomputed from these by hand: all below."""
    prior = np.array([0.5, 0.3, 0.2])  # dry, wet, soaking
    payoff = np.array([[0.0, 0.0, 0.0], [-70.0, 50.0, 200.0]])  # leave, drill
    test = np.array([[0.6, 0.3, 0.1], [0.3, 0.4, 0.3], [0.1, 0.4, 0.5]])  # none, open, closed structure
    found = value_of(prior, payoff, test)
    assert found.blind == pytest.approx(20.0)
    assert found.chances == pytest.approx([0.41, 0.35, 0.24])
    assert found.acts[1] == pytest.approx([-30.487804878049, 32.857142857143, 87.5], abs=1e-9)
    assert found.informed == pytest.approx(32.5)
    assert found.worth == pytest.approx(12.5)
    assert found.informed - 10.0 == pytest.approx(22.5)  # the test costs 10
    perfect = value_of(prior, payoff, np.eye(3))
    assert (perfect.informed, perfect.worth) == pytest.approx((55.0, 35.0))
    posterior = prior[:, None] * test / found.chances
    exact = [[(30, 41), (3, 7), (5, 24)], [(9, 41), (12, 35), (3, 8)], [(2, 41), (8, 35), (5, 12)]]
    assert posterior == pytest.approx(np.array([[float(Fraction(*one)) for one in row] for row in exact]))


def test_the_used_car_buyer() -> None:
    """R. A. Howard, The used car buyer, in Readings in Decision Analysis, 1977, as worked in the documentation of
    DecisionProgramming.jl. A lemon takes repairs of 200, a peach 40; the guarantee costs 60 and pays half, or all of
    repairs over 100; the test is perfect and costs 25."""
    price, worth, guarantee, repairs = 1000.0, 1100.0, 60.0, np.array([200.0, 40.0])  # lemon, peach
    covered = np.where(repairs > 100.0, 0.0, repairs / 2)
    buy, insured = worth - price - repairs, worth - price - guarantee - covered
    prior, payoff = np.array([0.2, 0.8]), np.array([[0.0, 0.0], buy, insured])
    assert buy.tolist() == [-100.0, 60.0]
    assert insured.tolist() == [40.0, 20.0]
    found = value_of(prior, payoff, np.eye(2))
    assert found.blind == pytest.approx(28.0)
    assert payoff @ prior == pytest.approx([0.0, 28.0, 24.0])
    assert found.informed == pytest.approx(56.0)
    assert found.worth == pytest.approx(28.0)
    assert found.acts.argmax(axis=0).tolist() == [2, 1]  # a lemon with the guarantee, a peach without
    left = found.acts.max(axis=0) - 25.0
    assert left.tolist() == [15.0, 35.0]
    mean = float(prior @ left)
    assert (mean, float(np.sqrt(prior @ (left - mean) ** 2))) == pytest.approx((31.0, 8.0))
