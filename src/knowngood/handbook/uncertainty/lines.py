"""A straight line through points."""

from __future__ import annotations

import math
import statistics
from dataclasses import dataclass

from knowngood.errors import RangeError
from knowngood.handbook.formula import formula
from knowngood.handbook.uncertainty.repeated import pairs


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
    count = pairs("straight-line", x, y, 3 if uncertainty is None else 2)
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
