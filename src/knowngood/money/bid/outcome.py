"""What drawn units would bring before their price is paid, from many quick figures and some worked to the end.

A unit's *quick* figure is exact where the planner was done with it within its first moves. Where it was not, the figure
stands in for the rest of the job, and so many of those units are worked to the end by the planner as there is time for.
The mean difference of these pairs, times the share of units that it concerns, takes the stand-in's bias away: a control
variate with the coefficient one, which leaves any mean unbiased, that of "brings no more than x" too. Source: P.
Glasserman, Monte Carlo Methods in Financial Engineering, 2003, 4.1 [from memory].
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri, stdtrit

from knowngood.handbook.intervals import LEVEL, Interval

Array = NDArray[np.float64]

Z = float(ndtri(0.5 + LEVEL / 2))


@dataclass(frozen=True, eq=False)
class Outcome:
    """What units came to, one place for each. At least one; all of shape (units,)."""

    quick: Array
    unfinished: NDArray[np.bool_]
    """Where the quick figure stands in for the rest of the job."""
    full: Array
    """What the planner brought of an unfinished one; NaN where it was not worked to the end."""
    chance: Array | None = None
    """Where every possible outcome is listed, its chance; None for drawn units, which count alike."""

    @cached_property
    def pairs(self) -> NDArray[np.bool_]:
        """Units with both figures."""
        return self.unfinished & ~np.isnan(self.full)

    @property
    def exact(self) -> bool:
        """Whether nothing was drawn."""
        return self.chance is not None

    @property
    def bias_known(self) -> bool:
        """Whether the interval holds the stand-in's bias: two pairs at least, or nothing that it stands in for."""
        return not self.unfinished.any() or int(self.pairs.sum()) >= 2

    @property
    def checked(self) -> int:
        """First so many units, of which every unfinished one was worked to the end."""
        left = np.flatnonzero(self.unfinished & ~self.pairs)
        return int(left[0]) if len(left) else len(self.quick)

    @property
    def bias(self) -> Interval:
        """Mean of what the stand-in adds to a unit, the finished ones with none, over all units."""
        mean, error = self._correction(lambda value: value)
        return Interval(-mean, -mean - error, -mean + error)

    @property
    def net(self) -> Interval:
        """The mean."""
        return self._mean_of(lambda value: value)

    @property
    def error(self) -> float:
        """Standard error of the mean, the interval's half width over that of a normal one."""
        return (self.net.high - self.net.low) / (2.0 * Z)

    def at_most(self, amount: float) -> Interval:
        """Chance to bring no more than an amount: that of a loss, if that is what it costs."""
        found = self._mean_of(lambda value: (value <= amount + 1e-9).astype(float))
        return Interval(*(min(1.0, max(0.0, one)) for one in (found.mean, found.low, found.high)))

    def quantile(self, share: float) -> Interval:
        """The most that all but a share of units bring at least.

        The ends are where the chance to bring no more is the share and its own interval's half width away.
        """
        found = self._first_above(share)
        if self.exact:
            return Interval(found, found, found)
        chance = self.at_most(found)
        half = (chance.high - chance.low) / 2.0
        return Interval(found, self._first_above(share - half), self._first_above(share + half))

    def each(self) -> Array:
        """A figure for each unit: what it brought where that is known, else the quick one less the mean bias of such.

        Their mean is that of ``net``; shape (units,).
        """
        if not self.pairs.any():
            return self.quick
        differs = float((self.full - self.quick)[self.pairs].mean())
        corrected: Array = np.where(self.unfinished, self.quick + differs, self.quick)
        return corrected

    @property
    def weights(self) -> Array:
        """What each unit counts, summing to one."""
        return np.full(len(self.quick), 1.0 / len(self.quick)) if self.chance is None else self.chance

    @cached_property
    def _steps(self) -> tuple[Array, Array]:
        """Values in order, and the chance to bring no more than each, made to rise."""
        values, weights = self.quick, self.weights
        if self.pairs.any():
            share = float(self.unfinished.mean()) / int(self.pairs.sum())
            ends = np.full(int(self.pairs.sum()), share)
            values = np.concatenate([values, self.full[self.pairs], self.quick[self.pairs]])
            weights = np.concatenate([weights, ends, -ends])
        order = np.argsort(values, kind="stable")
        return values[order], np.maximum.accumulate(np.cumsum(weights[order]))

    def _first_above(self, share: float) -> float:
        values, upto = self._steps
        # Rounding may leave the sum a little below the share that it is.
        return float(values[min(int(np.searchsorted(upto, share + 1e-9, side="right")), len(values) - 1)])

    def _mean_of(self, figure: Callable[[Array], Array]) -> Interval:
        count, quick = len(self.quick), figure(self.quick)
        if self.chance is not None:
            mean = float(self.chance @ quick)
            return Interval(mean, mean, mean)
        moved, half = self._correction(figure)
        share = float(self.unfinished.mean())
        spread = quick + (self.unfinished * (moved / share) if share else 0.0)
        drawn = Z * float(spread.std(ddof=1) / np.sqrt(count)) if count > 1 else np.inf
        mean = float(quick.mean()) + moved
        whole = float(np.hypot(drawn, half))
        return Interval(mean, mean - whole, mean + whole)

    def _correction(self, figure: Callable[[Array], Array]) -> tuple[float, float]:
        """What the pairs add to the mean of a figure, and half the width of its interval; none where unknown."""
        pairs = int(self.pairs.sum())
        if not pairs:
            return 0.0, 0.0
        differs = figure(self.full[self.pairs]) - figure(self.quick[self.pairs])
        share = float(self.unfinished.mean())
        half = float(stdtrit(pairs - 1, 0.5 + LEVEL / 2) * differs.std(ddof=1) / np.sqrt(pairs)) if pairs > 1 else 0.0
        return share * float(differs.mean()), share * half
