"""Several readings of the same: their mean, their middle, and which of them stand out."""

from __future__ import annotations

import math
import statistics
from dataclasses import dataclass

from scipy.special import stdtrit

from knowngood.errors import RangeError
from knowngood.handbook.formula import formula
from knowngood.handbook.readings import MAD_SCALE, OUTSIDE, reference


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
    at_least("mean-of", readings, 2)
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
    at_least("robust", readings, 3)
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
    at_least("grubbs", readings, 3)
    mean, deviation = statistics.fmean(readings), statistics.stdev(readings)
    if deviation == 0:
        raise RangeError("grubbs: all readings are equal; none can be an outlier.")
    suspect = max(readings, key=lambda one: abs(one - mean))
    distance = abs(suspect - mean) / deviation
    critical = grubbs_critical(len(readings), significance, sides)
    return Grubbs(suspect, distance, critical, distance > critical)


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
    pairs("correlation", readings, others, 3)
    if len(set(readings)) == 1 or len(set(others)) == 1:
        raise RangeError("correlation: one of the two does not vary.")
    return statistics.correlation(readings, others)


def at_least(name: str, readings: tuple[float, ...], fewest: int) -> None:
    """Raises RangeError if there are fewer readings."""
    if len(readings) < fewest:
        raise RangeError(f"{name}: {len(readings)} readings; valid is {fewest} or more.")


def pairs(name: str, one: tuple[float, ...], other: tuple[float, ...], fewest: int) -> int:
    """How many pairs there are. Raises RangeError."""
    if len(one) != len(other):
        raise RangeError(f"{name}: {len(one)} values against {len(other)}; as many of each.")
    at_least(name, one, fewest)
    return len(one)
