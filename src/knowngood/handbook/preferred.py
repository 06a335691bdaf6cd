"""Which value is made (E series), and which in stock, alone or two together, stands in for it?"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Container, Iterable
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations_with_replacement

from knowngood.handbook.formula import formula

_TWO_DIGITS = {26: 27, 29: 30, 32: 33, 35: 36, 38: 39, 42: 43, 46: 47, 83: 82}
_THREE_DIGITS = {919: 920}
"""What rounding 10^(i/n) gives, and what the standard has in its place: E3 to E24, and E192."""


@lru_cache
def decade(count: int) -> tuple[int, ...]:
    """The values of E``count``: whole numbers of two digits up to E24, of three from E48.

    >>> decade(6)
    (10, 15, 22, 33, 47, 68)
    """
    scale, instead = (10, _TWO_DIGITS) if count <= 24 else (100, _THREE_DIGITS)
    rounded = (round(scale * 10.0 ** (step / count)) for step in range(count))
    return tuple(instead.get(one, one) for one in rounded)


def neighbours(value: float, count: int) -> tuple[float, float, float]:
    """The nearest value of E``count`` to a positive one, the next at or below it, the next at or above."""
    power = math.floor(math.log10(value)) - (1 if count <= 24 else 2)
    made = [float(f"{one}e{power + shift}") for shift in (-1, 0, 1) for one in decade(count)]
    above = bisect_left(made, value * (1.0 - 1e-12))
    below = above if math.isclose(made[above], value, rel_tol=1e-9) else above - 1
    low, high = made[below], made[above]
    return (low if value - low <= high - value else high), low, high


def is_of(value: float, *counts: int) -> bool:
    """Whether one of these series has a value."""
    return value > 0 and any(math.isclose(neighbours(value, count)[0], value, rel_tol=1e-9) for count in counts)


def rank(value: float) -> int:
    """How usual a value is: 0 in E24, 1 in E192, 2 in neither."""
    return next((place for place, count in enumerate((24, 192)) if is_of(value, count)), 2)


@dataclass(frozen=True)
class Preferred:
    """A value among those that are made."""

    nearest: float
    error: float
    below: float
    above: float


@formula
def preferred_resistance(resistance: float, series: str = "E24") -> Preferred:
    """The resistance nearest to a wanted one that is made, in an E series.

    Formula: the value of the series with the least difference
    Args:
        resistance: wanted (ohm, above 0 to 1e12)
        series: to choose from (one of E3, E6, E12, E24, E48, E96, E192)
    Gives:
        nearest: that is made (ohm)
        error: of it (share)
        below: the next made at or below (ohm)
        above: the next made at or above (ohm)
    Source: IEC 60063:2015 (confirmed)

    >>> preferred_resistance(3125.0, "E96").nearest
    3090.0
    """
    return _preferred(resistance, series)


@formula
def preferred_capacitance(capacitance: float, series: str = "E6") -> Preferred:
    """The capacitance nearest to a wanted one that is made, in an E series.

    Formula: the value of the series with the least difference
    Args:
        capacitance: wanted (F, above 0 to 1e4)
        series: to choose from (one of E3, E6, E12, E24, E48, E96, E192)
    Gives:
        nearest: that is made (F)
        error: of it (share)
        below: the next made at or below (F)
        above: the next made at or above (F)
    Source: IEC 60063:2015 (confirmed)

    >>> preferred_capacitance(5e-9).nearest
    4.7e-09
    """
    return _preferred(capacitance, series)


def _preferred(value: float, series: str) -> Preferred:
    nearest, below, above = neighbours(value, int(series[1:]))
    return Preferred(nearest, nearest / value - 1.0, below, above)


@dataclass(frozen=True)
class Series:
    """An E series."""

    count: int
    step: float
    values: tuple[float, ...]


@formula
def preferred_series(series: str) -> Series:
    """The values of an E series, one decade of them.

    E48 is in E96 and that in E192. E24 is in neither: 18 of its 24 values are missing from E96.

    Formula: 10^(i/n) rounded to two digits up to E24, three from E48; nine values of E24 and one of E192 differ
    Args:
        series: its name (one of E3, E6, E12, E24, E48, E96, E192)
    Gives:
        count: values in a decade (1)
        step: mean ratio of neighbours (1)
        values: two digits up to E24, three from E48 (1)
    Source: IEC 60063:2015 (confirmed)

    >>> preferred_series("E6").values
    (10, 15, 22, 33, 47, 68)
    """
    count = int(series[1:])
    return Series(count, 10.0 ** (1.0 / count), decade(count))


@dataclass(frozen=True)
class Stocked:
    """A value made of one or two parts in stock."""

    value: float
    parts: tuple[float, ...]
    how: str
    error: float
    fits: bool


@formula
def resistor_from_stock(resistance: float, stock: tuple[float, ...], tolerance: float = 0.05) -> tuple[Stocked, ...]:
    """What in stock comes nearest to a resistance: one part, two in series, two in parallel.

    Only the value is compared: power, voltage, tolerance and a fusible or flameproof kind are to be no worse
    (resistor-fits). Of two in series the larger takes more of the power, in parallel the smaller.

    Formula: R1; R1 + R2; R1 R2 / (R1 + R2)
    Args:
        resistance: wanted (ohm, above 0 to 1e12)
        stock: values at hand, with commas (ohm, above 0 to 1e12)
        tolerance: how far off still fits (share, 0 to 1)
    Gives:
        value: that it makes (ohm)
        parts: from stock (ohm)
        how: they are joined (text)
        error: against what is wanted (share)
        fits: within the tolerance (yes or no)
    Source: circuit theory

    >>> [(one.value, one.parts) for one in resistor_from_stock(3125.0, (1000.0, 2200.0, 6200.0))]
    [(3100.0, (6200.0, 6200.0)), (3200.0, (1000.0, 2200.0)), (2200.0, (2200.0,))]
    """
    return from_stock(resistance, stock, tolerance, added="in series", shared="in parallel")


@formula
def capacitor_from_stock(capacitance: float, stock: tuple[float, ...], tolerance: float = 0.2) -> tuple[Stocked, ...]:
    """What in stock comes nearest to a capacitance: one part, two in parallel, two in series.

    Only the value is compared; for voltage, ripple and dielectric see electrolytic-fits and ceramic-fits. Two in
    series share the voltage by their values and leakage, not evenly.

    Formula: C1; C1 + C2; C1 C2 / (C1 + C2)
    Args:
        capacitance: wanted (F, above 0 to 1e4)
        stock: values at hand, with commas (F, above 0 to 1e4)
        tolerance: how far off still fits (share, 0 to 1)
    Gives:
        value: that it makes (F)
        parts: from stock (F)
        how: they are joined (text)
        error: against what is wanted (share)
        fits: within the tolerance (yes or no)
    Source: circuit theory
    Caution: Discharge the old one before hands go near. Across the mains only a part of the same X or Y class.

    >>> capacitor_from_stock(330e-6, (220e-6, 100e-6))[0].parts
    (0.0001, 0.00022)
    """
    return from_stock(capacitance, stock, tolerance, added="in parallel", shared="in series")


def from_stock(
    wanted: float,
    stock: Iterable[float],
    tolerance: float,
    *,
    added: str,
    shared: str,
    only_one: Container[float] = (),
) -> tuple[Stocked, ...]:
    """The nearest single part, pair whose values add, and pair that shares: what fits first, one part before two.

    Of the values in ``only_one`` there is a single part, which makes no pair with itself.
    """
    kinds = sorted(set(stock))
    pairs = [(a, b) for a, b in combinations_with_replacement(kinds, 2) if a != b or a not in only_one]

    def made(how: str, *options: tuple[float, tuple[float, ...]]) -> Stocked:
        value, parts = min(options, key=lambda one: abs(one[0] - wanted))
        return Stocked(value, parts, how, value / wanted - 1.0, abs(value - wanted) <= tolerance * wanted * (1 + 1e-9))

    found = [made("one part", *((one, (one,)) for one in kinds))] if kinds else []
    if pairs:
        found.append(made(added, *((a + b, (a, b)) for a, b in pairs)))
        found.append(made(shared, *((a * b / (a + b), (a, b)) for a, b in pairs)))
    return tuple(sorted(found, key=lambda one: (not one.fits, one.fits and len(one.parts), abs(one.error))))
