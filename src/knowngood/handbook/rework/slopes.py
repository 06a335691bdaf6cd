"""Slopes of a noisy log: straight lines fitted over a span, each with its standard error."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

FEWEST = 4
"""Samples of a line: two more than it has figures."""


@dataclass(frozen=True)
class Slope:
    """The steepest line fitted in a stretch of a log."""

    begin: float
    end: float
    """Of the line (s)."""
    level: float
    """Its temperature in the middle (degC)."""
    rate: float
    """K/s; falling is negative."""
    error: float
    """Standard error of the rate (K/s)."""
    hidden: str
    """Why a steeper one may be hidden; "" otherwise."""

    @property
    def middle(self) -> float:
        return (self.begin + self.end) / 2.0


def steepest(
    log: Sequence[tuple[float, float]],
    begin: float,
    end: float,
    span: float,
    gaps: Sequence[tuple[float, float]],
    sign: float = 1.0,
) -> Slope | None:
    """The line of greatest ``sign`` times slope whose middle lies from ``begin`` to ``end``; None if there is none.

    A line covers at least four fifths of ``span`` and no gap.
    """
    digit = _last_digit(log)
    best: Slope | None = None
    stop = 0
    for start in range(len(log)):
        while stop < len(log) and log[stop][0] - log[start][0] <= span * (1.0 + 1e-9):
            stop += 1
        part = log[start:stop]
        length = part[-1][0] - part[0][0]
        middle = (part[0][0] + part[-1][0]) / 2.0
        if len(part) < FEWEST or length < 0.8 * span or not begin <= middle <= end:
            continue
        if any(a < part[-1][0] and b > part[0][0] for a, b in gaps):
            continue
        one = _line(part, digit)
        if best is None or sign * one.rate > sign * best.rate:
            best = one
    if best is None:
        return None
    gap = next(((a, b) for a, b in gaps if a < end and b > begin), None)
    hidden = f"indeterminate: gap {gap[0]:g} to {gap[1]:g} s" if gap else ""
    return Slope(best.begin, best.end, best.level, best.rate, best.error, hidden)


def _line(part: Sequence[tuple[float, float]], digit: float) -> Slope:
    """Least squares: b = Sxy / Sxx, u(b)^2 = s^2 / Sxx, s^2 the residuals' over n - 2, never below the last digit's."""
    count = len(part)
    x0, y0 = sum(x for x, _ in part) / count, sum(y for _, y in part) / count
    sxx = sum((x - x0) ** 2 for x, _ in part)
    rate = sum((x - x0) * (y - y0) for x, y in part) / sxx
    scatter = sum((y - y0 - rate * (x - x0)) ** 2 for x, y in part) / (count - 2)
    return Slope(part[0][0], part[-1][0], y0, rate, math.sqrt(max(scatter, digit**2 / 12.0) / sxx), "")


DIGITS = (1.0, 0.5, 0.25, 0.1)
"""Kelvin that a logger may resolve; finer ones are lost in what it scatters."""


def _last_digit(log: Sequence[tuple[float, float]]) -> float:
    """The coarsest of the usual digits that all temperatures of the log are whole multiples of; 0 if none is."""
    for digit in DIGITS:
        if all(abs(degrees / digit - round(degrees / digit)) < 1e-6 for _, degrees in log):
            return digit
    return 0.0
