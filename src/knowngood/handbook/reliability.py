"""How many tests prove it, how long to soak an intermittent fault, how many of those sold come back?"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq
from scipy.special import betaincinv, betaln, chdtri, gammainc, gammaln, xlog1py, xlogy

from knowngood.errors import RangeError
from knowngood.handbook import intervals
from knowngood.handbook.formula import formula

# ---- what tests prove ---------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Demonstration:
    trials: int
    trials_with_prior: int


@formula
def trials_without_failure(reliability: float, confidence: float = 0.95) -> Demonstration:
    """How many trials without a failure show a reliability.

    Two conventions are in use: the success run, and the same with a uniform prior, which counts one trial less.

    Formula: n = ln(1 - C) / ln R, rounded up; with a uniform prior n + 1 stands for n
    Args:
        reliability: to be shown, the chance that a trial succeeds (1, above 0 to 0.999999)
        confidence: with which it is shown (1, above 0 to 0.999999)
    Gives:
        trials: without a failure, by the success run (1)
        trials_with_prior: the same with a uniform prior (1)
    Source: documentation of the Python package reliability, sample size for no failures; uniform prior: textbooks

    >>> trials_without_failure(reliability=0.90, confidence=0.95)
    Demonstration(trials=29, trials_with_prior=28)
    """
    exact = math.log(1.0 - confidence) / math.log(reliability)
    trials = max(1, math.ceil(exact - 1e-9))
    return Demonstration(trials, max(0, math.ceil(exact - 1.0 - 1e-9)))


@dataclass(frozen=True)
class Shown:
    reliability: float
    with_prior: float | None


@formula
def reliability_shown(trials: int, failures: int = 0, confidence: float = 0.95) -> Shown:
    """The least reliability that a run of trials shows, some of them perhaps failed.

    Formula: R such that the chance of so few failures is 1 - C; without any, R = (1 - C)^(1 / n)
    Args:
        trials: made in all, independent of each other (1, 1 to 1e7)
        failures: among them (1, 0 to 1e7)
        confidence: with which it is shown (1, above 0 to 0.999999)
    Gives:
        reliability: lower bound, by the success run, exact binomial (1)
        with_prior: the same with a uniform prior, where none failed (1)
    Source: documentation of the Python package reliability, sample size for no failures; exact binomial bound of
        Clopper and Pearson (1934); uniform prior: textbooks

    >>> round(reliability_shown(trials=22, confidence=0.90).reliability, 4)
    0.9006
    """
    if failures > trials:
        raise RangeError(f"reliability-shown: {failures} failures in {trials} trials.")
    if failures == trials:
        return Shown(0.0, None)
    bound = float(betaincinv(trials - failures, failures + 1, 1.0 - confidence))
    return Shown(bound, (1.0 - confidence) ** (1.0 / (trials + 1)) if failures == 0 else None)


@formula
def time_between_failures_shown(time: float, failures: int = 0, confidence: float = 0.95) -> float:
    """The least mean time between failures that a test of some length shows, stopped by the clock.

    A soak finds weak units; it proves no life. Constant failure rate assumed.

    Formula: 2 T / chi^2(C; 2 r + 2)
    Args:
        time: under test, of all units together (s, above 0)
        failures: seen in it (1, 0 to 1e6)
        confidence: with which it is shown (1, above 0 to 0.999999)
    Gives:
        time_between_failures: at least (s)
    Source: NIST/SEMATECH e-Handbook of Statistical Methods, 8.4.5.1

    >>> round(time_between_failures_shown(time=24 * 3600.0, confidence=0.90) / 3600.0, 1)
    10.4
    """
    return 2.0 * time / float(chdtri(2 * failures + 2, 1.0 - confidence))


@formula
def units_for_life(reliability: float, lifetimes: float = 1.0, shape: float = 1.0, confidence: float = 0.95) -> int:
    """How many units, each tested for some lifetimes without failure, show a reliability at one lifetime.

    Formula: n = ln(1 - C) / (m^beta ln R), rounded up
    Args:
        reliability: to be shown at one lifetime (1, above 0 to 0.999999)
        lifetimes: that each unit is tested for (1, above 0 to 1000)
        shape: Weibull shape beta, 1 for failures by chance, above 1 for wear (1, 0.1 to 20)
        confidence: with which it is shown (1, above 0 to 0.999999)
    Gives:
        units: none of which may fail (1)
    Source: documentation of the Python package reliability, sample size for no failures

    >>> units_for_life(reliability=0.90, lifetimes=2.0, shape=2.0)
    8
    """
    exact = math.log(1.0 - confidence) / (math.pow(lifetimes, shape) * math.log(reliability))
    return max(1, math.ceil(exact - 1e-9))


# ---- a fault that comes and goes ----------------------------------------------------------------------------------


@formula
def soak_cycles(shows_in: float, confidence: float = 0.95) -> int:
    """How many clean cycles it takes before an intermittent fault may be called gone.

    Cycles are to be alike and independent: cover what brings it on (warmth, cold, flexing, load).

    Formula: n = ln(1 - C) / ln(1 - p), rounded up
    Args:
        shows_in: share of cycles in which the fault shows when it is there (1, above 0 to 0.999999)
        confidence: chance to catch it (1, above 0 to 0.999999)
    Gives:
        cycles: all of them clean (1)
    Source: a chance of (1 - p)^n to miss it (derived)

    >>> soak_cycles(shows_in=0.1)
    29
    """
    return max(1, math.ceil(math.log(1.0 - confidence) / math.log1p(-shows_in) - 1e-9))


@dataclass(frozen=True)
class Soak:
    cycles: int
    time: float


@formula
def soak_time(shows_every: float, cycle: float, confidence: float = 0.95) -> Soak:
    """How long to soak a unit whose fault comes about once in some time.

    The fault is taken to come by chance, at a constant rate, and to be seen whenever it comes.

    Formula: T = -ln(1 - C) t; n = T / cycle, rounded up
    Args:
        shows_every: mean time under power from one showing to the next (s, above 0)
        cycle: length of one cycle of the soak (s, above 0)
        confidence: chance to catch it (1, above 0 to 0.999999)
    Gives:
        time: to run clean (s)
        cycles: that this takes (1)
    Source: exponential distribution (derived); NIST/SEMATECH e-Handbook, 8.1.6.1

    >>> round(soak_time(shows_every=3600.0, cycle=1800.0).time / 3600.0, 3)
    2.996
    """
    time = -math.log(1.0 - confidence) * shows_every
    return Soak(math.ceil(time / cycle - 1e-9), time)


@formula
def ruled_out(cycles: int, confidence: float = 0.95) -> float:
    """The honest statement after clean cycles: a fault that shows in more than this share of them is ruled out.

    Formula: p = 1 - (1 - C)^(1 / n)
    Args:
        cycles: all of them clean (1, 1 to 1e7)
        confidence: of the statement (1, above 0 to 0.999999)
    Gives:
        shows_in: a fault that shows in more cycles than this share is ruled out (1)
    Source: a chance of (1 - p)^n to miss it (derived)

    >>> round(ruled_out(cycles=29), 4)
    0.0981
    """
    return -math.expm1(math.log(1.0 - confidence) / cycles)


@formula
def fault_left(suspected: float, caught: float) -> float:
    """The chance that a fault is still there after a clean test.

    Formula: p0 (1 - d) / (p0 (1 - d) + 1 - p0)
    Args:
        suspected: chance that it is there, before the test (1, 0 to 0.999999)
        caught: chance that the test shows it if it is there (1, 0 to 1)
    Gives:
        fault_left: chance that it is there after all (1)
    Source: Bayes' rule

    >>> round(fault_left(suspected=0.3, caught=0.8), 3)
    0.079
    """
    missed = suspected * (1.0 - caught)
    return missed / (missed + 1.0 - suspected)


# ---- what comes back ----------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Returns:
    expected: float
    low: int
    high: int


@formula
def returns_by_chance(units: int, chance: float) -> Returns:
    """How many of some units come back, if each does with a known chance.

    Formula: n p; the ends leave at most 2.5 % of a binomial outside on each side
    Args:
        units: sold (1, 1 to 1e5)
        chance: that one comes back (1, 0 to 1)
    Gives:
        expected: mean number of returns (1)
        low: end of the 95 % interval (1)
        high: end of the 95 % interval (1)
    Source: binomial distribution (textbooks)

    >>> returns_by_chance(units=40, chance=0.05)
    Returns(expected=2.0, low=0, high=5)
    """
    count = np.arange(units + 1)
    log_mass = _choose(units, count) + xlogy(count, chance) + xlog1py(units - count, -chance)
    return _returns(units * chance, log_mass)


@dataclass(frozen=True)
class Record:
    expected: float
    low: int
    high: int
    share: float
    share_low: float
    share_high: float


@formula
def returns_by_record(sold: int, returned: int, units: int) -> Record:
    """How many of the next units come back, judged by those sold before.

    The next lot is taken to be like the last one, and the last one to have had its time to come back. The interval of
    the count holds both what the record leaves open and chance.

    Formula: p = r / n; count: beta-binomial from the Jeffreys prior, Beta(r + 1/2, n - r + 1/2)
    Args:
        sold: units sold before (1, 1 to 1e6)
        returned: of these (1, 0 to 1e6)
        units: to be sold now (1, 1 to 1e5)
    Gives:
        expected: mean number of returns (1)
        low: end of the 95 % interval of the number (1)
        high: end of the 95 % interval of the number (1)
        share: that came back before (1)
        share_low: end of its 95 % interval by the score method (1)
        share_high: end of its 95 % interval by the score method (1)
    Source: score interval: NIST/SEMATECH e-Handbook 7.2.4.1; beta-binomial with the Jeffreys prior: textbooks

    >>> returns_by_record(sold=60, returned=3, units=40).high
    7
    """
    if returned > sold:
        raise RangeError(f"returns-by-record: {returned} returned of {sold} sold.")
    share = intervals.of_share(returned, sold)
    a, b = returned + 0.5, sold - returned + 0.5
    count = np.arange(units + 1)
    log_mass = _choose(units, count) + betaln(count + a, units - count + b) - betaln(a, b)
    found = _returns(units * a / (a + b), log_mass)
    return Record(found.expected, found.low, found.high, share.mean, share.low, share.high)


@dataclass(frozen=True)
class Replacing:
    at: float | None
    cost_rate: float
    cost_rate_if_never: float


@formula
def age_replacement(scale: float, shape: float, planned: float, failed: float) -> Replacing:
    """At which age a wearing part is best replaced before it fails: a lamp, a fan, a belt.

    Formula: the t at which h(t) times the integral of R from 0 to t, less F(t), is planned / (failed - planned);
        R = exp(-(t / scale)^shape), F = 1 - R, h the failure rate; cost rate (planned R + failed F) / integral of R
    Args:
        scale: age at which 63 % have failed (s, above 0 to 1e10)
        shape: of the Weibull distribution; above 1 it wears out (1, 0.2 to 20)
        planned: cost of a replacement that was planned, in any one currency (1, above 0 to 1e9)
        failed: cost of one after a failure, in the same currency (1, above 0 to 1e9)
    Gives:
        at: best age; none where it is best to wait until it fails (s)
        cost_rate: cost in the long run with it (1/s)
        cost_rate_if_never: the same, replaced only when failed (1/s)
    Source: age replacement of Barlow and Hunter, Operations Research 8 (1960) 90-100 (from memory)

    >>> age_replacement(scale=1000, shape=1, planned=1, failed=5)
    Replacing(at=None, cost_rate=0.005, cost_rate_if_never=0.005)
    """
    never = failed / (scale * math.gamma(1.0 + 1.0 / shape))
    if shape <= 1.0 or failed <= planned:
        return Replacing(None, never, never)

    def alive(age: float) -> float:
        """The integral of R up to an age, both as shares of the scale."""
        return float(math.gamma(1.0 + 1.0 / shape) * gammainc(1.0 / shape, age**shape))

    def gain(age: float) -> float:
        rate: float = shape * age ** (shape - 1.0)
        lost: float = -math.expm1(-(age**shape))
        return rate * alive(age) - lost - planned / (failed - planned)

    beyond = 1.0
    while gain(beyond) < 0.0:
        beyond *= 2.0
        if beyond > LATEST:  # all have failed long before
            return Replacing(None, never, never)
    best = float(brentq(gain, 0.0, beyond, xtol=1e-15, rtol=1e-14))
    return Replacing(best * scale, (failed - planned) * shape * best ** (shape - 1.0) / scale, never)


LATEST = 1e6
"""Ages beyond so many scales are not looked at: hardly anything gets there."""


def _choose(units: int, count: np.ndarray) -> np.ndarray:
    ways: np.ndarray = gammaln(units + 1) - gammaln(count + 1) - gammaln(units - count + 1)
    return ways


def _returns(expected: float, log_mass: np.ndarray) -> Returns:
    below = np.cumsum(np.exp(log_mass))
    tail = (1.0 - intervals.LEVEL) / 2.0
    low, high = (min(int(np.searchsorted(below, end)), len(below) - 1) for end in (tail, 1.0 - tail))
    return Returns(expected, low, high)
