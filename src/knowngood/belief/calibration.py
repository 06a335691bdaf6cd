"""Of the claims believed at p a share p is true: the table that shows it, and whether a surplus is more than chance.

That must hold of any right posterior, whatever the log and whoever chose what to ask, as long as the choice rests on
the log alone: the surplus of true claims over what is believed has mean zero (A. P. Dawid, The well-calibrated
Bayesian, Journal of the American Statistical Association 77 (1982) 605-610).

Claims about one unit hang together: faults of one part exclude each other, faults of one fall come together, and what
is believed at one move is believed again at the next. So the units are what is counted as independent, and every spread
is that of the sums over each unit. Where hardly any claim is true, the spread that is seen tells nothing: each variance
is therefore taken to be at least that of claims which are independent within a unit and the same at each of its moves.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from knowngood.handbook.intervals import Interval, of_share

Array = NDArray[np.float64]

EDGES = (0.002, 0.005, 0.01, 0.03, 0.1, 0.3, 0.6, 0.9)
"""Between the bins of what is believed."""

BOUNDS = (10.828, 13.816, 16.266, 18.467, 20.515, 22.458, 24.322, 26.125, 27.877)
"""The 99.9 % points of chi-square with one to nine degrees of freedom, one for each bin that holds claims
(NIST/SEMATECH e-Handbook of Statistical Methods, section 1.3.6.7.4)."""


@dataclass(frozen=True)
class Calibration:
    """By bin of what was believed: how many claims, what they came to, and how many were true; all shape (bins,)."""

    units: int
    count: NDArray[np.int_]
    believed: Array
    """Sum of the chances believed."""
    true: Array
    worth: Array
    """The number of independent claims that would tell as much: ``count`` over the design effect."""
    z: Array
    """Surplus of true claims over its standard error; 0 for an empty bin."""
    chi_square: float
    """Of the surpluses of all bins together, by their covariance over the units."""

    @property
    def bound(self) -> float:
        """What ``chi_square`` of a right posterior exceeds once in a thousand times.

        For many units. With few the statistic has a lighter tail (it never exceeds ``units``), so the bound is kinder.
        """
        return BOUNDS[np.count_nonzero(self.count) - 1]

    @property
    def calibrated(self) -> bool:
        return self.chi_square < self.bound

    def __str__(self) -> str:
        lines = ["believed           claims   worth  mean believed  share true   95 % interval          z"]
        edges = (0.0, *EDGES, 1.0)
        for one, count in enumerate(self.count):
            bin_ = f"{edges[one]:5.3f} to {edges[one + 1]:5.3f} {count:9}"
            if count:
                share = self.true[one] / count
                low, high = wilson(share, self.worth[one])
                bin_ += f" {self.worth[one]:7.0f} {self.believed[one] / count:14.5f} {share:11.5f}"
                bin_ += f"   {low:.5f} to {high:.5f} {self.z[one]:6.2f}"
            lines.append(bin_)
        found = f"chi-square {self.chi_square:.1f} over {np.count_nonzero(self.count)} bins, bound {self.bound:.1f}"
        return "\n".join([*lines, f"{found}, {self.units} units: {'' if self.calibrated else 'not '}calibrated"])


def calibration(units: Iterable[tuple[Array, Array]]) -> Calibration:
    """The calibration of what was believed of units: of each the chances of its claims and 1 or 0 for true or not.

    Both have the shape (moves, claims): a claim that is made before several moves stands in each of their rows.
    Raises ValueError if there are not more units than bins: their spread could not be told.
    """
    bins = np.arange(len(EDGES) + 1)
    per_unit = []
    for chances, facts in units:
        inside = np.digitize(chances, EDGES)[..., None] == bins
        alone = chances * (1.0 - chances)
        as_one = (np.sqrt(alone)[..., None] * inside).sum(axis=0) ** 2
        sums = np.einsum(
            "kmc,mcb->kb", np.array([np.ones_like(chances), chances, facts, alone, facts - chances]), inside
        )
        per_unit.append(np.vstack([sums, as_one.sum(axis=0)]))
    if len(per_unit) <= len(bins):
        raise ValueError(f"{len(per_unit)} units are too few to tell their spread over {len(bins)} bins.")
    by_unit = np.array(per_unit)
    count, believed, true, alone, total, least = by_unit.sum(axis=0)
    surplus = by_unit[:, 4]
    spread = surplus.T @ surplus
    spread += np.diag(np.maximum(0.0, least - np.diag(spread)))
    variance, held = np.diag(spread), np.flatnonzero(count)
    # The design effect (L. Kish, Survey Sampling, 1965, from memory): the variance over that of independent claims.
    effect = np.divide(variance, alone, out=np.ones_like(alone), where=alone > 0)
    return Calibration(
        units=len(per_unit),
        count=count.astype(int),
        believed=believed,
        true=true,
        worth=count / effect,
        z=np.divide(total, np.sqrt(variance), out=np.zeros_like(total), where=variance > 0),
        chi_square=float(total[held] @ np.linalg.solve(spread[np.ix_(held, held)], total[held])),
    )


def wilson(share: float, count: float, z: float = 1.96) -> tuple[float, float]:
    """The interval of a share found among ``count`` independent claims.

    E. B. Wilson, Probable inference, the law of succession, and statistical inference, Journal of the American
    Statistical Association 22 (1927) 209-212.
    """
    spread = z * z / count
    middle = share + spread / 2
    half = z * float(np.sqrt(share * (1 - share) / count + spread / (4 * count)))
    return (middle - half) / (1 + spread), (middle + half) / (1 + spread)


def brier(believed: Sequence[float], came: Sequence[bool]) -> float:
    """The mean squared difference between chances and what came (1 or 0), at least one of them: 0 is best, 1 worst.

    Source: G. W. Brier, Verification of forecasts expressed in terms of probability, Monthly Weather Review 78 (1950)
    1-3, in the form for one of two outcomes (Glossary of Meteorology, American Meteorological Society, "Brier score").
    """
    return float(np.mean((np.asarray(believed, dtype=float) - np.asarray(came, dtype=float)) ** 2))


@dataclass(frozen=True)
class Decile:
    """Claims believed at ``low`` to ``high``: how many, the mean of what was believed, and the share that came true."""

    low: float
    high: float
    count: int
    believed: float
    true: int
    share: Interval


def deciles(believed: Sequence[float], came: Sequence[bool]) -> list[Decile]:
    """The claims by tenths of what was believed: each tenth that holds some."""
    tenth = np.minimum(9, np.floor(np.asarray(believed, dtype=float) * 10 + 1e-12).astype(int))
    found = []
    for one in range(10):
        inside = [index for index, of in enumerate(tenth) if of == one]
        if inside:
            true = sum(came[index] for index in inside)
            mean = float(np.mean([believed[index] for index in inside]))
            share = of_share(true, len(inside))
            found.append(Decile(one / 10, (one + 1) / 10, len(inside), mean, true, share))
    return found
