"""From a number on a meter to how likely each state of a rail makes it.

Method: JCGM 100:2008 (GUM). A meter's accuracy statement and a tolerance are limits of a rectangular distribution
(4.3.7: standard uncertainty a / sqrt(3)), a display's resolution one of full width (F.2.2.1: d / sqrt(12)).
The value in a state is taken to be uniform between the state's limits, and the meter adds a normal error; the density
of the sum is closed. A share of all readings are slips and misprobes, spread evenly over the meter's range.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

from knowngood.handbook.quantities import Expected

SLIP = 0.01
"""Share of readings that are slips of the hand or pen (common practice, no source), so no reading proves anything."""

OVERLOAD_OF_CLEAR_RAIL = 0.05
"""Share of healthy rails whose resistance to ground is above the meter's range (common practice, no source)."""

NONE_BELOW = 0.1
"""A rail counts as absent below this share of its nominal voltage (common practice, no source)."""

HIGH_UP_TO = 2.5
"""A rail that is too high is at most this multiple of its nominal voltage (common practice, no source)."""

OHMS_RANGE = (0.05, 40e6)
"""Resistance that an ordinary hand meter can show, in ohm (common practice, no source)."""

LOG_SPREAD = 0.04
"""Standard uncertainty of a resistance in circuit, in decades: contact and parallel paths (common practice)."""


@dataclass(frozen=True)
class Meter:
    """Accuracy of a hand meter: ``percent`` of reading plus ``counts`` of the last digit of ``display`` counts."""

    percent: float = 0.5
    counts: int = 3
    display: int = 6000
    range_volts: float = 600.0

    def resolution(self, value: float) -> float:
        """Size of the last digit at ``value``, in the same unit, with ranges of 6, 60, 600 and so on."""
        full = self.display / 1000.0
        steps = max(0, math.ceil(math.log10(max(abs(value), 1e-12) / full)))
        return full * 10.0**steps / self.display

    def standard_uncertainty(self, value: float) -> float:
        """Standard uncertainty at ``value``, same unit: accuracy limit / sqrt(3) with resolution / sqrt(12)."""
        digit = self.resolution(value)
        limit = abs(value) * self.percent / 100.0 + self.counts * digit
        return math.hypot(limit / math.sqrt(3.0), digit / math.sqrt(12.0))


DEFAULT_METER = Meter()
"""An ordinary hand meter (common practice, no source)."""


@dataclass(frozen=True)
class Span:
    """Where the true value lies in one state, and the chance that the meter shows overload instead of a number."""

    low: float
    high: float
    overload: float = 0.0


@dataclass(frozen=True)
class ReadingModel:
    """Spans by state on one scale. With ``log`` the values are decades of the unit, so that densities compare."""

    spans: dict[str, Span]
    log: bool
    low: float
    high: float
    meter: Meter = DEFAULT_METER

    def likelihood(self, value: float) -> dict[str, float]:
        """Density (or, for overload, probability) of a reading of ``value`` in each state; infinite is overload."""
        if math.isinf(value):
            share = 1.0 / (self.meter.display + 1.0)
            return {state: (1 - SLIP) * span.overload + SLIP * share for state, span in self.spans.items()}
        place = self._place(value)
        spread = LOG_SPREAD if self.log else self.meter.standard_uncertainty(value)
        slip = SLIP / (self.high - self.low)
        return {
            state: (1 - SLIP) * (1 - span.overload) * _blurred_density(place, span.low, span.high, spread) + slip
            for state, span in self.spans.items()
        }

    def chances(self, outcomes: tuple[str, ...]) -> dict[str, dict[str, float]]:
        """For each state, the chance that the reading lies in the span of each outcome. Each row sums to one.

        Between two spans the border is half-way; overload counts to the outermost span that allows it.
        """
        ordered = sorted(outcomes, key=lambda outcome: self.spans[outcome].low)
        borders = [self.low]
        for left, right in pairwise(ordered):
            borders.append((self.spans[left].high + self.spans[right].low) / 2)
        borders.append(self.high)
        result: dict[str, dict[str, float]] = {}
        for state, span in self.spans.items():
            spread = LOG_SPREAD if self.log else self.meter.standard_uncertainty((span.low + span.high) / 2)
            row: dict[str, float] = {}
            for index, outcome in enumerate(ordered):
                low, high = borders[index], borders[index + 1]
                first, last = index == 0, index == len(ordered) - 1
                inside = _blurred_mass(
                    -math.inf if first else low, math.inf if last else high, span.low, span.high, spread
                )
                row[outcome] = (1 - SLIP) * inside + SLIP * (high - low) / (self.high - self.low)
            result[state] = row
        return result

    def _place(self, value: float) -> float:
        if not self.log:
            return value
        return math.log10(min(max(abs(value), 10.0**self.low), 10.0**self.high))


def rail_voltage(nominal: Expected, *, high: bool, meter: Meter = DEFAULT_METER) -> ReadingModel:
    """Model of a rail's voltage: none, weak, good and, if ``high``, high. Volts."""
    absent = NONE_BELOW * nominal.nominal
    spans = {"none": Span(0.0, absent), "weak": Span(absent, nominal.low), "good": Span(nominal.low, nominal.high)}
    if high:
        spans["high"] = Span(nominal.high, HIGH_UP_TO * nominal.nominal)
    top = max(meter.range_volts, HIGH_UP_TO * nominal.nominal)
    return ReadingModel(spans, False, 0.0, top, meter)


def rail_to_ground(clear: Expected, short_below: float, meter: Meter = DEFAULT_METER) -> ReadingModel:
    """Model of a rail's resistance to ground with power off: short or clear. Decades of an ohm."""
    low, high = (math.log10(bound) for bound in OHMS_RANGE)
    spans = {
        "short": Span(low, math.log10(short_below)),
        "clear": Span(math.log10(clear.low), math.log10(clear.high), OVERLOAD_OF_CLEAR_RAIL),
    }
    return ReadingModel(spans, True, low, high, meter)


def _normal_cdf(z: float) -> float:
    return 0.5 * math.erfc(-z / math.sqrt(2.0))


def _blurred_density(x: float, low: float, high: float, spread: float) -> float:
    """Density at x of a value uniform on [low, high] plus a normal error."""
    if high - low < 1e-12 * max(1.0, abs(high)):
        z = (x - low) / spread
        return math.exp(-0.5 * z * z) / (spread * math.sqrt(2 * math.pi))
    return (_normal_cdf((x - low) / spread) - _normal_cdf((x - high) / spread)) / (high - low)


def _blurred_mass(start: float, end: float, low: float, high: float, spread: float) -> float:
    """Probability that a value uniform on [low, high] plus a normal error lies between start and end."""
    return _blurred_cdf(end, low, high, spread) - _blurred_cdf(start, low, high, spread)


def _blurred_cdf(x: float, low: float, high: float, spread: float) -> float:
    if math.isinf(x):
        return 1.0 if x > 0 else 0.0
    if high - low < 1e-12 * max(1.0, abs(high)):
        return _normal_cdf((x - low) / spread)

    def antiderivative(z: float) -> float:
        return z * _normal_cdf(z) + math.exp(-0.5 * z * z) / math.sqrt(2 * math.pi)

    return spread * (antiderivative((x - low) / spread) - antiderivative((x - high) / spread)) / (high - low)
