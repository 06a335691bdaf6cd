"""Where along this trace or in this plane is the short, by millivolts; what does the current do to it meanwhile?

A current is sent through the short and the drop of the copper is read with a meter that resolves microvolts, at points
of the same net. Common practice, no source: the supply's voltage limit at or below the rail's own, 1 V or less on core
rails; its current limit raised in steps.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import product
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares
from scipy.special import stdtrit

from knowngood.errors import RangeError
from knowngood.handbook.copper.conducting import sheet_resistance
from knowngood.handbook.formula import formula
from knowngood.handbook.uncertainty.lines import straight_line

CLEAR_SLOPE = 3.0
"""A slope below so many of its standard uncertainties is no slope to extrapolate by (common practice, no source)."""

LEVEL = 0.95
"""Confidence of the intervals given."""


@formula
def trace_slope(current: float, width: float, thickness: float = 35e-6, temperature: float = 20.0) -> float:
    """How steeply the drop falls along a trace on the way to a short.

    Formula: dV/dx = I Rs / W; Rs = rho / t
    Args:
        current: through the trace to the short (A, above 0 to 1000)
        width: of the trace (m, above 0 to 1)
        thickness: of the copper; 1 oz is about 35 um (m, above 0 to 1e-3)
        temperature: of the copper (degC, -50 to 150)
    Gives:
        slope: of the drop (V/m)
    Source: Ohm's law (derived); copper: IEC 60028:1925 (confirmed)

    >>> round(trace_slope(1.0, 1e-3), 5)
    0.49261
    """
    return current * sheet_resistance(thickness, temperature) / width


@dataclass(frozen=True)
class OnTrace:
    """Where a short is along a trace, in the units of its page."""

    place: float
    standard: float | None
    half_width: float | None
    slope: float
    hint: str


@formula
def short_on_trace(
    places: tuple[float, ...],
    drops: tuple[float, ...],
    flat: float,
    uncertainty: float | None = None,
) -> OnTrace:
    """Where along a trace the short lies, from drops on the way to it and the flat drop beyond it.

    A straight line through the drops (least squares), to where it meets the flat one; the uncertainty from the
    covariance of the line and that of the flat reading. Without a given uncertainty it is taken from the scatter, which
    takes three readings. Width and layer of the trace must not change between the readings and the short.

    Formula: x = (V(flat) - a) / b; u(x)^2 = (u(a)^2 + x^2 u(b)^2 + 2 x r u(a) u(b) + u^2) / b^2
    Args:
        places: along the trace from where the current enters, two or more, with commas between (m, -100 to 100)
        drops: read there, in the same order, all before the short (V, -1000 to 1000)
        flat: drop beyond the short, where no current flows (V, -1000 to 1000)
        uncertainty: standard, of one reading (V, above 0 to 1000)
    Gives:
        place: of the short (m)
        standard: uncertainty of that, one standard deviation (m)
        half_width: to either side, 95 % (m)
        slope: of the drop along the trace (V/m)
        hint: what to do next (text)
    Source: Ohm's law; least squares (derived)
    Caution: The copper and the short get hot; raise the current in steps and feel with a thermometer, not a finger.

    >>> round(short_on_trace((0.0, 0.020), (12.40e-3, 7.600e-3), 2.800e-3).place, 6)
    0.04
    """
    enough = len(places) > 2 or uncertainty is not None
    line = straight_line(places, drops, uncertainty=uncertainty if enough else 1.0)
    if line.slope == 0 or (enough and abs(line.slope) < CLEAR_SLOPE * line.slope_uncertainty):
        raise RangeError(
            "short-on-trace: the drops do not fall clearly along the trace; take more current, readings further apart "
            "or a meter with more digits."
        )
    place = (flat - line.intercept) / line.slope
    if not enough:
        return OnTrace(
            place, None, None, line.slope, "read a third place, or give the meter's uncertainty, for how sure"
        )
    each = line.scatter if uncertainty is None else uncertainty
    of_a, of_b = line.intercept_uncertainty, place * line.slope_uncertainty
    variance = of_a**2 + of_b**2 + 2.0 * line.correlation * of_a * of_b + each**2
    standard = math.sqrt(max(0.0, variance)) / abs(line.slope)
    half_width = _coverage(len(places) - 2, uncertainty) * standard
    return OnTrace(place, standard, half_width, line.slope, _hint(place, places))


def _hint(place: float, places: tuple[float, ...]) -> str:
    first, last = min(places), max(places)
    if first < place < last:
        return "it lies between the readings: leave out those beyond it and ask again"
    ahead = min(abs(place - first), abs(place - last))
    if ahead > last - first:
        return "it is further from the readings than they are apart: read nearer to it and ask again"
    return "look there, and read once more beside it"


def _coverage(degrees: int, uncertainty: float | None) -> float:
    """Factor of the interval: Student's t where the uncertainty is taken from the scatter."""
    return float(stdtrit(1e9 if uncertainty is not None else degrees, 0.5 + LEVEL / 2.0))


@formula
def plane_drop(current: float, near: float, far: float, thickness: float = 35e-6, temperature: float = 20.0) -> float:
    """The drop between two distances from a short in a plane.

    A point short in a sheet that is large against both distances, the current coming from all sides; tens to hundreds
    of microvolts to the ampere on 35 um.

    Formula: V = I Rs / (2 pi) ln(r2 / r1)
    Args:
        current: into the short (A, above 0 to 1000)
        near: distance from the short (m, above 0 to 10)
        far: distance from the short (m, above 0 to 10)
        thickness: of the copper; 1 oz is about 35 um (m, above 0 to 1e-3)
        temperature: of the copper (degC, -50 to 150)
    Gives:
        drop: between them (V)
    Source: potential theory (derived); copper: IEC 60028:1925 (confirmed)

    >>> round(plane_drop(1.5, 2e-3, 8e-3) * 1e6, 2)
    163.03
    """
    if far < near:
        raise RangeError(f"plane-drop: far is {far:g} m; valid is at least near, {near:g} m.")
    return current * sheet_resistance(thickness, temperature) / (2.0 * math.pi) * math.log(far / near)


@dataclass(frozen=True)
class InPlane:
    """A place where a short in a plane may be, in the units of its page."""

    x: float
    y: float
    standard: float | None
    radius: float | None
    misfit: float | None
    hint: str


@formula
def short_in_plane(
    x: tuple[float, ...],
    y: tuple[float, ...],
    drops: tuple[float, ...],
    current: float,
    feed_x: float | None = None,
    feed_y: float | None = None,
    uncertainty: float | None = None,
    thickness: float = 35e-6,
    temperature: float = 20.0,
) -> tuple[InPlane, ...]:
    """Where in a plane the short lies, from drops at points of it.

    Two readings give a circle, and here its two points on their straight line. From three on the place is fitted by
    least squares; three, or four on one circle as the corners of a rectangle are, fit in two places, both shown.
    Uncertainty by the covariance of the fit: from the scatter (five readings or more) or from what is given. The plane
    counts as large and unbroken: slots, edges and a second path bend the field, and a misfit far above the meter's says
    so. Drops are read against one point of the plane; which one does not matter, they rise away from the short.

    Formula: V = V0 + I Rs / (2 pi) (ln r - ln r(feed)); r from the short, r(feed) from where the current enters
    Args:
        x: of each reading, two or more, with commas between (m, -10 to 10)
        y: of each reading (m, -10 to 10)
        drops: read there, in the same order (V, -1000 to 1000)
        current: into the short (A, above 0 to 1000)
        feed_x: where the current enters; not given, far away on all sides (m, -10 to 10)
        feed_y: where the current enters (m, -10 to 10)
        uncertainty: standard, of one reading (V, above 0 to 1000)
        thickness: of the copper; 1 oz is about 35 um (m, above 0 to 1e-3)
        temperature: of the copper (degC, -50 to 150)
    Gives:
        x: of the short (m)
        y: of the short (m)
        standard: uncertainty along its worse direction, one standard deviation (m)
        radius: around it, at 95 % in that direction (m)
        misfit: of the readings, root of the mean square (V)
        hint: what to do next (text)
    Source: potential theory; least squares (derived); copper: IEC 60028:1925 (confirmed)
    Caution: The copper and the short get hot; raise the current in steps and feel with a thermometer, not a finger.

    >>> places = short_in_plane((0.0, 0.010), (0.0, 0.0), (0.0, 163.03e-6), 1.5)
    >>> [round(one.x * 1e3, 2) for one in places]
    [2.0, -3.33]
    """
    _same_count(x, y, drops)
    if (feed_x is None) != (feed_y is None):
        raise RangeError("short-in-plane: the feed has two coordinates; give feed-x and feed-y.")
    strength = current * sheet_resistance(thickness, temperature) / (2.0 * math.pi)
    points = np.column_stack([x, y])
    seen = np.array(drops, dtype=float)
    if feed_x is not None:
        far = np.hypot(points[:, 0] - feed_x, points[:, 1] - float(feed_y or 0.0))
        if not far.all():
            raise RangeError("short-in-plane: a reading is where the current enters; read beside it.")
        seen = seen + strength * np.log(far)
    if len(seen) == 2:
        return _on_the_line(points, (seen[1] - seen[0]) / strength)
    return _fitted(points, seen / strength, strength, uncertainty)


def _same_count(x: tuple[float, ...], y: tuple[float, ...], drops: tuple[float, ...]) -> None:
    if not len(x) == len(y) == len(drops) >= 2:
        raise RangeError(
            f"short-in-plane: {len(x)} x, {len(y)} y and {len(drops)} drops; as many of each, two or more."
        )
    if len(set(zip(x, y, strict=True))) < len(x):
        raise RangeError("short-in-plane: two readings are at the same place; take their mean.")


def _on_the_line(points: NDArray[np.float64], log_ratio: float) -> tuple[InPlane, ...]:
    """The two places on the straight line through two points whose distances from them have this ratio."""
    first, along = points[0], points[1] - points[0]
    ratio = math.exp(min(log_ratio, 700.0))
    hint = "two readings leave a circle; read a third point beside their line"
    shares = [1.0 / (1.0 + ratio)]
    if abs(ratio - 1.0) > 1e-9:
        shares.append(1.0 / (1.0 - ratio))
    places = [first + share * along for share in shares]
    return tuple(InPlane(float(one[0]), float(one[1]), None, None, None, hint) for one in places)


def _fitted(
    points: NDArray[np.float64], seen: NDArray[np.float64], strength: float, uncertainty: float | None
) -> tuple[InPlane, ...]:
    """Every place that fits about as well as the best one. ``seen`` is in units of ``strength``."""
    size = float(np.ptp(points, axis=0).max())
    middle = points.mean(axis=0)
    least = 1e-6 * size

    def residuals(place: NDArray[np.float64]) -> NDArray[np.float64]:
        """Of one place, or of several along the first axes; in units of ``size`` from the middle."""
        away = points - middle - size * place[..., None, :]
        logs = np.log(np.maximum(np.hypot(away[..., 0], away[..., 1]), least))
        off: NDArray[np.float64] = (logs - logs.mean(axis=-1, keepdims=True)) - (seen - seen.mean())
        return off

    lowest = (points[int(np.argmin(seen))] - middle) / size
    around = 0.05 * np.array([(1.0, 0.0), (-1.0, 0.0), (0.0, 1.0), (0.0, -1.0)])
    fits = [least_squares(residuals, at, method="lm") for at in [*_hollows(residuals), *(lowest + around)]]
    best = min(fit.cost for fit in fits)
    meter = 0.0 if uncertainty is None else uncertainty / strength
    near = [fit for fit in fits if fit.cost <= 4.0 * best + max(1e-12, 2.0 * meter**2)]
    apart: list[Any] = []
    for fit in sorted(near, key=lambda one: float(np.hypot(*one.x))):
        if all(np.hypot(*(fit.x - one.x)) > 0.01 for one in apart):
            apart.append(fit)
    found = [_place(fit, fit.x * size + middle, size, len(seen), strength, uncertainty) for fit in apart]
    if len(found) > 1:
        return tuple(replace(one, hint="it fits in several places; read one more off the circle") for one in found)
    return tuple(found)


def _hollows(residuals: Callable[[NDArray[np.float64]], NDArray[np.float64]]) -> NDArray[np.float64]:
    """Where to start fitting: the points of a grid that fit better than those beside them."""
    steps = np.linspace(-3.0, 3.0, 41)
    grid = np.stack(np.meshgrid(steps, steps, indexing="ij"), axis=-1)
    cost = np.pad(np.sum(residuals(grid) ** 2, axis=-1), 1, constant_values=np.inf)
    inner = cost[1:-1, 1:-1]
    beside = [np.roll(cost, shift, (0, 1))[1:-1, 1:-1] for shift in product((-1, 0, 1), repeat=2) if any(shift)]
    found: NDArray[np.float64] = grid[inner <= np.min(beside, axis=0)]
    return found


def _place(
    fit: Any, place: NDArray[np.float64], size: float, count: int, strength: float, uncertainty: float | None
) -> InPlane:
    cost = float(fit.cost)
    degrees = count - 3
    misfit = math.sqrt(2.0 * cost / count) * strength
    standard = radius = None
    hint = "read five places, or give the meter's uncertainty, for how sure"
    if uncertainty is not None or degrees >= 2:
        each = math.sqrt(2.0 * cost / degrees) if uncertainty is None else uncertainty / strength
        smallest = float(np.linalg.svd(fit.jac, compute_uv=False)[-1])
        if smallest > 1e-9:
            standard = each * size / smallest
            radius = _coverage(degrees, uncertainty) * standard
        sure = radius is not None and radius < size
        hint = "look there, and read once more around it" if sure else "these readings hardly tell; read nearer to it"
    return InPlane(float(place[0]), float(place[1]), standard, radius, misfit, hint)


@formula
def four_point_sheet(drop: float, current: float) -> float:
    """The resistance of a square of a sheet, from four probes in a row at equal distances.

    The current through the outer two, the drop at the inner two; the sheet large and thin against their distance.

    Formula: Rs = (pi / ln 2) V / I = 4.5324 V / I
    Args:
        drop: between the inner probes (V, 0 to 1000)
        current: through the outer ones (A, above 0 to 1000)
    Gives:
        square: resistance from edge to edge of a square (ohm)
    Source: potential theory (derived); F. Smits, Bell Syst. Tech. J. 37 (1958) 711 (citation from memory)

    >>> round(four_point_sheet(1.0, 1.0), 4)
    4.5324
    """
    return math.pi / math.log(2.0) * drop / current


@formula
def short_heat(current: float, resistance: float) -> float:
    """The heat that a current makes in a short.

    A part that is shorted takes it all in one spot.

    Formula: P = I^2 R
    Args:
        current: through it (A, 0 to 1000)
        resistance: of the short (ohm, 0 to 1e6)
    Gives:
        power: that heats it (W)
    Source: circuit theory (derived)
    Caution: The short gets hot; raise the current in steps, and keep the voltage limit at or below the rail's own.

    >>> round(short_heat(3.0, 0.1), 4)
    0.9
    """
    return current**2 * resistance
