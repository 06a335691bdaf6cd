"""Uncertainties taken together, and by what they are multiplied."""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations, product

from scipy.special import stdtrit

from knowngood.errors import RangeError
from knowngood.handbook.formula import formula


@dataclass(frozen=True)
class Combined:
    """Uncertainties taken together."""

    standard: float
    expanded: float


@formula
def combine(
    uncertainties: tuple[float, ...],
    sensitivities: tuple[float, ...] | None = None,
    correlations: tuple[float, ...] | None = None,
) -> Combined:
    """The uncertainty of a result from those of what it is made of.

    For a sum leave the sensitivities out. Readings taken at the same time are correlated: to leave that out can be
    badly wrong either way.

    Formula: u^2 = sum (c u)^2 + 2 sum c c' u u' r
    Args:
        uncertainties: standard, of each input, with commas between; plain numbers if their units differ
            (same, 0 to 1e30)
        sensitivities: c, by how much the result changes for each unit of an input; not given, 1 each (1, any)
        correlations: r of each pair, in the order 1-2, 1-3, ..., 2-3, ...; not given, none (1, -1 to 1)
    Gives:
        standard: uncertainty of the result, one standard deviation (same)
        expanded: uncertainty, k = 2 (same)
    Source: JCGM 100:2008 (GUM), equations 10, 13, 16 (confirmed)

    >>> round(combine((0.1, 0.01), (2.0, 10.0), (-0.5,)).standard, 5)
    0.17321
    """
    factors = (1.0,) * len(uncertainties) if sensitivities is None else sensitivities
    if len(factors) != len(uncertainties):
        raise RangeError(
            f"combine: {len(factors)} sensitivities for {len(uncertainties)} uncertainties; as many of each."
        )
    parts = [c * u for c, u in zip(factors, uncertainties, strict=True)]
    pairs = list(combinations(parts, 2))
    given = (0.0,) * len(pairs) if correlations is None else correlations
    if len(given) != len(pairs):
        raise RangeError(f"combine: {len(given)} correlations; {len(parts)} inputs have {len(pairs)} pairs.")
    variance = math.fsum(part**2 for part in parts)
    variance += 2.0 * math.fsum(one * two * r for (one, two), r in zip(pairs, given, strict=True))
    if variance < -1e-12 * math.fsum(part**2 for part in parts):
        raise RangeError("combine: these correlations cannot hold together; the variance would be negative.")
    standard = math.sqrt(max(0.0, variance))
    return Combined(standard, 2.0 * standard)


@dataclass(frozen=True)
class PowerAndResistance:
    """What a voltage and a current read together say, in the units of its page."""

    power: float
    power_uncertainty: float
    resistance: float
    resistance_uncertainty: float


@formula
def volts_and_amps(
    voltage: float,
    voltage_uncertainty: float,
    current: float,
    current_uncertainty: float,
    correlation: float = 0.0,
) -> PowerAndResistance:
    """Power and resistance from a voltage and a current, with their uncertainties.

    Formula: P = V I; R = V / I; relative u^2 = (uV / V)^2 + (uI / I)^2 +- 2 r uV uI / (V I)
    Args:
        voltage: as read (V, above 0 to 1e6)
        voltage_uncertainty: standard (V, 0 to 1e6)
        current: as read (A, above 0 to 1e6)
        current_uncertainty: standard (A, 0 to 1e6)
        correlation: r of the two; 0 if they come from instruments of their own, one after the other (1, -1 to 1)
    Gives:
        power: voltage by current (W)
        power_uncertainty: standard (W)
        resistance: voltage over current (ohm)
        resistance_uncertainty: standard (ohm)
    Source: JCGM 100:2008 (GUM), equations 12, 16 (derived)

    >>> round(volts_and_amps(12.0, 0.02, 0.5, 0.004).resistance_uncertainty, 5)
    0.19612
    """
    each = (voltage_uncertainty, current_uncertainty)
    return PowerAndResistance(
        power=voltage * current,
        power_uncertainty=combine(each, (current, voltage), (correlation,)).standard,
        resistance=voltage / current,
        resistance_uncertainty=combine(each, (1.0 / current, -voltage / current**2), (correlation,)).standard,
    )


@dataclass(frozen=True)
class Effective:
    """Degrees of freedom of a combined uncertainty."""

    standard: float
    effective: float
    degrees: int
    coverage: float
    expanded: float


@formula
def effective_degrees(
    uncertainties: tuple[float, ...], degrees: tuple[float, ...], confidence: float = 0.95
) -> Effective:
    """How many degrees of freedom a combined uncertainty has, and the coverage factor that follows.

    Formula: nu = u^4 / sum (u_i^4 / nu_i), cut to a whole number; U = t u
    Args:
        uncertainties: standard, of each input, as it enters the result (same, 0 to 1e30)
        degrees: of freedom of each; n - 1 of a mean, 1e9 for a limit that is certain (1, 1 to 1e9)
        confidence: of the expanded uncertainty (share, 0.5 to 0.9999)
    Gives:
        standard: uncertainty of the result, one standard deviation (same)
        effective: degrees of freedom (1)
        degrees: cut to the whole number below (1)
        coverage: factor for that confidence (1)
        expanded: uncertainty at that confidence (same)
    Source: JCGM 100:2008 (GUM), G.4.1, equation G.2b (confirmed)

    >>> effective_degrees((25.0, 9.7, 2.9, 16.6), (18.0, 25.6, 50.0, 2.0), 0.99).degrees
    16
    """
    if len(degrees) != len(uncertainties):
        raise RangeError(f"effective-degrees: {len(degrees)} degrees for {len(uncertainties)} uncertainties.")
    standard = combine(uncertainties).standard
    if standard == 0:
        raise RangeError("effective-degrees: all uncertainties are 0.")
    shares = math.fsum((u / standard) ** 4 / nu for u, nu in zip(uncertainties, degrees, strict=True))
    whole = int(1.0 / shares + 1e-9)
    coverage = coverage_factor(confidence, min(float(whole), 1e9))
    return Effective(standard, 1.0 / shares, whole, coverage, coverage * standard)


@formula
def coverage_factor(confidence: float = 0.95, degrees: float = 1e9) -> float:
    """By how much a standard uncertainty is multiplied for a confidence.

    Formula: k = t quantile of (1 + p) / 2
    Args:
        confidence: both sides together (share, 0.5 to 0.9999)
        degrees: of freedom; not given, the normal distribution (1, 1 to 1e9)
    Gives:
        coverage: factor (1)
    Source: JCGM 100:2008 (GUM), table G.2 (derived)

    >>> round(coverage_factor(0.9545, 10.0), 4)
    2.2837
    """
    return float(stdtrit(degrees, 0.5 + confidence / 2.0))


@formula
def tolerance_stack(limits: tuple[float, ...], confidence: float = 0.95) -> float:
    """How far a sum of values, each somewhere within its limits, is off.

    Each is independent and anywhere within its limits with the same chance: not so for parts of one reel, which are off
    together. Exact, by the piecewise polynomial of a sum of rectangles.

    Formula: P(|S| <= h) = p, S the sum of rectangles of half-widths a
    Args:
        limits: half-width of each, eight at most, with commas between (same, above 0 to 1e12)
        confidence: that it is within (share, 0.5 to 0.9999)
    Gives:
        half_width: that it is off at most, at that confidence (same)
    Source: JCGM 101:2008, 9.2.3, table 3 (confirmed)

    >>> round(tolerance_stack((3**0.5,) * 4), 2)
    3.88
    """
    if len(limits) > 8:
        raise RangeError(f"tolerance-stack: {len(limits)} limits; valid is up to 8.")
    total = sum(limits)
    widths = [Fraction(one / total) for one in limits]
    low, high = 0.0, 1.0
    for _ in range(48):
        middle = (low + high) / 2.0
        low, high = (middle, high) if _inside(widths, Fraction(middle)) < confidence else (low, middle)
    return high * total


def _inside(widths: list[Fraction], half: Fraction) -> float:
    """Chance that a sum of rectangles of these half-widths lies within ``half`` of the middle."""
    count, below = len(widths), Fraction(0)
    for signs in product((1, -1), repeat=count):
        reach = half + sum(sign * width for sign, width in zip(signs, widths, strict=True))
        if reach > 0:
            below += math.prod(signs) * reach**count
    return float(2 * below / (math.factorial(count) * 2**count * math.prod(widths)) - 1)
