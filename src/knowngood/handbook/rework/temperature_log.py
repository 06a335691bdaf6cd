"""A temperature log: whether it can be used, when it crosses a level, and its cycles of heating and cooling."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import median

from knowngood.errors import RangeError
from knowngood.handbook.rework.slopes import Slope, steepest

Samples = Sequence[tuple[float, float]]
"""Times (s) and temperatures (degC), times rising."""

FEWEST = 20
"""Samples without which nothing is judged."""

PER_SPAN = 4
"""Intervals that a slope's span must hold."""

PLAUSIBLE = (-60.0, 500.0)
"""degC; beyond is an open or reversed thermocouple."""


@dataclass(frozen=True)
class Span:
    """Limits, either of which may be open."""

    low: float | None
    high: float | None


@dataclass(frozen=True)
class Limits:
    """What a run is held to; temperatures in degC, times in s, slopes in K/s. None: no limit with a source."""

    alloy: str
    liquidus: float
    """Of the profile."""
    reset: float
    """A cycle has ended where the log fell below it."""
    melts: Span | None
    """The alloy's own liquidus, to be reached."""
    body: Span | None
    """Highest temperature of the package: surely within below ``low``, surely over above ``high``."""
    rise: float
    fall: float
    preheat: Span | None = None
    soak: Span | None = None
    above: Span | None = None
    near_peak: Span | None = None
    to_peak: Span | None = None
    cycles: Span | None = None


@dataclass(frozen=True)
class Cycle:
    """One heating above the liquidus and back; of a log that never got there, all of it."""

    samples: Samples
    peak: tuple[float, float]
    """Time and temperature."""
    above: tuple[tuple[float, float], ...]
    """From when to when it was above the profile's liquidus."""
    soak: tuple[float, float] | None
    """From when to when it was in the preheat, rising."""
    rise: Slope | None
    fall: Slope | None
    whole: bool
    """It was back below the liquidus before the log ended, and had begun below it."""


def check(log: Samples, span: float) -> None:
    """Raises RangeError for a log that cannot be judged over this span at all."""
    if len(log) < FEWEST:
        raise RangeError(f"profile: the log has {len(log)} samples; {FEWEST} or more are needed.")
    for number, ((before, _), (time, _)) in enumerate(pairwise(log), start=2):
        if time == before:
            raise RangeError(f"profile: sample {number} of the log is at {time:g} s, as the one before it. Keep one.")
        if time < before:
            raise RangeError(
                f"profile: sample {number} of the log is at {time:g} s, after one at {before:g} s. Sort it by time; "
                "two runs in one file are two logs."
            )
    for number, (_, degrees) in enumerate(log, start=1):
        if not PLAUSIBLE[0] <= degrees <= PLAUSIBLE[1]:
            raise RangeError(
                f"profile: sample {number} of the log is {degrees:g} degC; valid is {PLAUSIBLE[0]:g} to "
                f"{PLAUSIBLE[1]:g} degC. Is the thermocouple open?"
            )
    usual = median(b[0] - a[0] for a, b in pairwise(log))
    if usual > span / PER_SPAN:
        raise RangeError(
            f"profile: the log has a sample every {usual:g} s; a slope over {span:g} s needs one every "
            f"{span / PER_SPAN:g} s or more. Log faster, or give a longer --span (at least {usual * PER_SPAN:g} s)."
        )


def crossings(log: Samples, level: float) -> list[tuple[float, bool]]:
    """When the log goes through a level, and whether upwards; between samples in a straight line."""
    return [
        (a[0] + (b[0] - a[0]) * (level - a[1]) / (b[1] - a[1]), b[1] > a[1])
        for a, b in pairwise(log)
        if (a[1] < level) != (b[1] < level)
    ]


def above(log: Samples, level: float) -> tuple[tuple[float, float], ...]:
    """From when to when the log is at a level or above; open ends are those of the log."""
    ends = [time for time, _ in crossings(log, level)]
    if log[0][1] >= level:
        ends.insert(0, log[0][0])
    if log[-1][1] >= level:
        ends.append(log[-1][0])
    return tuple(zip(ends[::2], ends[1::2], strict=True))


def parted(log: Samples, limits: Limits) -> list[Samples]:
    """The log by cycles: cut at the coldest sample between two heatings, if it is below ``reset``."""
    heated = above(log, limits.liquidus)
    cuts = [0]
    for (_, end), (begin, _) in pairwise(heated):
        between = [number for number, (time, _) in enumerate(log) if end <= time <= begin]
        coldest = min(between, key=lambda number: log[number][1], default=None)
        if coldest is not None and log[coldest][1] < limits.reset:
            cuts.append(coldest)
    return [log[a : b + 1] for a, b in pairwise([*cuts, len(log) - 1])]


def cycle_of(log: Samples, limits: Limits, gaps: Sequence[tuple[float, float]], span: float) -> Cycle:
    """What one heating did. ``gaps`` are from when to when; slopes are taken over ``span`` seconds."""
    peak = max(log, key=lambda sample: sample[1])
    before = [sample for sample in log if sample[0] <= peak[0]]
    top = limits.liquidus if limits.preheat is None or limits.preheat.high is None else limits.preheat.high
    rises = [time for time, up in crossings(before, top) if up]
    cooled = [time for time, up in crossings(log, limits.reset) if not up and time > peak[0]]
    end = cooled[0] if cooled else log[-1][0]
    return Cycle(
        samples=log,
        peak=peak,
        above=above(log, limits.liquidus),
        soak=_soak(before, limits),
        rise=steepest(log, rises[-1], peak[0], span, gaps) if rises else None,
        fall=steepest(log, peak[0], end, span, gaps, sign=-1.0),
        whole=log[0][1] < limits.liquidus and log[-1][1] < limits.liquidus,
    )


def _soak(before: Samples, limits: Limits) -> tuple[float, float] | None:
    """First rise through the bottom of the preheat, last rise through its top; None if the log lacks either."""
    if limits.preheat is None or limits.preheat.low is None or limits.preheat.high is None:
        return None
    first = [time for time, up in crossings(before, limits.preheat.low) if up]
    last = [time for time, up in crossings(before, limits.preheat.high) if up]
    return (first[0], last[-1]) if first and last and before[0][1] < limits.preheat.low else None
