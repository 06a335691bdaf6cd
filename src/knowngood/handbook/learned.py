"""What a map should expect, now that known-good units were read: their median and spread, few of them drawn to the map.

Few units say little of the spread of all, so fewer than ``ENOUGH_ALONE`` are weighed against the map, which counts as
``readings.MAP_COUNTS_AS`` of them (shrinkage of a mean to a prior one: A. Gelman et al., Bayesian Data Analysis, 3rd
ed., 2.5, normal with known variance). A healthy one lies within ``COVERED`` standard deviations of the middle, and no
spread counts as less than the meter's own uncertainty.
"""

from __future__ import annotations

import math

from knowngood.handbook.quantities import Expected
from knowngood.handbook.readings import LOG_SPREAD, MAP_COUNTS_AS, Reference

ENOUGH_ALONE = 6
"""Known-good units from which on the map no longer draws what is expected to itself (common practice, no source)."""

COVERED = 3.0
"""Standard deviations to each limit: 99.7 % of a normal distribution lie within."""


def learned(mapped: Expected, units: Reference, meter: float) -> Expected:
    """The limits that the map would have after learning from known-good units; ``meter`` is the meter's standard
    uncertainty at their median, in the same unit. Resistances are weighed on the scale of their decades."""
    if mapped.unit == "ohm":
        at = math.log10(units.median)
        spread = max(units.spread, meter) / (math.log(10.0) * units.median)
        low, high = (math.log10(one) for one in (mapped.low, mapped.high))
        low, high = _drawn(units.count, at, max(spread, LOG_SPREAD), low, high)
        low, high = 10.0**low, 10.0**high
        middle = math.sqrt(low * high)
    else:
        low, high = _drawn(units.count, units.median, max(units.spread, meter), mapped.low, mapped.high)
        middle = 0.5 * (low + high)
    low, high = _written(low, high - low), _written(high, high - low)
    return Expected(min(max(middle, low), high), low, high, mapped.unit)


def _drawn(count: int, middle: float, spread: float, low: float, high: float) -> tuple[float, float]:
    """Limits of the units, drawn to those of the map while the units are few."""
    share = 1.0 if count >= ENOUGH_ALONE else count / (count + MAP_COUNTS_AS)
    half = COVERED * spread
    return share * (middle - half) + (1.0 - share) * low, share * (middle + half) + (1.0 - share) * high


def _written(value: float, width: float) -> float:
    """To the digit that is a hundredth of the width or less: a limit says no more than that."""
    return round(value, 2 - math.floor(math.log10(width))) if width > 0.0 else value
