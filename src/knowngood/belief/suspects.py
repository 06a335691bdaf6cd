"""Parts as a log leaves them, and the lines that moved their odds."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from knowngood.belief.evidence import Vector, Weight

CLEAR = 0.1
"""Decades within which the factor of a line must be known, where some is missed, to be named."""


@dataclass(frozen=True)
class Mover:
    """A log line that moved a suspect: log10 of the factor on its odds, exact (with the line against without it)."""

    seq: int
    text: str
    log10_factor: float


@dataclass(frozen=True)
class Suspect:
    """A part as the log leaves it. ``modes`` are the chances of its fault modes; ``p_bad`` is their sum."""

    part: str
    what: str
    p_bad: float
    p_blocks: float
    modes: dict[str, float]
    movers: tuple[Mover, ...] = ()


def with_reasons(
    suspect: Suspect, fine: tuple[Vector, Vector], missed: tuple[Vector, Vector], weights: Sequence[Weight], most: int
) -> Suspect:
    """A suspect with its movers, of which none is named whose factor is not known to ``CLEAR``.

    ``fine`` is the chance that it is, with all lines (1,) and without each of them (weights,); ``missed`` how far off
    these may be.
    """
    with_it, left_out = _log_odds(fine[0], missed[0]), _log_odds(fine[1], missed[1])
    moved = with_it[1] - left_out[1]
    unclear = (with_it[2] - with_it[0]) + (left_out[2] - left_out[0]) > CLEAR
    order = np.argsort(-np.abs(np.where(unclear, 0.0, moved)), kind="stable")[:most]
    movers = tuple(
        Mover(weights[index].lines[-1], weights[index].text, float(moved[index]))
        for index in order
        if abs(moved[index]) >= 0.02 and not unclear[index]
    )
    return replace(suspect, movers=movers)


def _log_odds(fine: Vector, missed: Vector) -> tuple[Vector, Vector, Vector]:
    """The log10 of the odds of a fault, from the chance that there is none: at least, as worked out, at most."""
    bad, seen = 1.0 - fine, 1.0 - missed
    with np.errstate(divide="ignore", invalid="ignore"):
        low = np.log10(seen * bad) - np.log10(seen * fine + missed)
        high = np.log10(seen * bad + missed) - np.log10(seen * fine)
        return low, np.log10(bad) - np.log10(fine), high
