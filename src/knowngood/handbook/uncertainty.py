"""How sure is this reading, is it inside its limits, is one of these readings an outlier, what does the line say?

Methods of JCGM 100:2008 (GUM), JCGM 106:2012 and the NIST/SEMATECH e-Handbook of Statistical Methods. Readings may be in
any unit, the same one throughout a question.
"""

from __future__ import annotations

import math
import statistics
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations, product

from scipy.special import ndtr, stdtrit

from knowngood.errors import RangeError
from knowngood.handbook.formula import formula
from knowngood.handbook.quantities import Expected
from knowngood.handbook.readings import MAD_SCALE, OUTSIDE, Range, conformance, guarded, reference

# ---- one reading --------------------------------------------------------------------------------------------------


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
    """Whether a value is inside its limits: the chance, and the verdict with a guard band.

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
    reject = guarded(ends, uncertainty, share=-share, coverage=coverage)
    if accept[0] <= reading <= accept[1]:
        verdict = "inside"
    else:
        verdict = "cannot be told" if reject[0] <= reading <= reject[1] else "outside"
    return Conformity(
        chance=conformance(reading, uncertainty, ends.low, ends.high),
        verdict=verdict,
        accept_from=None if low is None else accept[0],
        accept_to=None if high is None else accept[1],
        risk=1.0 - float(ndtr(share * coverage)),
    )


# ---- several readings of the same ---------------------------------------------------------------------------------


@dataclass(frozen=True)
class Mean:
    """The mean of readings, in their unit."""

    mean: float
    deviation: float
    standard: float
    half_width: float


@formula
def mean_of(readings: tuple[float, ...], confidence: float = 0.95) -> Mean:
    """The mean of several readings of the same, and how sure it is.

    It says nothing of what all readings share: the meter's own error is added by combine.

    Formula: s^2 = sum (x - mean)^2 / (n - 1); u = s / sqrt(n); half-width t u
    Args:
        readings: two or more, with commas between (same, any)
        confidence: of the interval (share, 0.5 to 0.9999)
    Gives:
        mean: of them (same)
        deviation: standard deviation of one reading (same)
        standard: uncertainty of the mean, one standard deviation (same)
        half_width: of the interval at that confidence, by Student's t (same)
    Source: JCGM 100:2008 (GUM), 4.2, 4.4.3 (derived)

    >>> round(mean_of((4.98, 5.01, 5.00, 5.02)).standard, 5)
    0.00854
    """
    _at_least("mean-of", readings, 2)
    count = len(readings)
    deviation = statistics.stdev(readings)
    standard = deviation / math.sqrt(count)
    t = float(stdtrit(count - 1, 0.5 + confidence / 2.0))
    return Mean(statistics.fmean(readings), deviation, standard, t * standard)


@dataclass(frozen=True)
class Robust:
    """What readings say when some of them may be wrong, in their unit."""

    median: float
    mad: float
    scale: float
    iqr_scale: float
    farthest: float
    modified_z: float | None
    outliers: tuple[float, ...]


@formula
def robust(readings: tuple[float, ...]) -> Robust:
    """The middle and spread of readings of which some may be wrong, and which ones stand out.

    Up to half of the readings may be wrong. Where more than half are equal there is no spread to judge by.

    Formula: MAD = median |x - median|; scale 1.4826 MAD or 0.7413 IQR; z = 0.6745 (x - median) / MAD, out beyond 3.5
    Args:
        readings: three or more, with commas between (same, any)
    Gives:
        median: of them (same)
        mad: median absolute deviation (same)
        scale: standard deviation by the MAD (same)
        iqr_scale: standard deviation by the inner half, quartiles counted inclusively (same)
        farthest: reading from the median (same)
        modified_z: of that reading (1)
        outliers: readings that stand out; 3.5 is from memory (same)
    Source: Iglewicz and Hoaglin 1993; NIST/SEMATECH e-Handbook, 1.3.5.17 (derived)

    >>> robust((5.01, 5.02, 4.99, 5.00, 5.60)).outliers
    (5.6,)
    """
    _at_least("robust", readings, 3)
    found = reference(readings)
    lower, _, upper = statistics.quantiles(readings, n=4, method="inclusive")
    scale = MAD_SCALE * found.mad
    farthest = max(readings, key=lambda one: abs(one - found.median))
    return Robust(
        median=found.median,
        mad=found.mad,
        scale=scale,
        iqr_scale=IQR_SCALE * (upper - lower),
        farthest=farthest,
        modified_z=(farthest - found.median) / scale if scale > 0 else None,
        outliers=tuple(one for one in readings if scale > 0 and abs(one - found.median) > OUTSIDE * scale),
    )


IQR_SCALE = MAD_SCALE / 2.0
"""Inner half of a normal to its standard deviation: 1 / (2 Phi^-1(3/4))."""


@formula
def grubbs_critical(count: int, significance: float = 0.05, sides: str = "two") -> float:
    """How far the farthest of so many normal readings lies at most, in standard deviations.

    A printed table has 2.202 for 7 readings at 5 % (2.020 is right) and 2.755 for 15 at 1 % (2.806 is right).

    Formula: G = (n - 1) / sqrt(n) sqrt(t^2 / (n - 2 + t^2)); t upper quantile at a / (2 n), one-sided a / n; n - 2
    Args:
        count: of the readings (1, 3 to 10000)
        significance: chance of a false alarm (share, 0.0001 to 0.2)
        sides: two if either end may be the outlier (one of one, two)
    Gives:
        critical: value of the greatest deviation over the standard deviation (1)
    Source: F. Grubbs 1969; NIST/SEMATECH e-Handbook, 1.3.5.17.1 (confirmed)

    >>> round(grubbs_critical(8), 4)
    2.1266
    """
    t2 = float(stdtrit(count - 2, significance / (count * (2.0 if sides == "two" else 1.0)))) ** 2
    return (count - 1) / math.sqrt(count) * math.sqrt(t2 / (count - 2 + t2))


@dataclass(frozen=True)
class Grubbs:
    """Whether one of several readings is an outlier."""

    suspect: float
    distance: float
    critical: float
    outlier: bool


@formula
def grubbs(readings: tuple[float, ...], significance: float = 0.05, sides: str = "two") -> Grubbs:
    """Whether the farthest of several readings is an outlier, if the rest are normal.

    For one outlier; two that lie together hide each other: see robust. An outlier is asked why, not just left out.

    Formula: G = max |x - mean| / s, against grubbs-critical
    Args:
        readings: three or more, with commas between (same, any)
        significance: chance of a false alarm (share, 0.0001 to 0.2)
        sides: two if either end may be the outlier (one of one, two)
    Gives:
        suspect: the farthest reading (same)
        distance: G, in standard deviations (1)
        critical: value of G (1)
        outlier: whether it is one (yes or no)
    Source: F. Grubbs 1969; NIST/SEMATECH e-Handbook, 1.3.5.17.1 (confirmed)

    >>> grubbs((199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57)).outlier
    True
    """
    _at_least("grubbs", readings, 3)
    mean, deviation = statistics.fmean(readings), statistics.stdev(readings)
    if deviation == 0:
        raise RangeError("grubbs: all readings are equal; none can be an outlier.")
    suspect = max(readings, key=lambda one: abs(one - mean))
    distance = abs(suspect - mean) / deviation
    critical = grubbs_critical(len(readings), significance, sides)
    return Grubbs(suspect, distance, critical, distance > critical)


# ---- uncertainties together ---------------------------------------------------------------------------------------


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
        raise RangeError(f"combine: {len(factors)} sensitivities for {len(uncertainties)} uncertainties; as many of each.")
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


@formula
def correlation(readings: tuple[float, ...], others: tuple[float, ...]) -> float:
    """How two quantities that were read together go together.

    What combine takes for the means of readings that were taken at the same time.

    Formula: r = Sxy / sqrt(Sxx Syy)
    Args:
        readings: three or more of the one, with commas between (1, any)
        others: of the other, in the same order (1, any)
    Gives:
        r: from -1 to 1 (1)
    Source: JCGM 100:2008 (GUM), 5.2.2, 5.2.3 (derived)

    >>> round(correlation((1.0, 2.0, 3.0), (2.0, 4.1, 5.9)), 4)
    0.999
    """
    _pairs("correlation", readings, others, 3)
    if len(set(readings)) == 1 or len(set(others)) == 1:
        raise RangeError("correlation: one of the two does not vary.")
    return statistics.correlation(readings, others)


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


# ---- a straight line ----------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Line:
    """A straight line through points."""

    intercept: float
    intercept_uncertainty: float
    slope: float
    slope_uncertainty: float
    correlation: float
    scatter: float
    value: float | None
    value_uncertainty: float | None


@formula
def straight_line(
    x: tuple[float, ...], y: tuple[float, ...], at: float | None = None, uncertainty: float | None = None
) -> Line:
    """The straight line through points, with the uncertainty of what it says.

    Least squares with x exact and y equally uncertain. Intercept and slope are correlated: the uncertainty of a value
    on the line takes that into account.

    Formula: b = Sxy / Sxx; a = mean y - b mean x; s^2 = sum (res^2) / (n - 2); u(b)^2 = s^2 / Sxx; u(a)^2 = s^2 sum x^2
        / (n Sxx); r = -sum x / sqrt(n sum x^2)
    Args:
        x: three or more, with commas between (1, any)
        y: of each (1, any)
        at: x at which the line's value is wanted (1, any)
        uncertainty: standard, of each y; not given, their scatter about the line; given, two points are enough
            (1, above 0)
    Gives:
        intercept: a, at x = 0 (1)
        intercept_uncertainty: standard (1)
        slope: b (1)
        slope_uncertainty: standard (1)
        correlation: r of intercept and slope (1)
        scatter: s, of the y about the line (1)
        value: of the line there (1)
        value_uncertainty: standard (1)
    Source: least squares; JCGM 100:2008 (GUM), H.3 (derived)

    >>> round(straight_line((0.0, 1.0, 2.0, 3.0, 4.0), (1.0, 3.1, 4.9, 7.2, 8.8), at=6.0).value_uncertainty, 5)
    0.23367
    """
    count = _pairs("straight-line", x, y, 3 if uncertainty is None else 2)
    mean_x, mean_y = statistics.fmean(x), statistics.fmean(y)
    sxx = math.fsum((one - mean_x) ** 2 for one in x)
    if sxx == 0:
        raise RangeError("straight-line: all x are equal; a line needs two places.")
    slope = math.fsum((one - mean_x) * (other - mean_y) for one, other in zip(x, y, strict=True)) / sxx
    intercept = mean_y - slope * mean_x
    residual = math.fsum((other - intercept - slope * one) ** 2 for one, other in zip(x, y, strict=True))
    scatter = math.sqrt(residual / (count - 2)) if count > 2 else 0.0
    each = scatter if uncertainty is None else uncertainty
    squares = math.fsum(one**2 for one in x)
    return Line(
        intercept=intercept,
        intercept_uncertainty=each * math.sqrt(squares / (count * sxx)),
        slope=slope,
        slope_uncertainty=each / math.sqrt(sxx),
        correlation=-math.fsum(x) / math.sqrt(count * squares),
        scatter=scatter,
        value=None if at is None else intercept + slope * at,
        value_uncertainty=None if at is None else each * math.sqrt(1.0 / count + (at - mean_x) ** 2 / sxx),
    )


def _at_least(name: str, readings: tuple[float, ...], fewest: int) -> None:
    if len(readings) < fewest:
        raise RangeError(f"{name}: {len(readings)} readings; valid is {fewest} or more.")


def _pairs(name: str, one: tuple[float, ...], other: tuple[float, ...], fewest: int) -> int:
    """How many pairs there are. Raises RangeError."""
    if len(one) != len(other):
        raise RangeError(f"{name}: {len(one)} values against {len(other)}; as many of each.")
    _at_least(name, one, fewest)
    return len(one)
