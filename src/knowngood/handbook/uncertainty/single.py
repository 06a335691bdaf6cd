"""One reading: how far off the meter may be, and whether the value is inside its limits."""

from __future__ import annotations

import math
from dataclasses import dataclass

from scipy.special import ndtr

from knowngood.errors import RangeError
from knowngood.handbook.formula import formula
from knowngood.handbook.quantities import Expected
from knowngood.handbook.readings import Range, conformance, conformity_of, guarded


@dataclass(frozen=True)
class Accuracy:
    """What a meter's specification makes of a reading, in its unit."""

    limit: float
    low: float
    high: float
    standard: float
    expanded: float


@formula
def meter_accuracy(reading: float, percent: float, counts: int, digit: float) -> Accuracy:
    """How far off a meter may be by its specification, "0.5 % + 3".

    The limits count as a rectangular distribution. A meter out of calibration, a range other than that of the
    specification and what the meter does to the circuit are left out.

    Formula: a = p |x| + n d; u = a / sqrt(3); U = 2 u
    Args:
        reading: on the display (same, any)
        percent: of the reading, as '0.5 %' (share, 0 to 0.2)
        counts: of the last digit (1, 0 to 1000)
        digit: what the last digit is worth, as '1 mV' (same, above 0)
    Gives:
        limit: that it is off at most (same)
        low: true value at least (same)
        high: true value at most (same)
        standard: uncertainty, one standard deviation (same)
        expanded: uncertainty, k = 2 (same)
    Source: meter makers' notes; JCGM 100:2008 (GUM), 4.3.7 (confirmed)

    >>> round(meter_accuracy(2.000, 0.005, 3, 0.001).limit, 6)
    0.013
    """
    limit = Range(abs(reading), 100.0 * percent, counts).limit(reading, digit)
    standard = limit / math.sqrt(3.0)
    return Accuracy(limit, reading - limit, reading + limit, standard, 2.0 * standard)


@formula
def from_limits(low: float, high: float, shape: str = "rectangular") -> float:
    """The standard uncertainty of a value that lies somewhere between two limits.

    Formula: u = a / sqrt(3) rectangular, a / sqrt(6) triangular; a = (high - low) / 2
    Args:
        low: limit (same, any)
        high: limit (same, any)
        shape: triangular where the middle is likelier than the ends (one of rectangular, triangular)
    Gives:
        standard: uncertainty, one standard deviation (same)
    Source: JCGM 100:2008 (GUM), 4.3.7, 4.3.9, 4.4.5, 4.4.6 (derived)

    >>> round(from_limits(96.0, 104.0), 4)
    2.3094
    """
    if low > high:
        raise RangeError(f"from-limits: low is {low:g}; valid is up to high, {high:g}.")
    return (high - low) / 2.0 / math.sqrt(3.0 if shape == "rectangular" else 6.0)


@dataclass(frozen=True)
class Conformity:
    """How a value stands to its limits."""

    chance: float
    verdict: str
    accept_from: float | None
    accept_to: float | None
    risk: float


@formula
def conformity(
    reading: float,
    uncertainty: float,
    low: float | None = None,
    high: float | None = None,
    share: float = 1.0,
    coverage: float = 2.0,
) -> Conformity:
    """Whether a rail or part is inside its limits or a fault, for all the meter knows: chance, and guarded verdict.

    The chance is that of the true value, with nothing else known. Between the guarded limits it is inside, beyond them
    on the other side outside, and between "cannot be told": measure better. The guard band's clause is from memory.

    Formula: p = Phi((TU - y) / u) - Phi((TL - y) / u); w = r k u; accept TL + w to TU - w; risk there 1 - Phi(r k)
    Args:
        reading: the value (same, any)
        uncertainty: standard, of that value (same, above 0)
        low: limit; not given, there is none (same, any)
        high: limit; not given, there is none (same, any)
        share: r of the expanded uncertainty that makes the guard band; 1 is usual (1, 0 to 2)
        coverage: factor k of the expanded uncertainty (1, above 0 to 10)
    Gives:
        chance: that the true value is inside (share)
        verdict: with the guard band (text)
        accept_from: lowest value that is accepted (same)
        accept_to: highest value that is accepted (same)
        risk: that one accepted at the very edge is outside, one limit counted (share)
    Source: JCGM 106:2012, clauses 7 and 8 (from memory; arithmetic derived)

    >>> round(conformity(3.160, 0.010, 3.135, 3.465).chance, 5)
    0.99379
    """
    if low is None and high is None:
        raise RangeError("conformity: it has no limit; give low, high or both.")
    ends = Expected(0.0, -math.inf if low is None else low, math.inf if high is None else high, "")
    if ends.low >= ends.high:
        raise RangeError(f"conformity: low is {ends.low:g}; valid is below high, {ends.high:g}.")
    accept = guarded(ends, uncertainty, share=share, coverage=coverage)
    return Conformity(
        chance=conformance(reading, uncertainty, ends.low, ends.high),
        verdict=conformity_of(reading, uncertainty, ends, share=share, coverage=coverage),
        accept_from=None if low is None else accept[0],
        accept_to=None if high is None else accept[1],
        risk=1.0 - float(ndtr(share * coverage)),
    )
