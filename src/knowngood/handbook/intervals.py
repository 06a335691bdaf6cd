"""95 % confidence intervals of a mean, of a share and of a ratio."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtri, stdtrit

LEVEL = 0.95


@dataclass(frozen=True)
class Interval:
    """An estimate and the ends of its 95 % interval."""

    mean: float
    low: float
    high: float


def of_mean(values: Sequence[float]) -> Interval:
    """The mean of independent values, at least one, by Student's t; from one value the ends are infinite.

    Source: NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.2, confidence limits for the mean.
    """
    count, mean = len(values), float(np.mean(values))
    if count == 1:
        return Interval(mean, -np.inf, np.inf)
    half = float(stdtrit(count - 1, 0.5 + LEVEL / 2) * np.std(values, ddof=1) / np.sqrt(count))
    return Interval(mean, mean - half, mean + half)


def of_share(hits: int, count: int) -> Interval:
    """The share of ``hits`` in ``count`` > 0 independent trials, by the score method of Wilson.

    Source: E. Wilson, Probable inference, the law of succession, and statistical inference, JASA 22 (1927);
    NIST/SEMATECH e-Handbook 7.2.4.1.
    """
    z = float(ndtri(0.5 + LEVEL / 2))
    share, spread = hits / count, z * z / count
    centre = (share + spread / 2) / (1 + spread)
    half = z * np.sqrt((share * (1 - share) + spread / 4) / count) / (1 + spread)
    return Interval(share, max(0.0, float(centre - half)), min(1.0, float(centre + half)))


def of_ratio(numerators: Sequence[float], denominators: Sequence[float]) -> Interval:
    """The sum of the numerators over that of the denominators (sum above 0), of independent pairs, at least one.

    From one pair the ends are infinite. By the linearised variance of a ratio with Student's t, good for many pairs:
    W. G. Cochran, Sampling Techniques, 3rd edition 1977, equations 2.39 and 6.13 (from memory).
    """
    count, whole = len(numerators), float(np.sum(denominators))
    ratio = float(np.sum(numerators)) / whole
    if count == 1:
        return Interval(ratio, -np.inf, np.inf)
    off = np.asarray(numerators) - ratio * np.asarray(denominators)
    half = float(stdtrit(count - 1, 0.5 + LEVEL / 2) * np.sqrt(count * np.sum(off**2) / (count - 1)) / whole)
    return Interval(ratio, ratio - half, ratio + half)
